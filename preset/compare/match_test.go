package compare

import (
	"errors"
	"fmt"
	"math"
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/require"
)

// Tunes of notes on one scale are as alike as other tunes ever are; noise is alike
// to nothing.
func TestTakesOfOtherTunesDoNotMatch(t *testing.T) {
	const rate = 24000.0
	machine := plain{heads: []head{{2900, 0.7}, {6100, 0.9}}, loop: 0.4, pole: 0.5}
	hiss := func(seed uint64) []float64 { return hissed(make([]float64, 6*rate), 0.1, seed) }
	song := func(seed uint64) []float64 {
		return machine.play(newTune(seed, 8, 0.6, 9).sampled(6*rate, 0, 1/rate), 1)
	}
	note := func(seed uint64) []float64 { return newTune(seed, 1, 1, 15).sampled(2*rate, 0, 1/rate) }
	for k := range uint64(4) {
		for name, pair := range map[string][2][]float64{
			"two noises":        {hiss(2 * k), hiss(2*k + 1)},
			"a tune and noise":  {song(k), hiss(k)},
			"two tunes":         {song(2*k + 20), song(2*k + 21)},
			"two single notes":  {note(30 + k), note(46 + k)},
			"a tune and a tone": {song(k), sine(6*rate, 220/rate)},
		} {
			t.Run(fmt.Sprint(name, " ", k), func(t *testing.T) {
				if name == "two single notes" && newTune(30+k, 1, 1, 1)[0].pitch == newTune(46+k, 1, 1, 1)[0].pitch {
					t.Skip("SKIP: by chance the same note, which matches")
				}
				_, err := Takes(mono(rate, pair[0]), mono(rate, pair[1]), Options{})
				var refusal *Refusal
				require.ErrorAs(t, err, &refusal)
				t.Log(refusal.Detail)
				require.Equal(t, NoMatch, refusal.Reason)
				require.Contains(t, err.Error(), "don't match")
			})
		}
	}
}

// One tune through machines whose echoes have nothing in common does match. The
// echoes of one note sound into the next, so that hardly a moment is the same in
// both: a tenth of a sample (4 µs) is as near as can be asked.
func TestOneTuneThroughTwoMachinesMatches(t *testing.T) {
	const rate = 24000.0
	for k := range uint64(6) {
		dry := newTune(60+k, 8, 0.6, 20).sampled(6*rate, 0, 1/rate)
		a := plain{heads: []head{{2900, 0.9}, {6100, 0.9}}, loop: 0.5, pole: 0.6}.play(dry, 1)
		b := plain{heads: []head{{2500, -0.9}, {7300, 0.9}}, loop: 0.5, pole: 0.3}.play(dry, 1)
		r := compared(t, mono(rate, hissed(a, 1e-4, k)), mono(rate, hissed(b, 1e-4, 99+k)), Options{})
		require.InDelta(t, 0, r.Alignment.Offset.Samples(rate), 0.1, k)
	}
}

func TestWhatCannotBeComparedIsRefused(t *testing.T) {
	const rate = 24000.0
	good := newTune(1, 3, 0.4, 12).sampled(2*rate, 0, 1/rate)
	broken := append([]float64(nil), good...)
	broken[777] = math.NaN()
	for _, c := range []struct {
		name string
		b    []float64
		want Reason
	}{
		{"silence", make([]float64, 2*rate), Silence},
		{"not a number", broken, NotFinite},
		{"a click of 10 ms", good[:240], TooShort},
	} {
		t.Run(c.name, func(t *testing.T) {
			for name, pair := range map[string][2][]float64{"B": {good, c.b}, "A": {c.b, good}} {
				_, err := Takes(mono(rate, pair[0]), mono(rate, pair[1]), Options{})
				var refusal *Refusal
				require.ErrorAs(t, err, &refusal)
				require.Equal(t, c.want, refusal.Reason)
				require.Equal(t, name, refusal.Take)
			}
		})
	}
}

func TestWrongCallsAreNoRefusals(t *testing.T) {
	x := newTune(1, 3, 0.4, 12).sampled(24000, 0, 1./24000)
	good := mono(24000, x)
	for name, bad := range map[string]Take{
		"no channel":              {Rate: 24000},
		"a rate that is none":     {Rate: hertz(math.NaN()), Channels: [][]float64{x}},
		"two lengths":             {Rate: 24000, Channels: [][]float64{x, x[1:]}},
		"two channels beside one": {Rate: 24000, Channels: [][]float64{x, x}},
		"only a dry channel":      {Rate: 24000, Channels: [][]float64{x}, Dry: 1},
	} {
		_, err := Takes(good, bad, Options{})
		require.Error(t, err, name)
		var refusal *Refusal
		require.False(t, errors.As(err, &refusal), name)
	}
}

func FuzzAnySamples(f *testing.F) {
	f.Add(uint64(1), 900, 900, 1.0)
	f.Add(uint64(2), 4000, 801, 1e-9)
	f.Add(uint64(3), 3000, 9000, 1e9)
	f.Fuzz(func(t *testing.T, seed uint64, lengthA, lengthB int, scale float64) {
		r := rand.New(rand.NewPCG(seed, seed))
		some := func(n int) []float64 {
			x := make([]float64, max(0, n%20000))
			for i := range x {
				if i%97 < 50 {
					x[i] = scale * r.NormFloat64()
				}
			}
			return x
		}
		a, b := some(lengthA), some(lengthB)
		copy(b, a[len(a)/3:])
		res, err := Takes(mono(8000, a), mono(8000, b), Options{})
		if err == nil {
			require.False(t, math.IsNaN(float64(res.Residual)+float64(res.Alignment.Offset)+float64(res.Alignment.Gain)))
		}
	})
}

func sine(n int, turn float64) []float64 {
	x := make([]float64, n)
	for i := range x {
		x[i] = 0.3 * math.Sin(2*math.Pi*turn*float64(i))
	}
	return x
}
