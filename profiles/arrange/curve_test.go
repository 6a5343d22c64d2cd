package arrange

import (
	"math"
	"math/rand/v2"
	"slices"
	"testing"

	"github.com/stretchr/testify/require"

	"echowright/preset"
)

func randomTrain(rng *rand.Rand) []preset.Echo {
	train := make([]preset.Echo, 1+rng.IntN(60))
	for i := range train {
		train[i] = preset.Echo{
			At:       preset.Millis(1 + 3999*rng.Float64()),
			Level:    preset.Decibels(-60 * rng.Float64()),
			Inverted: rng.IntN(2) == 0,
		}
	}
	slices.SortFunc(train, func(a, b preset.Echo) int {
		if a.At < b.At {
			return -1
		}
		return 1
	})
	return train
}

func TestCurvesGiveThePatternError(t *testing.T) {
	rng := rand.New(rand.NewPCG(7, 8))
	s := newSheet(preset.TrainLimit)
	for range 50 {
		want, got := randomTrain(rng), randomTrain(rng)
		p, q := s.draw(want, false), s.draw(got, false)
		// Sampling and the cut ends of the Gaussians leave less than a thousandth of
		// a decibel, a fiftieth of the finest step that is decided by.
		require.InDelta(t, float64(preset.PatternError(want, got)), 10*math.Log10(apart(p, q)/dot(p, p)), 1e-3)
	}
}

func TestTheErrorOfLongTrainsIsThatOfShortOnes(t *testing.T) {
	// 40 ms and −0.3 dB a turn, heard within 4 s: 100 echoes; beside them, doubled until
	// they are too many for the exact way, the same echoes in equal parts.
	w, err := newWish(pattern(t, unit(-0.3, []int{1}, preset.Head{Delay: 40})))
	require.NoError(t, err)
	got := make([]preset.Echo, len(w.train))
	for i, e := range w.train {
		got[i] = preset.Echo{At: e.At - 1, Level: e.Level - 1}
	}
	exact := w.error(got)
	require.Equal(t, preset.PatternError(w.train, got), exact)
	const parts = 25
	var many []preset.Echo
	for _, e := range got {
		e.Level = preset.FromAmplitude(e.Level.Amplitude() / parts)
		for range parts {
			many = append(many, e)
		}
	}
	require.Greater(t, len(many), 2000)
	require.InDelta(t, float64(exact), float64(w.error(many)), 2e-3)
}

func TestCurvesOfTrainsThatAreNearlyTheSame(t *testing.T) {
	// A small error must not drown in sampling: half a dB less, 20·log10(1−10^(−1/40)).
	s := newSheet(preset.TrainLimit)
	for _, at := range []preset.Millis{5, 100, 239.9, 240.1, 1234.5, 3999} {
		p := s.draw([]preset.Echo{{At: at}}, false)
		q := s.draw([]preset.Echo{{At: at, Level: -0.5}}, false)
		require.InDelta(t, 20*math.Log10(1-math.Pow(10, -1.0/40)), 10*math.Log10(apart(p, q)/dot(p, p)), 1e-3, "%v", at)
	}
}

func TestCurvesWithSigns(t *testing.T) {
	s := newSheet(1000)
	train := []preset.Echo{{At: 100}, {At: 100, Inverted: true}}
	require.InDelta(t, 0, dot(s.draw(train, true), s.draw(train, true)), 1e-12)
	require.Positive(t, dot(s.draw(train, false), s.draw(train, false)))
}

func TestFitFindsTheLevelsOfVoices(t *testing.T) {
	// Voices at 100, 250 and 700 ms, and one at 400 ms that nothing asks for; the
	// wish is 0.5, 0.25 (inverted) and 0: those levels, and nothing below zero.
	w, err := newWish(preset.Pattern{Taps: []preset.Tap{
		{Head: 1, Delay: 100, Level: preset.FromAmplitude(0.5)},
		{Head: 2, Delay: 250, Level: preset.FromAmplitude(0.25), Inverted: true},
	}})
	require.NoError(t, err)
	var voices []voice
	for _, at := range []preset.Millis{100, 250, 700, 400} {
		v := voice{curve: w.sheet.draw([]preset.Echo{{At: at}}, false), inverted: at == 250}
		voices = append(voices, v)
	}
	all, plain := w.sums(voices, rounded)
	chosen := []int{0, 1, 2, 3}
	levels := all.fit(chosen)
	for i, want := range []float64{0.5, 0.25, 0, 0} {
		require.InDelta(t, want, levels[i], 1e-6)
	}
	require.InDelta(t, 0, plain.cost(chosen, levels), 1e-9)
	require.InDelta(t, 1, plain.cost(nil, nil), 1e-9, "silence")

	// The same voice twice: one of them is enough, and nothing is divided by zero.
	twice := []voice{voices[0], voices[0]}
	all, _ = w.sums(twice, rounded)
	levels = all.fit([]int{0, 1})
	require.InDelta(t, 0.5, levels[0]+levels[1], 1e-6)
}

func TestMatching(t *testing.T) {
	echo := func(at preset.Millis, level preset.Decibels) preset.Echo { return preset.Echo{At: at, Level: level} }
	for _, c := range []struct {
		name        string
		wanted, got []preset.Echo
		partner     []int // index in got, −1 for none
		extra       int
	}{
		{"in place", []preset.Echo{echo(100, 0), echo(200, -6)}, []preset.Echo{echo(100.1, 0), echo(200, -6.2)}, []int{0, 1}, 0},
		{"half of 6 ms away", []preset.Echo{echo(100, 0)}, []preset.Echo{echo(103, 0)}, []int{0}, 0},
		{"farther", []preset.Echo{echo(100, 0)}, []preset.Echo{echo(103.1, 0)}, []int{-1}, 1},
		{"half of 2.5 % away", []preset.Echo{echo(2000, 0)}, []preset.Echo{echo(2024.9, 0)}, []int{0}, 0},
		{"one for two", []preset.Echo{echo(100, 0), echo(102, 0)}, []preset.Echo{echo(101.9, 0)}, []int{-1, 0}, 0},
		{"the level tells close ones apart", []preset.Echo{echo(280.8, -24), echo(281, -6)}, []preset.Echo{echo(280.9, -6), echo(281.1, -24)}, []int{1, 0}, 0},
		{"below the floor it is no extra", nil, []preset.Echo{echo(100, -60.1), echo(200, -59.9)}, nil, 1},
		{"nothing got", []preset.Echo{echo(100, 0)}, nil, []int{-1}, 0},
	} {
		pairs, extra := match(c.wanted, c.got)
		require.Len(t, pairs, len(c.wanted), c.name)
		for i, p := range pairs {
			if c.partner[i] < 0 {
				require.Nil(t, p.got, c.name)
				continue
			}
			require.NotNil(t, p.got, c.name)
			require.Equal(t, c.got[c.partner[i]], *p.got, c.name)
		}
		require.Len(t, extra, c.extra, c.name)
	}
}
