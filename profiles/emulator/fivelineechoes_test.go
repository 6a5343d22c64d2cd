package emulator

import (
	"math"
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/require"

	"echowright/preset"
)

// rounding is what adding and multiplying amplitudes may cost.
const rounding = 1e-12

func played(t *testing.T, lines ...line) []preset.Echo {
	var m memory
	for n := range lines {
		m.setLine(n, lines[n])
	}
	echoes, err := m.sound().Echoes(-60, 4000)
	require.NoError(t, err)
	return echoes
}

func TestEchoesByHand(t *testing.T) {
	half := math.Sqrt(0.5)
	cases := []struct {
		name  string
		lines []line
		want  []arrival
	}{
		{"silence", []line{{time: 1000}}, nil},
		{"one echo at full level", []line{{time: 1234, level: 121, highCut: 31}}, []arrival{{123.4, 1}}},
		{"−20 dB, inverted", []line{{time: 1000, level: 81, polarity: 1, highCut: 31}}, []arrival{{100, -0.1}}},
		{"the softest level", []line{{time: 1000, level: 1, highCut: 31}}, []arrival{{100, 0.001}}},
		{"at no delay", []line{{level: 121, highCut: 31}}, []arrival{{0, 1}}},
		{
			"−60 dB is heard",
			[]line{{time: 1000, level: 121, highCut: 31}, {time: 2000, level: 1, highCut: 31}},
			[]arrival{{100, 1}, {200, 0.001}},
		},
		{
			// 20 Hz · 2^(30/6) = 640 Hz: 1.5 dB less.
			"a little less is not",
			[]line{{time: 1000, level: 121, highCut: 31}, {time: 2000, level: 1, highCut: 31, lowCut: 31}},
			[]arrival{{100, 1}},
		},
		{"feedback of a half, to the end of the four seconds", []line{{time: 16000, level: 121, feedback: 64, highCut: 31}}, []arrival{{1600, 1}, {3200, 0.5}}},
		// 1/(1 − 1/2): all turns fall on the same moment.
		{"feedback at no delay", []line{{level: 121, feedback: 64, highCut: 31}}, []arrival{{0, 2}}},
		{
			"B hears A before A's level and polarity",
			[]line{{time: 1000, level: 81, polarity: 1, highCut: 31}, {time: 500, level: 121, source: 1, highCut: 31}},
			[]arrival{{100, -0.1}, {150, 1}},
		},
		{
			"a source behind its line in the row",
			[]line{{time: 300, level: 121, source: 2, highCut: 31}, {time: 700, highCut: 31}},
			[]arrival{{100, 1}},
		},
		{
			"two lines that cancel each other",
			[]line{{time: 1000, level: 121, highCut: 31}, {time: 1000, level: 121, polarity: 1, highCut: 31}},
			nil,
		},
		{
			// 500 Hz · 2^(6/6) = 1 kHz: 1/√2 each time the line is passed.
			"high cut at 1 kHz, two passes at the second repeat",
			[]line{{time: 16000, level: 121, feedback: 64, highCut: 6}},
			[]arrival{{1600, half}, {3200, half * 0.5 * half}},
		},
		{
			// 20 Hz · 2^(30/6) = 640 Hz: 1/√(1 + 0.64²).
			"low cut at 640 Hz",
			[]line{{time: 1000, level: 121, highCut: 31, lowCut: 31}},
			[]arrival{{100, 1 / math.Sqrt(1.4096)}},
		},
		{
			"the filters of the line that is heard through",
			[]line{{time: 1000, highCut: 6}, {time: 1000, level: 121, source: 1, highCut: 6}},
			[]arrival{{200, 0.5}},
		},
	}
	for _, c := range cases {
		got := played(t, c.lines...)
		require.Len(t, got, len(c.want), c.name)
		for i := range got {
			require.Equal(t, c.want[i].at, got[i].At, c.name)
			require.InDelta(t, c.want[i].amplitude, amplitude(got[i]), rounding, c.name)
		}
	}
}

func TestThreeHeadsAndALoopFitOnFiveLines(t *testing.T) {
	// 121, 263, 405 ms with −7, 0, −2 dB, the loop from the last head: common
	// practice, no source. Every repeat set lies 6.9 dB below the one before.
	heads := []struct{ at, level float64 }{{121, -7}, {263, 0}, {405, -2}}
	const turn = -6.9
	b := onBench(t, Options{})
	b.ask("F0 7D 05 00 22 05 " + threeHeads + " 00 F7")
	echoes := b.echoes(5)

	found := 0
	for set := 0; float64(set)*turn > -60; set++ {
		for _, h := range heads {
			at, level := h.at+405*float64(set), h.level+turn*float64(set)
			// Half a level step, and 58/128 is −6.876 dB for −6.9 at each turn.
			near := 0.25 + 0.025*float64(set)
			if at > 4000 || level < -60+near {
				continue
			}
			e := echoAt(t, echoes, at)
			require.InDelta(t, level, float64(e.Level), near, "set %d, %v ms", set, h.at)
			found++
		}
	}
	// Sets 0 to 7 whole; of set 8 (−55.2 dB) all three would lie above −60 but for
	// 121 + 8·405 = 3361 at −62.2 dB.
	require.Equal(t, 26, found)
	require.Len(t, echoes, found, "nothing is heard that was not wanted")
}

