package draw_test
import ("testing";"fmt";"math";"math/rand/v2";"time"
"portside/captures";"portside/decode/draw")

func show(name string, r *draw.Result){
	fmt.Printf("== %s: plateaus %d spikes %d levels %d coll %d gaps %d rises %d turned %v\n",name,len(r.Plateaus),len(r.Spikes),len(r.Levels),len(r.Collapses),len(r.Gaps),len(r.Rises),r.Turned)
	for _,s:=range r.Staircases{p:=-1.0; if s.PeriodS!=nil{p=*s.PeriodS}; se:=-1.0; if s.SettledA!=nil{se=*s.SettledA}; fmt.Printf("  S %.2f-%.2f steps %d %.4f A resets %d period %.2f dwell %.3f top %.3f settled %.3f coll %v\n",s.StartS,s.EndS,s.Steps,s.StepA,s.Resets,p,s.DwellS,s.TopA,se,s.Collapsed)}
	for _,s:=range r.Pulses{p:=-1.0; if s.PeriodS!=nil{p=*s.PeriodS}; on:=-1.0; if s.OnS!=nil{on=*s.OnS}; fmt.Printf("  R %.2f-%.2f n %d period %.4f on %.4f peak %.3f rest %.3f withV %v quiet %v\n",s.StartS,s.EndS,s.Count,p,on,s.PeakA,s.RestA,s.WithVBUS,s.Quiet)}
	for _,s:=range r.Tapers{tau,u:=-1.0,-1.0; if s.TauS!=nil{tau,u=*s.TauS,*s.TauU}; fmt.Printf("  T %.1f-%.1f %.3f-%.3f tau %.1f u %.1f\n",s.StartS,s.EndS,s.FromA,s.ToA,tau,u)}
	q:=func(n string,x *draw.Quantity){ if x!=nil{u:=-1.0; if x.Uncertainty!=nil{u=*x.Uncertainty}; fmt.Printf("  %s %.5g u %.2g\n",n,x.Value,u)}}
	m:=r.Measured
	q("R",m.SeriesResistanceOhm);q("n",m.LoadExponent);q("leak",m.LeakResistanceOhm);q("period",m.RetryPeriodS);q("tau",m.TaperTauS);q("inrush",m.InrushChargeC)
}
// ec: staircase 0.5 A +64 mA/500 ms, collapse at 1.5, 1 s off
func stair(t float64, top float64) float64 {
	n:=math.Ceil((top-0.5)/0.064); per:=n*0.5+1.0
	p:=math.Mod(t,per)
	if p<1.0 {return 0.0}
	return 0.5+0.064*math.Floor((p-1.0)/0.5)
}
func TestProbe(t *testing.T){
	for _,hz:=range []float64{1,2,4,5,10,20,50,100,1000}{
		for _,sig:=range []float64{0.002,0.010,0.02}{
		for _,q:=range []float64{0.001,0.01}{
		r:=rand.New(rand.NewPCG(5,uint64(hz)))
		an:=draw.New(draw.Options{})
		n:=int(60*hz)
		for i:=range n { at:=(float64(i)+0.1*r.Float64())/hz
			// mean over interval
			a:=0.0; for k:=range 20 {a+=stair(at-float64(k)/20/hz,1.5)/20}
			a=math.Round((a+sig*r.NormFloat64())/q)*q
			an.Add(&captures.Sample{At:time.Duration(at*1e9),Volts:5-0.1*a,Amps:a})}
		show(fmt.Sprintf("stair %g Hz noise %g q %g",hz,sig,q),an.Result())
		}}
	}
	// settle
	for _,hz:=range []float64{2,10,100}{
	f:=noisy(4,func(t float64)(float64,float64){ if t<3 {return 5,0}; k:=math.Floor((t-3)/0.5); if k>16 {return 5,0.5+14*0.064}; return 5,0.5+0.064*k})
	show(fmt.Sprintf("settle %g",hz), rows(int(60*hz),1/hz,f).Result())
	// linear ramp
	g:=noisy(4,func(t float64)(float64,float64){ if t<3 {return 5,0.1}; return 20,math.Min(0.1+(t-3)*0.3,3)})
	show(fmt.Sprintf("ramp %g",hz), rows(int(60*hz),1/hz,g).Result())
	g=noisy(4,func(t float64)(float64,float64){ if t<3 {return 5,0.1}; return 20,math.Min(0.1+(t-3)*3,3)})
	show(fmt.Sprintf("fast ramp %g",hz), rows(int(60*hz),1/hz,g).Result())
	}
	for _,seed:=range []uint64{1,2,3,4,5}{ for _,hz:=range []float64{1,10,100} {
		r:=rand.New(rand.NewPCG(seed,9)); level:=0.3; next:=0.0
		f:=noisy(seed,func(t float64)(float64,float64){ if t>=next { level=0.2+2*r.Float64(); if r.Float64()<0.3{level=0.3}; next=t+0.05+r.ExpFloat64()*0.3}; return 20-0.1*level,level})
		show(fmt.Sprintf("boot %d %g Hz",seed,hz), rows(int(120*hz),1/hz,f).Result())
	}}
	// regular square wave
	for _,hz:=range []float64{10,100}{
	f:=noisy(1,func(t float64)(float64,float64){ if math.Mod(t,0.4)<0.2 {return 19.9,0.9}; return 20,0.4})
	show(fmt.Sprintf("square %g",hz), rows(int(60*hz),1/hz,f).Result())}
	// hiccup
	for _,hz:=range []float64{0.5,1,2,4,5,10,20,50,100,200,1000,10000}{
		r:=rand.New(rand.NewPCG(2,9))
		an:=draw.New(draw.Options{})
		for i:=range int(40*hz) { at:=(float64(i)+0.1*r.Float64())/hz
			_,a:=hiccup(at); if hz<50 { a=0; N:=200; for k:=range N {_,x:=hiccup(at-float64(k)/float64(N)/hz); a+=x/float64(N)}}
			a=math.Round((a+0.002*r.NormFloat64())*1000)/1000
			an.Add(&captures.Sample{At:time.Duration(at*1e9),Volts:20,Amps:a})}
		show(fmt.Sprintf("hiccup avg %g",hz),an.Result())
		f:=noisy(3,hiccup); show(fmt.Sprintf("hiccup instant %g",hz),rows(int(40*hz),1/hz,f).Result())
		fu:=noisy(3,func(t float64)(float64,float64){ if math.Mod(t,0.51)<0.010 {return 20,0.5}; return 20,0.012}); show(fmt.Sprintf("unlatched instant %g",hz),rows(int(60*hz),1/hz,fu).Result())
	}
	// source retry 985 ms at 10 Hz with VBUS
	f:=noisy(1,func(t float64)(float64,float64){ if t>3 && math.Mod(t,0.985)<0.2 {return 5,1.5}; return 0,0})
	for _,hz:=range []float64{1,2,10,100}{ show(fmt.Sprintf("source retry %g",hz),rows(int(40*hz),1/hz,f).Result())}
	// resistance
	lv:=[]float64{0.1,0.95,1.9,3.0}; vv:=[]float64{20.02,19.87,19.70,19.50}
	f=func(t float64)(float64,float64){i:=int(t/2)%4; return vv[i],lv[i]}
	show("resist",rows(80,0.1,f).Result()); show("resist noisy",rows(800,0.01,noisy(1,f)).Result())
	f=func(t float64)(float64,float64){i:=int(t*10)%4; return vv[i],lv[i]}
	show("resist single",rows(40,0.1,f).Result())
	for _,p:=range [][4]float64{{5,0.2,20,0.05},{5,0.1,20,0.4},{5,0.225,20,0.15}}{
		f:=noisy(1,func(t float64)(float64,float64){ if t<10{return p[0],p[1]}; return p[2],p[3]})
		show(fmt.Sprint("load ",p),rows(300,0.1,f).Result()) }
	f=noisy(1,func(t float64)(float64,float64){ v:=[]float64{5,9,15,20}[min(3,int(t/8))]; return v,1/v+v/200})
	show("load4",rows(320,0.1,f).Result())
	// taper
	for _,hz:=range []float64{0.5,1,10}{ for _,i0:=range []float64{0,0.08}{
		f:=noisy(1,func(t float64)(float64,float64){ switch{case t<5: return 5,0.1;case t<305: return 20,2.5; case t<2305: return 20,i0+(2.5-i0)*math.Exp(-(t-305)/800)}; return 20,i0+0.02})
		show(fmt.Sprint("taper ",hz,i0),rows(int(3000*hz),1/hz,f).Result())}}
}
