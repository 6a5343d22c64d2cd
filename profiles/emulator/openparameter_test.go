package emulator

import (
	"testing"

	"github.com/stretchr/testify/require"
)

func TestWhatOpenParameterObeys(t *testing.T) {
	// F0 7F dev 04 05, length of the slot path 1, width of a parameter 1, of a value
	// 2, slot path, pairs; values low 7 bits first (CA-024, Global Parameter Control).
	const head = "F0 7F 00 04 05 01 01 02 "
	requireChanges(t, "open-parameter", Options{}, []change{
		// 1210 = 9·128 + 58 = 3A 09.
		{"time of tap 1", head + "02 01 00 3A 09 F7", "tap 1 time", 1210},
		{"longest time of tap 4", head + "02 04 00 7F 7F F7", "tap 4 time", 16383},
		// 1023 = 7·128 + 127 = 7F 07.
		{"level of tap 2", head + "02 02 01 7F 07 F7", "tap 2 level", 1023},
		{"a level above 0 dB", head + "02 02 01 00 08 F7", "", nothing},
		{"polarity of tap 3", head + "02 03 02 01 00 F7", "tap 3 polarity", 1},
		{"a third polarity", head + "02 03 02 02 00 F7", "", nothing},
		{"a fourth parameter of a tap", head + "02 01 03 01 00 F7", "", nothing},
		// 1000 = 7·128 + 104 = 68 07.
		{"feedback", head + "02 00 00 68 07 F7", "feedback", 1000},
		{"more feedback", head + "02 00 00 69 07 F7", "", nothing},
		{"dry level", head + "02 00 01 00 00 F7", "dry level", 0},
		{"a third parameter of the unit", head + "02 00 02 01 00 F7", "", nothing},
		{"a fifth tap", head + "02 05 00 3A 09 F7", "", nothing},
		{"a reverb, slot path 01 01", head + "01 01 01 40 00 F7", "", nothing},
		{"a pair that is unknown beside one that is known", head + "02 01 07 01 00 00 3A 09 F7", "tap 1 time", 1210},
		{"a value that is too high beside one that is not", head + "02 01 01 00 08 00 3A 09 F7", "tap 1 time", 1210},
		{"the same twice: the last holds", head + "02 01 00 01 00 00 3A 09 F7", "tap 1 time", 1210},
		{"pairs that do not come out even", head + "02 01 00 3A 09 01 7F F7", "", nothing},
		{"no pair", head + "02 01 F7", "", nothing},
		{"half a slot path", head + "02 F7", "", nothing},
		// The standard's own example, with slot 01 47, 02 03, parameter 4.
		{"a path of two slots", "F0 7F 00 04 05 02 01 02 01 47 02 03 04 00 01 F7", "", nothing},
		{"values of one byte", "F0 7F 00 04 05 01 01 01 02 01 00 3A F7", "", nothing},
		{"parameters of two bytes", "F0 7F 00 04 05 01 02 02 02 01 00 00 3A 09 F7", "", nothing},
		{"to all units", "F0 7F 7F 04 05 01 01 02 02 01 00 3A 09 F7", "tap 1 time", 1210},
		{"to another unit", "F0 7F 03 04 05 01 01 02 02 01 00 3A 09 F7", "", nothing},
		{"not in real time", "F0 7E 00 04 05 01 01 02 02 01 00 3A 09 F7", "", nothing},
		{"another control of devices: master volume", "F0 7F 00 04 01 00 40 F7", "", nothing},
		{"clock inside", "F0 7F 00 04 F8 05 01 01 02 02 01 00 FE 3A 09 F7", "tap 1 time", 1210},
		{"broken off", head + "02 01 00 3A 09 B0 01 02", "", nothing},
		{"a controller", "B0 10 40", "", nothing},
		{"memory 16: there is none", "C0 10", "", nothing},
		{"Program Change on another channel", "C1 05", "", nothing},
	})
	requireChanges(t, "open-parameter", Options{Unit: 3}, []change{
		{"to its number", "F0 7F 03 04 05 01 01 02 02 01 00 3A 09 F7", "tap 1 time", 1210},
		{"to another", "F0 7F 00 04 05 01 01 02 02 01 00 3A 09 F7", "", nothing},
	})
}

