package uncertainty
import ("testing";"fmt";"math";"math/rand/v2")
func TestTmp(t *testing.T){
 g:=rand.New(rand.NewPCG(1,1))
 for _,mode:=range []string{"rect","mixed","t"} {
 for _,n:=range []int{3,5,8,12,16} {
  var e [3]float64; var worst [3]float64; cnt:=0.0
  for range 40 {
   in:=make([]Input,n)
   for i:=range in { in[i]=Input{U:math.Exp(g.NormFloat64())}
     switch mode { case "rect": in[i].Dist=Rectangular
     case "mixed": in[i].Dist=[]Distribution{Normal,Rectangular,Triangular,Rectangular,StudentT}[g.IntN(5)]; in[i].Dof=4
     case "t": in[i].Dist=StudentT; in[i].Dof=4 } }
   ref,_:=Propagate(in,sum,Options{Points:65536})
   for k,p:=range []int{256,1024,4096} { r,_:=Propagate(in,sum,Options{Points:p}); d:=(math.Pow((r.Low-ref.Low)/ref.U,2)+math.Pow((r.High-ref.High)/ref.U,2))/2; e[k]+=d; worst[k]=max(worst[k],math.Sqrt(d)) }
   cnt++
  }
  fmt.Printf("%-6s n=%2d rms/U 256 %.5f 1024 %.5f 4096 %.5f  worst %.4f %.4f %.4f\n",mode,n,math.Sqrt(e[0]/cnt),math.Sqrt(e[1]/cnt),math.Sqrt(e[2]/cnt),worst[0],worst[1],worst[2])
 }}
}
