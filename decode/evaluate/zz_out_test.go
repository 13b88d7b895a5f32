package evaluate
import ("testing";"os";"encoding/json";"bufio";"fmt";"sync";"errors";"io"
 "portside/captures";"portside/captures/bench")
type outRow struct { Fam, In, Loc string; Hz float64; Named string; Shares map[string]float64; X []float32 }
func readRun(c Case, in string) (*bench.Run, error) {
  run := &bench.Run{}
  run.Scenario.Parameters.Meter = bench.MeterEnd(c.MeterAt)
  var files []captures.RecordingInput
  for _, f := range c.files {
    if f.meter && in==Messages || !f.meter && in==Meter { continue }
    r,err := f.open(); if err!=nil { return nil, err }; defer r.Close()
    i,err := captures.Open(f.name, r, reading()); if err!=nil { return nil, err }
    files = append(files, captures.RecordingInput{Input:i}) }
  rec := captures.NewRecording(files)
  for { x,err := rec.Next(); if errors.Is(err, io.EOF) { return run,nil }; if err!=nil { return nil,err }
    if x.Sample!=nil { run.Rows=append(run.Rows,*x.Sample) } else { run.Messages=append(run.Messages,*x.Message) } } }
func TestOut(t *testing.T){
  dir, out := os.Getenv("DIR"), os.Getenv("OUT"); if dir=="" || out=="" { t.Skip() }
  cs, pr, _, err := ReadFolder(os.DirFS(dir)); fmt.Println(len(cs), len(pr), err)
  f,_ := os.Create(out); w := bufio.NewWriter(f); e := json.NewEncoder(w); var mu sync.Mutex
  one := func(c Case){ for _, in := range []string{"meter","both","messages"} { if !c.holds(in) {continue}
     run, err := readRun(c,in); if err!=nil { continue }
     j,_,err := Judge(c,in); if err!=nil { fmt.Println(c.Family, in, err); continue }
     cur := outRow{Fam:c.Family,In:in,Loc:string(c.Truth),Hz:j.MeterHz,Named:string(j.Named),Shares:map[string]float64{},X:observe(run,in).x}
     for k,v := range j.Shares { cur.Shares[string(k)]=v }
     mu.Lock(); e.Encode(cur); mu.Unlock() } }
  ch := make(chan Case); var wg sync.WaitGroup; for range 2 { wg.Add(1); go func(){ defer wg.Done(); for x := range ch { one(x) } }() }; for _, x := range cs { ch<-x }; close(ch); wg.Wait()
  w.Flush(); f.Close() }
