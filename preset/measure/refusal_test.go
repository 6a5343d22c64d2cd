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

func TestWarnings(t *testing.T) {
	u := unit{delays: []float64{101.3, 187.7}, levels: []float64{-2, 0}, feeds: []int{1}, loop: -6}
	for _, c := range []struct {
		name string
		unit unit
		take recording
		says string
	}{
		{"clipped", u, recording{rate: quickRate, lead: 0.15, seconds: 1.9, noise: -72, clip: 0.15}, "clipped"},
		{"hum", u, recording{rate: quickRate, lead: 0.3, seconds: 1.9, noise: -72, hum: -46}, "mains hum of 50.0"},
		{"noise", u, recording{rate: quickRate, lead: 0.15, seconds: 1.9, noise: -40}, "noise lies only"},
		{"cut off", u, recording{rate: quickRate, lead: 0.15, seconds: 0.7, noise: -72}, "before the echoes have died away"},
		{"hardly any lead", u, recording{rate: quickRate, lead: 0.02, seconds: 1.9, noise: -72}, "hardly any quiet"},
	} {
		t.Run(c.name, func(t *testing.T) {
			t.Parallel()
			x, _, _ := record(rand.New(rand.NewSource(14)), shortNote, c.unit, c.take)
			r, err := Heads(Take{Rate: quickRate, Samples: x}, Options{Heads: []int{1, 2}})
			require.NoError(t, err)
			said := ""
			for _, w := range r.Warnings {
				require.NotEmpty(t, w.Do)
				said += w.String() + "\n"
			}
			require.Contains(t, said, c.says)
		})
	}
}
