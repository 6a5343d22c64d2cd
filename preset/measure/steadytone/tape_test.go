package steadytone

import (
	"math"
	"math/rand/v2"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"
)

// A wavering of the speed: peak deviation in percent, rate in Hz.
type waver struct{ percent, hz float64 }

// tape is the playback of a tone by a machine whose speed wavers. A tone of
// frequency f at speed 1 + ε·sin(2π·r·t) has the phase 2π·f·(t − ε·cos(2π·r·t)/(2π·r)).
type tape struct {
	rate, tone, amplitude, seconds float64
	wavers                         []waver
	noise                          float64 // RMS
	lead, tail                     float64 // s of noise before and after
	through                        float64 // s: recorded and played back in one pass, this much later
}

func (t tape) at(n int) float64 {
	time := float64(n)/t.rate - t.lead
	if time < 0 || time >= t.seconds {
		return 0
	}
	read := t.run(time)
	if t.through > 0 {
		// What is read now was written when the carrier was one delay's way back;
		// to first order in ε that is through seconds ago.
		read = time - t.through + (t.run(time) - time) - (t.run(time-t.through) - (time - t.through))
	}
	return t.amplitude * math.Sin(2*math.Pi*t.tone*read)
}

// run is how far the carrier has come.
func (t tape) run(time float64) float64 {
	way := time
	for _, w := range t.wavers {
		way -= w.percent / 100 / (2 * math.Pi * w.hz) * math.Cos(2*math.Pi*w.hz*time)
	}
	return way
}

// play gives the meter the tape in blocks of odd sizes.
func (t tape) play(m *Meter) {
	random := rand.New(rand.NewPCG(7, 11))
	frames := int((t.lead + t.seconds + t.tail) * t.rate)
	block := make([]float64, 0, 5000)
	for n := 0; n < frames; {
		block = block[:0]
		for size := min(frames-n, 1+random.IntN(5000)); len(block) < size; n++ {
			block = append(block, t.at(n)+t.noise*random.NormFloat64())
		}
		m.Add(block)
	}
}

func (t tape) measure(tb testing.TB, o Options) Result {
	tb.Helper()
	m, err := New(o)
	require.NoError(tb, err)
	t.play(m)
	r, err := m.Result()
	require.NoError(tb, err)
	return r
}

func machine(wavers ...waver) tape {
	return tape{rate: 48_000, tone: 3150, amplitude: 0.1, seconds: 25, wavers: wavers}
}

var usual = Options{Rate: 48_000, Nominal: 3150}

func has(r Result, words string) bool {
	for _, w := range r.Warnings {
		if strings.Contains(w.String(), words) {
			return true
		}
	}
	return false
}
