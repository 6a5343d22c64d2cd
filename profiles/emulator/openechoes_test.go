package emulator

import (
	"math"
	"math/rand/v2"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"echowright/preset"
)

func TestOpenParameterEchoesByHand(t *testing.T) {
	const least = 7.673615e-6 // −102.3 dB
	for _, c := range []struct {
		name  string
		sound openSound
		floor preset.Decibels
		want  []arrival
	}{
		{"the softest level is no silence", openSound{taps: [4]openTap{{time: 1000}, {time: 1000}, {time: 1000}, {time: 1000}}}, -100, []arrival{{100, 4 * least}}},
		{"one tap at full level", openSound{taps: [4]openTap{{time: 1234, level: 1023}}}, -60, []arrival{{123.4, 1}}},
		{"−20 dB, inverted", openSound{taps: [4]openTap{{time: 1000, level: 823, polarity: 1}}}, -60, []arrival{{100, -0.1}}},
		{"the longest", openSound{taps: [4]openTap{{time: 16383, level: 1023}}}, -60, []arrival{{1638.3, 1}}},
		{
			// Fed back is the sum after level and polarity: 0.5 · 0.1 = 0.05 each turn.
			"feedback of a half from an inverted tap at −20 dB",
			openSound{taps: [4]openTap{{time: 1000, level: 823, polarity: 1}}, feedback: 500}, -60,
			[]arrival{{100, -0.1}, {200, 0.005}},
		},
		{
			"feedback from the sum of two taps",
			openSound{taps: [4]openTap{{time: 10000, level: 823}, {time: 15000, level: 823}}, feedback: 1000}, -59,
			[]arrival{{1000, 0.1}, {1500, 0.1}, {2000, 0.01}, {2500, 0.02}, {3000, 0.01 + 0.001}, {3500, 3 * 0.001}, {4000, 3*0.001 + 0.0001}},
		},
		{"two taps that cancel each other", openSound{taps: [4]openTap{{time: 1000, level: 1023}, {time: 1000, level: 1023, polarity: 1}}, feedback: 1000}, -60, nil},
		{
			// m = 1 + 0.5·0.1·m: 1/0.95.
			"a tap at no delay",
			openSound{taps: [4]openTap{{time: 0, level: 823}, {time: 16000, level: 823}}, feedback: 500}, -60,
			[]arrival{{0, 0.1 / 0.95}, {1600, 0.1 / 0.95 / 0.95}, {3200, 0.05 * 0.1 / 0.95 / 0.95 / 0.95}},
		},
	} {
		got, err := c.sound.sound().Echoes(c.floor, 4000)
		require.NoError(t, err, c.name)
		require.Len(t, got, len(c.want), c.name)
		for i, e := range got {
			require.InDelta(t, float64(c.want[i].at), float64(e.At), 1e-9, c.name)
			// The other taps, at their softest, stand at 0 ms: two of −102.3 dB beside one
			// of −20 dB are 1.5e-4 of it.
			require.InDelta(t, 1, amplitude(e)/c.want[i].amplitude, 3e-4, c.name)
		}
	}
	require.InDelta(t, least, openSound{}.sound().Dry(), 1e-12)
	require.InDelta(t, 1, openSound{dry: 1023}.sound().Dry(), 1e-12)
}

func TestTapsThatTogetherReachUnityHowl(t *testing.T) {
	s := openSound{feedback: 1000}
	for i := range s.taps {
		s.taps[i] = openTap{time: 1000 * (i + 1), level: 902} // −12.1 dB: 0.2483 each, 0.9933 in all
	}
	echoes, err := s.sound().Echoes(-60, 4000)
	require.NoError(t, err)
	require.NotEmpty(t, echoes)
	s.taps[3].level++ // −12.0 dB: 0.9962
	_, err = s.sound().Echoes(-60, 4000)
	require.NoError(t, err)
	s.taps[2].level += 2 // 1.0020
	start := time.Now()
	_, err = s.sound().Echoes(-60, 60_000)
	require.ErrorIs(t, err, ErrHowls)
	require.EqualError(t, err, "emulator open-parameter: the loop howls: feedback 1000 sends 1.002 of what the taps hear round again")
	require.Less(t, time.Since(start), 5*time.Second)
	s.feedback = 990
	_, err = s.sound().Echoes(-60, 4000)
	require.NoError(t, err, "less feedback is the cure")

	one := openSound{taps: [4]openTap{{time: 1000, level: 1023}}, feedback: 1000}
	_, err = one.sound().Echoes(-60, 4000)
	require.ErrorIs(t, err, ErrHowls, "one tap at 0 dB")
}

func TestOpenParameterEchoesAreTheImpulseResponse(t *testing.T) {
	const samples, floor = 10_001, preset.Decibels(-90)
	random := rand.New(rand.NewPCG(8, 3))
	heard := 0
	for range 60 {
		s := openSound{feedback: random.IntN(1001)}
		for i := range s.taps {
			s.taps[i] = openTap{time: 1 + random.IntN(6000), level: 623 + random.IntN(401), polarity: random.IntN(2)}
		}
		echoes, err := s.sound().Echoes(floor, 1000)
		if err != nil {
			require.ErrorIs(t, err, ErrHowls)
			continue
		}
		heard++
		requireResponse(t, openResponse(s, samples), echoes, 10, floor)
	}
	require.Greater(t, heard, 20)
}

// openResponse is the manual's formula, a sample each 0.1 ms: x is a click, m
// what goes into the memory.
func openResponse(s openSound, samples int) []float64 {
	x, m, out := make([]float64, samples), make([]float64, samples), make([]float64, samples)
	x[0] = 1
	for n := range samples {
		for _, tap := range s.taps {
			if n >= tap.time {
				p := float64(1 - 2*tap.polarity)
				out[n] += math.Pow(10, (float64(tap.level)-1023)/200) * p * m[n-tap.time]
			}
		}
		m[n] = x[n] + float64(s.feedback)/1000*out[n]
	}
	return out
}
