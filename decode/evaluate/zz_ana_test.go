package evaluate
import ("testing";"os";"encoding/json";"bufio";"fmt";"strings";"regexp";"math";"sort";"hash/fnv")
var trail = regexp.MustCompile(`-\d+$`)
func TestAna(t *testing.T){
  fn := os.Getenv("ANA"); if fn=="" { t.Skip() }
  detail := os.Getenv("DETAIL")
  for _, in := range []string{"meter","both"} {
  var rows []outRow
  for _, one := range strings.Split(fn, ",") {
  f,_ := os.Open(one); sc := bufio.NewScanner(f); sc.Buffer(nil, 1<<22)
  for sc.Scan() { var r outRow; if json.Unmarshal(sc.Bytes(),&r)!=nil {continue}; if r.In==in { rows=append(rows,r) } }
  f.Close() }
  n := len(rows); idx := map[string]int{}; for i,l := range locations { idx[string(l)]=i }
  tell := func(key func(i int) uint32, k uint32) [][classes]float64 {
   out := make([][classes]float64, n)
   for p := range k { var ex []example; for i,r := range rows { if key(i)%k!=p { ex=append(ex, example{X:r.X,Truth:idx[r.Loc]}) } }
     fo := grow(ex,1); for i,r := range rows { if key(i)%k==p { out[i]=fo.tell(r.X) } } }
   return out }
  byCase := tell(func(i int) uint32 { return uint32(i) }, 5)
  h := func(s string) uint32 { x := fnv.New32a(); x.Write([]byte(s)); return x.Sum32()>>7 }
  scen := func(i int) string { return trail.ReplaceAllString(rows[i].Fam,"") }
  byScen := tell(func(i int) uint32 { return h(scen(i)) }, 8)
  open := func(p [classes]float64) int { c := 0; for _,x := range p { if x>=0.05 {c++} }; return c }
  arg := func(p [classes]float64) int { b:=0; for i,x := range p { if x>p[b] {b=i} }; return b }
  ll := func(p float64) float64 { return -math.Log(math.Max(1e-4,p)) }
  type agg struct { n,right,wrong,arg int; ll, obs, str float64; ex []string }
  sum := func(name string, take func(i int) bool) { var a agg; for i,r := range rows { if !take(i) {continue}; a.n++
     if r.Named==r.Loc {a.right++} else if r.Named!="undetermined" {a.wrong++}
     b:=""; for k,v := range r.Shares { if b=="" || v>r.Shares[b] {b=k} }; if b==r.Loc {a.arg++}
     a.ll += ll(r.Shares[r.Loc]); a.obs += ll(byCase[i][idx[r.Loc]]); a.str += ll(byScen[i][idx[r.Loc]]) }
     m := float64(a.n); fmt.Printf("%s %-34s n %5d (%.0f%%) right %.1f wrong %.1f argmax %.1f loss %.3f obs loss %.3f stranger %.3f\n", in, name, a.n, 100*m/float64(n), 100*float64(a.right)/m, 100*float64(a.wrong)/m, 100*float64(a.arg)/m, a.ll/m, a.obs/m, a.str/m) }
  dec := func(i int) bool { return open(byCase[i])==1 }
  both := func(i int) bool { return dec(i) && open(byScen[i])==1 && arg(byScen[i])==arg(byCase[i]) }
  sum("all", func(int) bool {return true})
  sum("decided by observer", dec)
  sum("decided, and without its scenario", both)
  ok := func(i int) bool { return dec(i) && arg(byScen[i])==arg(byCase[i]) && byScen[i][arg(byScen[i])]>0.6 }
  sum("decided, >0.6 without", ok)
  { c,r := 0,0; l:=0.0; for i := range rows { if dec(i) {c++; if arg(byScen[i])==idx[rows[i].Loc] {r++}; l+=ll(byScen[i][idx[rows[i].Loc]])} }; fmt.Printf("   observer without scenario on decided: argmax right %.1f loss %.3f\n", 100*float64(r)/float64(c), l/float64(c)) }
  if detail!="" { m := map[string]*agg{}; for i,r := range rows { k := scen(i)+" "+r.Loc; a := m[k]; if a==nil { a=&agg{}; m[k]=a }; a.n++
     if r.Named==r.Loc {a.right++} else if r.Named!="undetermined" {a.wrong++}; a.ll += ll(r.Shares[r.Loc]); a.obs += ll(byCase[i][idx[r.Loc]]); a.str += ll(byScen[i][idx[r.Loc]])
     if r.Shares[r.Loc]<0.08 && byCase[i][idx[r.Loc]]>0.55 && len(a.ex)<9 { b:=""; for k,v := range r.Shares { if b=="" || v>r.Shares[b] {b=k} }; a.ex=append(a.ex, fmt.Sprintf("%s@%.0f:%s%.2f/%.2f(%.2f)", trail.FindString(r.Fam), r.Hz, b[:3], r.Shares[b], r.Shares[r.Loc], byCase[i][idx[r.Loc]])) } }
   var ks []string; for k := range m { ks=append(ks,k) }; sort.Slice(ks, func(i,j int) bool { return len(m[ks[i]].ex)>len(m[ks[j]].ex) || len(m[ks[i]].ex)==len(m[ks[j]].ex) && m[ks[i]].ll-m[ks[i]].obs>m[ks[j]].ll-m[ks[j]].obs })
   for i,k := range ks { if i>=45 {break}; a := m[k]; fmt.Printf("   %-40s n%4d R%4d W%3d gain %.0f loss %.2f obs %.2f stranger %.2f %s\n", k, a.n, a.right, a.wrong, a.ll-a.obs, a.ll/float64(a.n), a.obs/float64(a.n), a.str/float64(a.n), strings.Join(a.ex," ")) } }
  }
}
