package measure

import (
	"errors"
	"math"
	"math/rand"
	"testing"

	"github.com/stretchr/testify/require"

	"echowright/preset"
)

func noiseOf(n int, amp float64) []float64 {
	rng := rand.New(rand.NewSource(11))
	x := make([]float64, n)
	for i := range x {
		x[i] = amp * rng.NormFloat64()
	}
	return x
}

// pinkOf is noise that falls by about 3 dB an octave: white noise through one-pole
// low-passes an octave apart, each of the same power.
func pinkOf(n int, amp float64) []float64 {
	rng := rand.New(rand.NewSource(12))
	var slow [9]float64
	return filled(n, func(int) float64 {
		sum := 0.0
		for k := range slow {
			a := math.Ldexp(0.6, -k)
			slow[k] += math.Sqrt(a)*rng.NormFloat64() - a*slow[k]
			sum += slow[k]
		}
		return amp * sum / 6
	})
}

// chords of three notes follow each other without a rest, three a second.
func chords(n int) []float64 {
	roots := []float64{147, 196, 220, 165, 131, 175}
	return filled(n, func(i int) float64 {
		t := float64(i) / quickRate
		v := 0.0
		for _, third := range []float64{1, 1.2599, 1.4983} { // equal temperament: 4 and 7 semitones
			f := roots[int(3*t)%len(roots)] * third
			for h := 1.0; h < 6; h++ {
				v += math.Sin(2*math.Pi*f*h*t) / (h * h)
			}
		}
		return 0.1 * v * math.Exp(-2*math.Mod(t, 1.0/3))
	})
}

func filled(n int, at func(i int) float64) []float64 {
	x := make([]float64, n)
	for i := range x {
		x[i] = at(i)
	}
	return x
}

func TestRefusals(t *testing.T) {
	noEchoes, _, _ := record(rand.New(rand.NewSource(12)), shortNote, unit{delays: []float64{100}, levels: []float64{-160}}, quickTake)
	oneHead, _, _ := record(rand.New(rand.NewSource(13)), shortNote, unit{delays: []float64{100}, levels: []float64{-3}}, quickTake)
	withNaN := append([]float64(nil), oneHead...)
	withNaN[1234] = math.NaN()
	for _, c := range []struct {
		name    string
		samples []float64
		heads   []int
		reasons []Reason
	}{
		{"silence", make([]float64, quickRate), []int{1}, []Reason{Silence}},
		{"a constant", filled(quickRate, func(int) float64 { return 0.3 }), []int{1}, []Reason{Silence, OnlyNoise}},
		{"noise", noiseOf(2*quickRate, 0.01), []int{1, 2}, []Reason{OnlyNoise}},
		{"pink noise", pinkOf(2*quickRate, 0.02), []int{1, 2}, []Reason{OnlyNoise}},
		{"pink noise, no heads named", pinkOf(2*quickRate, 0.02), nil, []Reason{OnlyNoise}},
		{"music", chords(3 * quickRate), []int{1, 2, 3}, []Reason{NoEcho, OnlyNoise, FewerEchoes, NotExplained}},
		{"music, no heads named", chords(3 * quickRate), nil, []Reason{NoEcho, OnlyNoise, NotExplained}},
		{"infinite", append([]float64{math.Inf(1)}, oneHead...), []int{1}, []Reason{NotFinite}},
		{"a square wave", filled(2*quickRate, func(i int) float64 { return 0.5 - float64(i/60%2) }), []int{1}, []Reason{OnlyNoise, NoEcho}},
		{"2000 samples", noiseOf(2000, 0.1), []int{1}, []Reason{TooShort}},
		{"nothing at all", nil, []int{1}, []Reason{TooShort}},
		{"not a number", withNaN, []int{1}, []Reason{NotFinite}},
		{"a note without echo", noEchoes, []int{1}, []Reason{NoEcho}},
		{"a note without echo, three heads named", noEchoes, []int{1, 2, 3}, []Reason{NoEcho, FewerEchoes}},
		{"a note without echo, none named", noEchoes, nil, []Reason{NoEcho}},
		{"twelve heads named, one on", oneHead, []int{1, 2, 3, 4, 5, 6, 7, 8, 9, 10, 11, 12}, []Reason{FewerEchoes}},
	} {
		t.Run(c.name, func(t *testing.T) {
			t.Parallel()
			_, err := Heads(Take{Rate: quickRate, Samples: c.samples}, Options{Heads: c.heads})
			var refusal *Refusal
			require.ErrorAs(t, err, &refusal)
			require.Contains(t, c.reasons, refusal.Reason)
			require.Contains(t, refusal.Error(), ":", "what is wrong, and what to do")
		})
	}
}

func TestEveryReasonHasItsAdvice(t *testing.T) {
	for _, r := range []Reason{Silence, OnlyNoise, TooShort, NotFinite, NoEcho, FewerEchoes, NoDirect, NotExplained} {
		require.NotEmpty(t, (&Refusal{Reason: r}).Error(), r)
	}
	require.Equal(t, (&Refusal{Reason: Silence}).Error()+" (left)", (&Refusal{Reason: Silence, Detail: "left"}).Error())
}

func TestWrongCallsAreNoRefusals(t *testing.T) {
	x := noiseOf(quickRate, 0.1)
	for _, c := range []struct {
		name string
		take Take
		o    Options
		says string
	}{
		{"heads out of order", Take{Rate: quickRate, Samples: x}, Options{Heads: []int{4, 2}}, "in order of delay"},
		{"a head twice", Take{Rate: quickRate, Samples: x}, Options{Heads: []int{2, 2}}, "each once"},
		{"head 0", Take{Rate: quickRate, Samples: x}, Options{Heads: []int{0}}, "numbered from 1"},
		{"too many heads", Take{Rate: quickRate, Samples: x}, Options{Heads: make([]int, 17)}, "16 at most"},
		{"no rate", Take{Samples: x}, Options{Heads: []int{1}}, "sample rate"},
		{"a rate that is no number", Take{Rate: preset.Hertz(math.NaN()), Samples: x}, Options{Heads: []int{1}}, "sample rate"},
		{"a dry channel of another length", Take{Rate: quickRate, Samples: x, Dry: x[1:]}, Options{Heads: []int{1}}, "one length"},
	} {
		t.Run(c.name, func(t *testing.T) {
			t.Parallel()
			_, err := Heads(c.take, c.o)
			require.ErrorContains(t, err, c.says)
			var refusal *Refusal
			require.False(t, errors.As(err, &refusal))
		})
	}
}