func TestSeveralPairsInOneMessage(t *testing.T) {
	s := standing(t, "open-parameter", Options{})
	want := s.codes(EditBuffer)
	want["tap 2 time"], want["tap 2 level"], want["tap 2 polarity"] = 1210, 1023, 1
	s.ask("F0 7F 00 04 05 01 01 02 02 02 00 3A 09 01 7F 07 02 01 00 F7")
	require.Equal(t, want, s.codes(EditBuffer))
	want["feedback"], want["dry level"] = 5, 6
	s.ask("F0 7F 00 04 05 01 01 02 02 00 00 05 00 01 06 00 F7")
	require.Equal(t, want, s.codes(EditBuffer))
}

func TestOpenParameterIdentity(t *testing.T) {
	s := standing(t, "open-parameter", Options{Unit: 3})
	const reply = "F0 7E 03 06 02 7D 06 00 01 00 01 00 00 00 F7"
	require.Equal(t, reply, s.ask("F0 7E 03 06 01 F7"))
	require.Equal(t, reply, s.ask("F0 7E 7F 06 01 F7"))
	require.Empty(t, s.ask("F0 7E 04 06 01 F7"))
	s = standing(t, "open-parameter", Options{Faults: Faults{WrongIdentity: true}})
	require.Equal(t, "F0 7E 00 06 02 7D 08 00 01 00 01 00 00 00 F7", s.ask("F0 7E 7F 06 01 F7"))
}

func TestProgramChangeLoadsAMemory(t *testing.T) {
	s := standing(t, "open-parameter", Options{Channel: 2})
	require.Equal(t, 16, s.Slots())
	require.Equal(t, s.codes(0), s.codes(EditBuffer), "at power-up it plays memory 0")
	for _, n := range []int{15, 3, 0} {
		require.Empty(t, s.ask("C1 "+toHex([]byte{byte(n)})))
		require.Equal(t, s.codes(n), s.codes(EditBuffer))
	}
	s.ask("05") // running status
	require.Equal(t, s.codes(5), s.codes(EditBuffer))
	require.NotEqual(t, s.codes(0), s.codes(5))
}

// memory0 is the factory's memory 0, byte by byte: per tap time 700, 1400, 2100,
// 2800 and level 960, 920, 880, 840 with 16 bits each, polarity, zero; feedback
// 60 and dry level 1023, four zeros.
const memory0 = "02 BC 03 C0 00 00 05 78 03 98 00 00 08 34 03 70 00 00 0A F0 03 48 00 00 00 3C 03 FF 00 00 00 00"

func TestTheMemoryByteByByte(t *testing.T) {
	s := standing(t, "open-parameter", Options{})
	b, err := s.Memory(0)
	require.NoError(t, err)
	require.Equal(t, memory0, toHex(b))
	require.Equal(t, map[string]int{
		"tap 1 time": 700, "tap 1 level": 960, "tap 1 polarity": 0,
		"tap 2 time": 1400, "tap 2 level": 920, "tap 2 polarity": 0,
		"tap 3 time": 2100, "tap 3 level": 880, "tap 3 polarity": 0,
		"tap 4 time": 2800, "tap 4 level": 840, "tap 4 polarity": 0,
		"feedback": 60, "dry level": 1023,
	}, s.codes(0))
	s.ask("F0 7F 00 04 05 01 01 02 02 04 02 01 00 F7")
	b, err = s.Memory(EditBuffer)
	require.NoError(t, err)
	require.Equal(t, byte(1), b[3*6+4], "polarity of tap 4")
}

func TestMemoriesThatCannotBe(t *testing.T) {
	good := fromHex(t, memory0)
	_, ok := openSoundOf(good)
	require.True(t, ok)
	for _, c := range []struct {
		name string
		at   int
		b    byte
	}{
		{"a time of 16384", 0, 0x40},
		{"a level of 1024", 2, 0x04},
		{"polarity 2", 4, 0x02},
		{"a zero byte that is not", 5, 0x01},
		{"feedback 1001", 24, 0x03}, // 03 3C = 828 still: see below
		{"a dry level of 2047", 26, 0x07},
		{"the last byte", 31, 0x01},
	} {
		m := fromHex(t, memory0)
		m[c.at] = c.b
		if c.at == 24 {
			m[25] = 0xE9 // 03 E9 = 1001
		}
		_, ok := openSoundOf(m)
		require.False(t, ok, c.name)
	}
}
