package emulator

import (
	"math"
	"math/rand/v2"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"echowright/preset"
)

// tapLoopTone is what a high cut of that code leaves of 1 kHz.
func tapLoopTone(code byte) float64 {
	corner := 800 * math.Pow(20, float64(code)/127)
	return 1 / math.Sqrt(1+1e6/(corner*corner))
}

func TestTapLoopEchoesByHand(t *testing.T) {
	bright := tapLoopTone(127) // 16 kHz: 0.998
	for _, c := range []struct {
		name  string
		sound tapSound
		want  []arrival
	}{
		{"silence", tapSound{time: [8]int{800}, highCut: 127}, nil},
		{"one tap at full level", tapSound{time: [8]int{1001}, level: [8]byte{127}, highCut: 127}, []arrival{{125.125, bright}}},
		// −48 + 48·(64 − 1)/126 = −24 dB.
		{"−24 dB", tapSound{time: [8]int{800}, level: [8]byte{64}, highCut: 127}, []arrival{{100, bright * 0.0630957}}},
		{"the softest level, −48 dB", tapSound{time: [8]int{800}, level: [8]byte{1}, highCut: 127}, []arrival{{100, bright * 0.00398107}}},
		{"normal at 63", tapSound{time: [8]int{800}, level: [8]byte{127}, polarity: [8]byte{63}, highCut: 127}, []arrival{{100, bright}}},
		{"inverted at 64", tapSound{time: [8]int{800}, level: [8]byte{127}, polarity: [8]byte{64}, highCut: 127}, []arrival{{100, -bright}}},
		{"at no delay", tapSound{level: [8]byte{127}, highCut: 127}, []arrival{{0, bright}}},
		// 800 Hz: 1/√(1 + 1.25²).
		{"the dullest", tapSound{time: [8]int{800}, level: [8]byte{127}}, []arrival{{100, 1 / math.Sqrt(2.5625)}}},
		{
			// 1.10 · 57/127; the second turn has passed the cut twice.
			"fed back from a tap that is silent and inverted, before its level and polarity",
			tapSound{time: [8]int{800, 16000}, level: [8]byte{127, 0}, polarity: [8]byte{0, 127}, amount: 57, tap: 1, highCut: 0},
			[]arrival{{100, 0.624695}, {2100, 0.624695 * 0.624695 * 0.493701}},
		},
		{
			"two taps at one place",
			tapSound{time: [8]int{800, 800}, level: [8]byte{127, 127}, highCut: 127},
			[]arrival{{100, 2 * bright}},
		},
		{
			// bright/(1 − bright·0.493701)
			"feedback at no delay",
			tapSound{time: [8]int{800, 0}, level: [8]byte{127}, amount: 57, tap: 1, highCut: 127},
			[]arrival{{100, bright / (1 - bright*0.493701)}},
		},
	} {
		d := &tapLoop{}
		d.edit = c.sound
		got, err := d.sound(EditBuffer).Echoes(-60, 4000)
		require.NoError(t, err, c.name)
		require.Len(t, got, len(c.want), c.name)
		for i, e := range got {
			require.InDelta(t, float64(c.want[i].at), float64(e.At), 1e-9, c.name)
			require.InDelta(t, c.want[i].amplitude, amplitude(e), 2e-6, "%s: the digits written here", c.name)
		}
	}
}

func TestTapLoopDryLevel(t *testing.T) {
	s := standing(t, "tap-loop", Options{})
	for code, want := range map[string]float64{"00": 0, "01": 0.00398107, "40": 0.0630957, "7F": 1} {
		s.ask("B0 58 " + code)
		require.InDelta(t, want, s.sounding().Dry(), 1e-7, code)
	}
}

// sounding is what sounds.
func (s *stand) sounding() Sound { return s.Unit.now() }

func TestAboveUnityItHowls(t *testing.T) {
	// 1.10 · 115/127 = 0.9961, 1.10 · 116/127 = 1.0047.
	s := standing(t, "tap-loop", Options{})
	s.ask("B0 55 73")
	echoes, err := s.Echoes(-60, 4000)
	require.NoError(t, err)
	require.NotEmpty(t, echoes)
	for _, amount := range []string{"74", "7F"} {
		for _, cut := range []string{"00", "7F"} { // the lowest tones pass however dull it is
			s.ask("B0 55 " + amount + " 57 " + cut)
			start := time.Now()
			_, err = s.Echoes(-60, 60_000)
			require.ErrorIs(t, err, ErrHowls)
			require.Less(t, time.Since(start), 5*time.Second)
		}
	}
	require.EqualError(t, err, "emulator tap-loop: the loop howls: feedback amount 127 sends 1.100 of what tap 0 hears round again")
}

func TestTapLoopEchoesAreTheImpulseResponse(t *testing.T) {
	random := rand.New(rand.NewPCG(8, 1))
	for range 40 {
		s := tapSound{
			amount: byte(random.IntN(116)), tap: byte(random.IntN(tapLoopTaps)),
			highCut: byte(random.IntN(128)), dry: byte(random.IntN(128)),
		}
		for i := range tapLoopTaps {
			s.time[i] = 1 + random.IntN(4000)
			s.level[i], s.polarity[i] = byte(random.IntN(128)), byte(random.IntN(128))
		}
		d := &tapLoop{}
		d.edit = s
		echoes, err := d.sound(EditBuffer).Echoes(-100, 1000)
		require.NoError(t, err)
		requireResponse(t, tapLoopResponse(s, 8001), echoes, 8, -100)
	}
}

// tapLoopResponse is the manual's formula, a sample each 0.125 ms: x is a click,
// m what goes into the memory.
func tapLoopResponse(s tapSound, samples int) []float64 {
	x, m, out := make([]float64, samples), make([]float64, samples), make([]float64, samples)
	x[0] = 1
	past := func(n, d int) float64 {
		if n < d {
			return 0
		}
		return m[n-d]
	}
	for n := range samples {
		m[n] = tapLoopTone(s.highCut) * (x[n] + 1.1*float64(s.amount)/127*past(n, s.time[s.tap]))
		for i := range s.time {
			if s.level[i] > 0 {
				sign := map[bool]float64{false: 1, true: -1}[s.polarity[i] > 63]
				db := -48 + 48*(float64(s.level[i])-1)/126
				out[n] += sign * preset.Decibels(db).Amplitude() * past(n, s.time[i])
			}
		}
	}
	return out
}

// requireResponse: the echoes are all samples of the response down to the floor.
func requireResponse(t *testing.T, response []float64, echoes []preset.Echo, perMilli float64, floor preset.Decibels) {
	t.Helper()
	got := make([]float64, len(response))
	for _, e := range echoes {
		n := float64(e.At) * perMilli
		require.InDelta(t, math.Round(n), n, 1e-6)
		got[int(math.Round(n))] += amplitude(e)
	}
	for n, want := range response {
		if math.Abs(want) < floor.Amplitude()*(1-1e-6) {
			want = 0
		}
		// Adding and multiplying in another order; what lies at the floor may be on
		// either side of it.
		near := 1e-9
		if math.Abs(want) < floor.Amplitude()*(1+1e-6) {
			near = 1.1 * floor.Amplitude()
		}
		require.InDelta(t, want, got[n], near, "sample %d", n)
	}
}
