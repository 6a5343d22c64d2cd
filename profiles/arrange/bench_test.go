package arrange

import (
	"testing"

	"github.com/stretchr/testify/require"

	"echowright/preset"
)

// The claim is under 100 ms for any unit on the five-line unit, a few for the
// common ones.
func BenchmarkArrange(b *testing.B) {
	var twelve []preset.Head
	all := make([]int, 12)
	for i := range 12 {
		twelve = append(twelve, preset.Head{Delay: preset.Millis(101 + 103*i + i*i), Level: -preset.Decibels((i * 5) % 7)})
		all[i] = i + 1
	}
	d := fiveLine(b)
	for _, c := range []struct {
		name string
		unit preset.Unit
	}{
		{"three heads", tradeUnit()},
		{"six heads, loop from the last", unit(-6.9, []int{6}, twelve[:6]...)},
		{"three heads, loop from all", unit(-12, []int{1, 2, 3}, twelve[:3]...)},
		{"twelve heads, loop from the last", unit(-4, []int{12}, twelve...)},
		{"twelve heads, loop from all", unit(-24, all, twelve...)},
	} {
		b.Run(c.name, func(b *testing.B) {
			p := pattern(b, c.unit)
			var r Result
			for b.Loop() {
				var err error
				r, err = Arrange(p, d)
				require.NoError(b, err)
			}
			b.ReportMetric(float64(r.Error), "error_dB")
			b.ReportMetric(b.Elapsed().Seconds()*1000/float64(b.N), "ms/plan")
		})
	}
}

// The same for the other structures.
func BenchmarkTaps(b *testing.B) {
	var twelve []preset.Head
	for i := range 12 {
		twelve = append(twelve, preset.Head{Delay: preset.Millis(101 + 103*i + i*i), Level: -preset.Decibels((i * 5) % 7)})
	}
	hot := unit(-0.1, []int{2}, preset.Head{Delay: 150}, preset.Head{Delay: 300})
	for _, name := range []string{"tap-loop", "twin", "open-parameter", "two-by-three"} {
		for what, u := range map[string]preset.Unit{"three heads": tradeUnit(), "twelve heads": unit(-4, []int{12}, twelve...), "hot loop": hot} {
			b.Run(name+"/"+what, func(b *testing.B) {
				d, p := shipped(b, name), pattern(b, u)
				var r Result
				for b.Loop() {
					var err error
					r, err = Arrange(p, d)
					require.NoError(b, err)
				}
				b.ReportMetric(float64(r.Error), "error_dB")
				b.ReportMetric(b.Elapsed().Seconds()*1000/float64(b.N), "ms/plan")
			})
		}
	}
}
