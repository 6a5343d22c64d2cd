package compare

import (
	"fmt"
	"math"
	"testing"

	"github.com/stretchr/testify/require"

	"echowright/preset"
)

func hertz(rate float64) preset.Hertz { return preset.Hertz(rate) }

// A tune sampled at other times, by its formula, has a known shift and drift. Both
// takes are clean to 1e-5 of full scale; a hundredth of a sample is then far above
// what noise allows, and what is asked for.
func TestShiftsGainsPolarityAndDriftComeBackAsMade(t *testing.T) {
	const rate = 48000.0
	song := newTune(7, 14, 0.7, 12)
	a := mono(rate, hissed(song.sampled(10*rate, 0, 1/rate), 1e-5, 1))
	for _, c := range []struct {
		name           string
		shift, db, ppm float64 // samples, dB, millionths
		inverted       bool
	}{
		{"nothing", 0, 0, 0, false},
		{"a third of a sample later", 0.33, 0, 0, false},
		{"louder and turned over", 0, 4.5, 0, true},
		{"half a second later and softer", 24000.71, -12, 0, false},
		{"earlier", -9600.25, 1, 0, false},
		{"a slow clock", 411.4, -3, -60, false},
		{"a fast clock, turned over", 1234.56, 2, 280, true},
	} {
		t.Run(c.name, func(t *testing.T) {
			gain := math.Pow(10, c.db/20)
			if c.inverted {
				gain = -gain
			}
			// What is at sample i of A is at sample shift + (1+drift)·i of B.
			step := 1 / rate / (1 + c.ppm/1e6)
			b := mono(rate, hissed(times(song.sampled(11*rate, -c.shift*step, step), gain), 1e-5, 2))
			al := compared(t, a, b, Options{}).Alignment
			require.InDelta(t, c.shift, al.Offset.Samples(rate), 0.01)
			require.InDelta(t, c.db, float64(al.Gain), 0.001)
			require.Equal(t, c.inverted, al.Inverted)
			require.NotNil(t, al.Drift)
			// 0.01 samples over ten seconds are 0.02 ppm.
			require.InDelta(t, c.ppm, *al.Drift, 0.02)
			require.Positive(t, float64(al.OffsetSD))
			require.Less(t, al.OffsetSD.Samples(rate), 0.01)
		})
	}
}

// The bound for the delay of a known signal s in noise of variance σ² is
// σ²/Σs'² (Kay, Fundamentals of Statistical Signal Processing I, 1993); with noise
// of the same level in both takes 2σ²/Σs'². (Where noise has more slope than the
// sound, ten times louder than here, the error comes to 1.7 times the bound.) Of 24 trials the RMS error may lie up to
// 1.4 above: χ² with 24 degrees of freedom stays below 1.4²·24 in 99.7 % of cases.
// What is stated as uncertainty has to fit the errors made.
func TestErrorOfTheOffsetComesNearTheCramerRaoBound(t *testing.T) {
	const rate, noise, trials = 16000.0, 0.001, 24
	song := newTune(3, 2, 0.3, 12)
	clean := song.sampled(rate, 0, 1/rate)
	bound := math.Sqrt(2*noise*noise) / math.Sqrt(energy(slope(clean)))
	sum, stated := 0.0, 0.0
	for k := range uint64(trials) {
		shift := 100.5 + 0.13*float64(k)
		a := mono(rate, hissed(clean, noise, 100+k))
		b := mono(rate, hissed(song.sampled(1.1*rate, -shift/rate, 1/rate), noise, 200+k))
		al := compared(t, a, b, Options{}).Alignment
		require.Nil(t, al.Drift, "a second is too short to tell drift")
		sum += math.Pow(al.Offset.Samples(rate)-shift, 2)
		stated += al.OffsetSD.Samples(rate) / trials
	}
	rms := math.Sqrt(sum / trials)
	t.Logf("bound %.5f samples, error %.5f, stated %.5f", bound, rms, stated)
	require.Less(t, rms, 1.4*bound)
	require.InEpsilon(t, bound, stated, 0.25)
}

// The sound of the machine differs, that of the direct sound does not: it is by this
// that takes are aligned.
func TestOtherEchoesDoNotMoveTheAlignment(t *testing.T) {
	const rate = 48000.0
	song := newTune(5, 1, 1, 40)
	dry := hissed(song.sampled(3*rate, 0, 1/rate), 1e-5, 1)
	a := plain{heads: []head{{5000, 0.7}, {11000, 0.9}}, loop: 0.5}.play(dry, 1)
	b := plain{heads: []head{{5031, 0.6}, {10890, -0.8}}, loop: 0.3}.play(dry, 1)
	al := compared(t, mono(rate, a), mono(rate, append(make([]float64, 700), times(b, 0.5)...)), Options{}).Alignment
	require.InDelta(t, 700, al.Offset.Samples(rate), 0.01)
	require.InDelta(t, -6.02, float64(al.Gain), 0.01) // 20·lg 0.5
	require.False(t, al.Inverted)
}

func TestATakeOfAnotherRateIsConverted(t *testing.T) {
	song := newTune(9, 10, 0.6, 12)
	for _, c := range []struct{ a, b float64 }{{48000, 44100}, {44100, 96000}} {
		t.Run(fmt.Sprint(c.a, " and ", c.b), func(t *testing.T) {
			a := mono(c.a, song.sampled(int(7*c.a), 0, 1/c.a))
			b := mono(c.b, song.sampled(int(7*c.b), -0.01, 1/c.b))
			r := compared(t, a, b, Options{})
			require.InDelta(t, 10, float64(r.Alignment.Offset), 0.0005)
			require.InDelta(t, 0, *r.Alignment.Drift, 0.05)
			require.NotEmpty(t, r.Warnings)
			require.Contains(t, r.Warnings[0].String(), "rate")
			// The highest harmonic lies at 3.5 kHz, where conversion is exact to −80 dB.
			require.Less(t, float64(r.Residual), -75.0)
		})
	}
}