// amplitude is that of an echo, negative where it is inverted.
func amplitude(e preset.Echo) float64 {
	if e.Inverted {
		return -e.Level.Amplitude()
	}
	return e.Level.Amplitude()
}

// echoes are those of a slot down to −60 dB within 4 s.
func (s *stand) echoes(slot int) []preset.Echo {
	s.t.Helper()
	sound, err := s.Sound(slot)
	require.NoError(s.t, err)
	echoes, err := sound.Echoes(-60, 4000)
	require.NoError(s.t, err)
	return echoes
}

func echoAt(t *testing.T, echoes []preset.Echo, at float64) preset.Echo {
	t.Helper()
	for _, e := range echoes {
		if math.Abs(float64(e.At)-at) < 1e-9 {
			return e
		}
	}
	require.Fail(t, "no echo", "at %v ms", at)
	return preset.Echo{}
}

func TestEchoesOfASlotAndOfTheEditBuffer(t *testing.T) {
	b := onBench(t, Options{})
	b.ask("F0 7D 05 00 31 08 47 F7")          // load slot 8: one repeat of 95 ms at −2 dB
	b.ask("F0 7D 05 00 10 00 60 00 65 2B F7") // dry level 101 = −10 dB; 10+60+65 = D5h
	edit, slot := b.echoes(EditBuffer), b.echoes(8)
	require.Equal(t, slot, edit)
	require.Len(t, slot, 1)
	require.Equal(t, preset.Millis(95), slot[0].At)
	now, err := b.Echoes(-60, 4000)
	require.NoError(t, err)
	require.Equal(t, edit, now, "what sounds is the edit buffer")
	for slot, want := range map[int]float64{EditBuffer: math.Pow(10, -0.5), 8: 1} {
		sound, err := b.Sound(slot)
		require.NoError(t, err)
		require.InDelta(t, want, sound.Dry(), rounding)
	}
}

func TestSlotsThatAreNotThere(t *testing.T) {
	b := onBench(t, Options{})
	for _, slot := range []int{-2, 64} {
		_, err := b.Sound(slot)
		require.ErrorContains(t, err, "there are 0 to 63")
		_, err = b.Memory(slot)
		require.Error(t, err)
	}
}

func TestEchoesAgreeWithASignalFlow(t *testing.T) {
	// The same codes as a network of paths, whose echoes are found in another way:
	// path by path in order of time.
	random := rand.New(rand.NewPCG(5, 1))
	for range 40 {
		m := randomSound(random)
		want, err := flow(m).Train(-110, 4000)
		require.NoError(t, err)
		loudest := math.Inf(-1)
		for _, e := range want {
			loudest = max(loudest, float64(e.Level))
		}
		got, err := m.sound().Echoes(preset.Decibels(loudest-60), 4000)
		require.NoError(t, err)
		i := 0
		for _, e := range want {
			// Paths below −110 dB are not followed: 50 dB below the least echo.
			if float64(e.Level) < loudest-60 {
				continue
			}
			require.InDelta(t, float64(e.At), float64(got[i].At), 1e-6)
			require.InDelta(t, float64(e.Level), float64(got[i].Level), 0.1)
			require.Equal(t, e.Inverted, got[i].Inverted)
			i++
		}
		require.Len(t, got, i)
	}
}

// randomSound has lines in a random order of sources, and no feedback so high or
// time so short that its echoes could not be listed one by one.
func randomSound(random *rand.Rand) *memory {
	var m memory
	order := random.Perm(lines)
	for i, n := range order {
		l := line{
			time: 900 + random.IntN(6000), level: 61 + random.IntN(61), polarity: random.IntN(2),
			feedback: random.IntN(48), highCut: random.IntN(32), lowCut: random.IntN(32),
		}
		if i > 0 && random.IntN(2) == 0 {
			l.source = 1 + order[random.IntN(i)]
		}
		m.setLine(n, l)
	}
	return &m
}

// flow has the input as node 0 and line n's output as node n+1.
func flow(m *memory) preset.Network {
	network := preset.Network{Nodes: lines + 1}
	path := func(from, to, steps int, gain float64) {
		network.Paths = append(network.Paths, preset.Path{From: from, To: to, Delay: preset.Millis(steps) / 10, Gain: gain})
	}
	for n := range lines {
		l := m.line(n)
		tone := preset.Tone{}
		if l.highCut < 31 {
			tone.HighCut = preset.Hertz(500 * math.Exp2(float64(l.highCut)/6))
		}
		if l.lowCut > 0 {
			tone.LowCut = preset.Hertz(20 * math.Exp2(float64(l.lowCut-1)/6))
		}
		pass := tone.Magnitude(preset.Reference)
		level := preset.Decibels(-60 + float64(l.level-1)/2).Amplitude()
		path(l.source, n+1, l.time, pass)
		path(n+1, n+1, l.time, pass*float64(l.feedback)/128)
		path(n+1, preset.Output, 0, level*float64(1-2*l.polarity))
	}
	return network
}
