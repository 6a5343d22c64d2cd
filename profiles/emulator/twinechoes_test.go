package emulator

import (
	"math"
	"math/rand/v2"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"echowright/preset"
)

func twinPlaying(s twinSound) Sound {
	d := &twin{}
	d.edit = s
	return d.sound(EditBuffer)
}

func TestTwinEchoesByHand(t *testing.T) {
	for _, c := range []struct {
		name  string
		sound twinSound
		want  []arrival
	}{
		{"silence", twinSound{time: [2]int{5461, 5461}, mix: 127}, nil},
		// 1200 · 5461/16383 = 400 ms, for 16383 = 3 · 5461.
		{"one line", twinSound{time: [2]int{5461}, level: [2]byte{127}, mix: 127}, []arrival{{400, 1}}},
		{"the longest", twinSound{time: [2]int{16383}, level: [2]byte{127}, mix: 127}, []arrival{{1200, 1}}},
		// (64/127)² = 0.253953, 64/127 = 0.503937.
		{"level", twinSound{time: [2]int{5461}, level: [2]byte{64}, mix: 127}, []arrival{{400, 0.253953}}},
		{"mix", twinSound{time: [2]int{5461}, level: [2]byte{127}, mix: 64}, []arrival{{400, 0.503937}}},
		{"mix at zero", twinSound{time: [2]int{5461}, level: [2]byte{127}}, nil},
		// 0.98 · 64/127 = 0.493858; its square 0.243896.
		{
			"feedback, heard at its level",
			twinSound{time: [2]int{16383}, level: [2]byte{64}, feedback: [2]byte{64}, mix: 127},
			[]arrival{{1200, 0.253953}, {2400, 0.253953 * 0.493858}, {3600, 0.253953 * 0.243896}},
		},
		// 1/(1 − 0.98)
		{"at no delay", twinSound{level: [2]byte{127}, feedback: [2]byte{127}, mix: 127}, []arrival{{0, 50}}},
		{
			"both lines at one place, each with its own feedback",
			twinSound{time: [2]int{16383, 16383}, level: [2]byte{127, 127}, feedback: [2]byte{0, 64}, mix: 127},
			[]arrival{{1200, 2}, {2400, 0.493858}, {3600, 0.243896}},
		},
	} {
		got, err := twinPlaying(c.sound).Echoes(-60, 4000)
		require.NoError(t, err, c.name)
		require.Len(t, got, len(c.want), c.name)
		for i, e := range got {
			require.InDelta(t, float64(c.want[i].at), float64(e.At), 1e-9, c.name)
			require.InDelta(t, c.want[i].amplitude, amplitude(e), 2e-6, "%s: the digits written here", c.name)
		}
		require.Equal(t, 1.0, twinPlaying(c.sound).Dry())
	}
}

func TestTwinNeverHowls(t *testing.T) {
	// 0.98 a turn: −0.1755 dB, so 342 turns to −60 dB, of 0.0732 ms each.
	s := twinSound{time: [2]int{1}, level: [2]byte{127}, feedback: [2]byte{127}, mix: 127}
	echoes, err := twinPlaying(s).Echoes(-60, 60_000)
	require.NoError(t, err)
	require.Len(t, echoes, 1+int(60/(-20*math.Log10(0.98))))
	require.InDelta(t, 1200./16383, float64(echoes[0].At), 1e-12)
	start := time.Now()
	_, err = twinPlaying(s).Echoes(preset.Decibels(math.Inf(-1)), 60_000)
	require.NoError(t, err)
	require.Less(t, time.Since(start), 5*time.Second, "however deep one listens")
}

func TestTwinEchoesAreTheImpulseResponse(t *testing.T) {
	// A sample each step of the time, 1200/16383 ms.
	const samples, floor = 20_000, preset.Decibels(-100)
	random := rand.New(rand.NewPCG(8, 2))
	for range 40 {
		var s twinSound
		for n := range twinLines {
			s.time[n] = 1 + random.IntN(16383)
			s.level[n], s.feedback[n] = byte(random.IntN(128)), byte(random.IntN(128))
		}
		s.mix = byte(random.IntN(128))
		echoes, err := twinPlaying(s).Echoes(floor, 1200./16383*(samples-1)+1e-6)
		require.NoError(t, err)
		requireResponse(t, twinResponse(s, samples), echoes, 16383./1200, floor)
	}
}

// twinResponse is the manual's formula: x is a click, y what a line gives.
func twinResponse(s twinSound, samples int) []float64 {
	out := make([]float64, samples)
	for n := range s.time {
		x, y := make([]float64, samples), make([]float64, samples)
		x[0] = 1
		for i := s.time[n]; i < samples; i++ {
			y[i] = x[i-s.time[n]] + 0.98*float64(s.feedback[n])/127*y[i-s.time[n]]
			out[i] += float64(s.mix) / 127 * math.Pow(float64(s.level[n])/127, 2) * y[i]
		}
	}
	return out
}
