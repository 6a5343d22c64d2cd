package profiles

import (
	"testing"

	"github.com/stretchr/testify/require"

	"echowright/midi"
	"echowright/preset"
)

func twoByThree(t testing.TB) *Device {
	t.Helper()
	d, err := Shipped("two-by-three")
	require.NoError(t, err)
	return d
}

// There is no emulator of this unit: its bytes are worked by hand from
// two-by-three.md.
func TestMessagesOfTwoMemoriesWithThreeTaps(t *testing.T) {
	d := twoByThree(t)
	set := func(unit int, name string, code int) func() (midi.Step, error) {
		return func() (midi.Step, error) { return d.SetStep(unit, d.Parameter(name), code) }
	}
	for _, c := range []struct {
		name  string
		step  func() (midi.Step, error)
		bytes string
	}{
		// memory b begins at 20h; 1234 ms = 12 hundreds and 34: 0C 22; 24 ^ 20 ^ 0C ^ 22 = 2A
		{"the longest time of b, 1234 ms", set(3, "b-longest", 1234), "F0 7D 09 03 24 20 0C 22 2A F7"},
		// 20h + 10h + 2·4 = 38h; 62 % = 2480 = 9B0h; 20 ^ 38 ^ 09 ^ 0B ^ 00 = 1A
		{"tap 3 of b at 62 %", set(0, "b-tap-3-time", 2480), "F0 7D 09 00 20 38 09 0B 00 1A F7"},
		// code 32 = 20h: nibbles 0, 2, 0; 20 ^ 01 ^ 02 = 23
		{"feedback of a with its sign turned", set(0, "a-feedback", 32), "F0 7D 09 00 20 01 00 02 00 23 F7"},
		// 21 ^ 7F = 5E
		{"ask for the direct sound", func() (midi.Step, error) { return d.AskStep(0, d.Parameter("dry-level")) }, "F0 7D 09 00 21 7F 5E F7"},
		// slot 32 travels as 1F: 40 ^ 1F = 5F
		{"ask for slot 32", func() (midi.Step, error) { return d.AskSlotStep(7, 32) }, "F0 7D 09 07 40 1F 5F F7"},
		// 43 ^ 00 = 43
		{"load slot 1", func() (midi.Step, error) { return d.LoadStep(0, 1) }, "F0 7D 09 00 43 00 43 F7"},
	} {
		s, err := c.step()
		require.NoError(t, err, c.name)
		require.Equal(t, c.bytes, midi.Hex(s.Send), c.name)
	}
}

// threeTaps is memory a with 500 ms: taps at 40, 62 (upside down) and 91 % of it,
// 0, 3 and 5 dB down; memory b is at rest.
func threeTaps(t testing.TB, d *Device) Setting {
	t.Helper()
	s := d.Rest()
	s.Name = "fen-dis"
	for name, code := range map[string]int{
		"a-longest": 500, "dry-level": 0,
		"a-tap-1-time": 1600, "a-tap-1-level": 0,
		"a-tap-2-time": 2480, "a-tap-2-level": 6, "a-tap-2-polarity": 1,
		"a-tap-3-time": 3640, "a-tap-3-level": 10,
	} {
		s.Codes[d.Parameter(name)] = code
	}
	require.NoError(t, d.Check(s))
	return s
}

// Seven bytes become eight: first a byte of their top bits, that of the first
// byte lowest.
//
//	05 00 40 08 40 06 00  →  00 05 00 40 08 40 06 00   500 ms; feedback 64, damping off; 1600 = 0640h, 0 dB
//	B0 09 86 38 0E 0A 00  →  05 30 09 06 38 0E 0A 00   2480 = 09B0h, 6 inverted; 3640 = 0E38h, 10; b:
//	32 40 08 00 00 7F 00  →  00 32 40 08 00 00 7F 00   50 ms; 64, off; 0, silent
//	00 7F 00 00 7F 00 66  →  00 00 7F 00 00 7F 00 66   0, silent; 0, silent; direct sound 0 dB; f
//	65 6E 2D 64 69 73 BF  →  40 65 6E 2D 64 69 73 3F   en-dis; the sum
//
// The 34 bytes add up to 147 + 399 + 249 + 356 + 576 = 1727 = 6BFh: BF is kept. All
// of the message's bytes from the command on: 42 ^ 01 ^ 0B ^ 06 ^ 05 ^ 66 ^ 27 = 0A.
func TestASlotOfTwoMemoriesWithThreeTaps(t *testing.T) {
	d := twoByThree(t)
	s := threeTaps(t, d)
	steps, err := d.PushSteps(0, 2, s)
	require.NoError(t, err)
	require.Len(t, steps, 1)
	require.Equal(t, "F0 7D 09 00 42 01 "+
		"00 05 00 40 08 40 06 00 05 30 09 06 38 0E 0A 00 00 32 40 08 00 00 7F 00 "+
		"00 00 7F 00 00 7F 00 66 40 65 6E 2D 64 69 73 3F 0A F7", midi.Hex(steps[0].Send))

	told := d.Decoder(0).Feed(steps[0].Send)
	require.Len(t, told, 1)
	require.Equal(t, 2, told[0].Slot)
	back, err := d.SlotSetting(told[0].Memory)
	require.NoError(t, err)
	require.Equal(t, s, back)

	hurt := append([]byte(nil), told[0].Memory...)
	hurt[4]++ // the time of the first tap
	_, err = d.SlotSetting(hurt)
	require.ErrorIs(t, err, ErrDamaged)
}

// What is fed back is tap 3 behind its level: at 50 % of 400 ms, 6 dB down (code
// 12), with a feedback of 0.99·(32 − 64)/63 = −0.50286 (−5.971 dB and the sign
// turned), the second echo is 6 dB + 5.971 dB + 6 dB down, and upside down.
func TestTheLoopOfTwoMemoriesWithThreeTaps(t *testing.T) {
	d := twoByThree(t)
	s := d.Rest()
	for name, code := range map[string]int{"b-longest": 400, "b-tap-3-time": 2000, "b-tap-3-level": 12, "b-feedback": 32} {
		s.Codes[d.Parameter(name)] = code
	}
	echoes, err := d.Echoes(s, -40, 4000)
	require.NoError(t, err)
	require.Len(t, echoes, 3) // 6, 17.97 and 29.94 dB down; the next 41.91
	for i, want := range []preset.Echo{{At: 200, Level: -6}, {At: 400, Level: -17.971, Inverted: true}, {At: 600, Level: -29.942}} {
		require.InDelta(t, float64(want.At), float64(echoes[i].At), 1e-9)
		require.InDelta(t, float64(want.Level), float64(echoes[i].Level), 1e-3, "worked to three decimals")
		require.Equal(t, want.Inverted, echoes[i].Inverted)
	}
}

// Each message that sets something is read again as what it sets.
func TestMessagesOfTwoMemoriesWithThreeTapsComeBack(t *testing.T) {
	d := twoByThree(t)
	decoder := d.Decoder(0)
	for i, p := range d.Parameters {
		for _, code := range p.Scale.sample() {
			step, err := d.SetStep(0, i, code)
			require.NoError(t, err)
			require.Equal(t, []Told{{Kind: ToldSet, Parameter: i, Code: code, Slot: None}}, decoder.Feed(step.Send), step.What)
		}
	}
	_, err := d.SetStep(0, d.Parameter("a-tap-1-level"), 110)
	require.ErrorContains(t, err, "code 110", "a hole is never sent")
}
