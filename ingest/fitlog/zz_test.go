package fitlog
import "testing"
func BenchmarkSound(b *testing.B){ d:=make([]byte,54000); for i:=range d{d[i]=byte(i*7)}; for b.Loop(){ sound(d)} }
func BenchmarkSound0(b *testing.B){ d:=make([]byte,5); for b.Loop(){ sound(d)} }
