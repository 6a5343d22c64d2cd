package compare

import (
	"math"
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/require"
)

// A tune is notes given by formulas, so that it can be had at any time between
// samples, exactly.
type tune []struct{ at, pitch, level, damping float64 }

// newTune has a note about every gap s, at pitches of a scale chosen by chance.
func newTune(seed uint64, notes int, gap, damping float64) tune {
	r := rand.New(rand.NewPCG(seed, 1))
	var t tune
	for i := range notes {
		t = append(t, struct{ at, pitch, level, damping float64 }{
			at: 0.3 + gap*(float64(i)+0.3*r.Float64()), pitch: 110 * math.Pow(2, float64(r.IntN(25))/12),
			level: 0.1 + 0.2*r.Float64(), damping: damping,
		})
	}
	return t
}

// value at a time in s: eight harmonics under an attack of a millisecond or so.
func (t tune) value(s float64) float64 {
	v := 0.0
	for _, n := range t {
		d := s - n.at
		if d < 0 || d*n.damping > 25 {
			continue
		}
		env := n.level * (1 - math.Exp(-d*3000)) * math.Exp(-d*n.damping)
		for h := 1.0; h <= 8; h++ {
			v += env / h * math.Sin(2*math.Pi*h*n.pitch*d+h*h)
		}
	}
	return v
}

// sampled is n samples of value at at, at+step, … seconds.
func (t tune) sampled(n int, at, step float64) []float64 {
	x := make([]float64, n)
	for i := range x {
		x[i] = t.value(at + float64(i)*step)
	}
	return x
}

// hissed adds Gaussian noise of that standard deviation.
func hissed(x []float64, sd float64, seed uint64) []float64 {
	r := rand.New(rand.NewPCG(seed, 2))
	out := make([]float64, len(x))
	for i, v := range x {
		out[i] = v + sd*r.NormFloat64()
	}
	return out
}

func times(x []float64, g float64) []float64 {
	out := make([]float64, len(x))
	for i, v := range x {
		out[i] = g * v
	}
	return out
}

func mono(rate float64, x []float64) Take {
	return Take{Rate: hertz(rate), Channels: [][]float64{x}}
}

// A plain machine, sample by sample: heads at whole samples, a loop from the last of
// them, and a one-pole low pass in the record path.
type plain struct {
	heads []head
	loop  float64 // gain of one turn
	pole  float64 // 0 for no low pass
	drive float64 // k of tanh(k·x)/k, 0 for none
	bias  float64
}

type head struct {
	delay int
	gain  float64
}

// play gives the direct sound, so loud, and the echoes.
func (m plain) play(dry []float64, direct float64) []float64 {
	memory, out := make([]float64, len(dry)), make([]float64, len(dry))
	low := 0.0
	for i, x := range dry {
		if last := m.heads[len(m.heads)-1].delay; i >= last {
			x += m.loop * memory[i-last]
		}
		if m.drive > 0 {
			x = (math.Tanh(m.drive*x+m.bias) - math.Tanh(m.bias)) / m.drive
		}
		low = m.pole*low + (1-m.pole)*x
		memory[i] = low
		out[i] = direct * dry[i]
		for _, h := range m.heads {
			if i >= h.delay {
				out[i] += h.gain * memory[i-h.delay]
			}
		}
	}
	return out
}

func compared(t *testing.T, a, b Take, o Options) Result {
	t.Helper()
	r, err := Takes(a, b, o)
	require.NoError(t, err)
	return r
}
