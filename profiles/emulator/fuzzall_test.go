package emulator

import (
	"slices"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"echowright/preset"
)

// illnesses that a fuzz target chooses from; the first is none.
var illnesses = []Faults{
	{}, {LoseByte: 3}, {LoseByte: Every}, {IgnoreMessage: 2}, {SlowReading: time.Nanosecond}, {SlowReading: 20 * time.Millisecond},
	{FalseStore: Every}, {LongWrite: 5 * time.Second}, {DieAfter: 2}, {RefuseValues: 1}, {SingleBytes: true}, {Rubbish: 1},
	{LoseAnswer: 2}, {CorruptAnswer: Every}, {DoubleAnswer: Every}, {LateAnswer: 1, LateBy: time.Second}, {Mute: true},
}

// thrash throws bytes at a unit, in lumps with pauses that the bytes themselves
// choose, then gives it time to come to rest. It keeps within its memory.
func (s *stand) thrash(bytes []byte, lump byte) (said []byte) {
	for chunk := range slices.Chunk(bytes, 1+int(lump)) {
		s.Arrive(s.now, chunk)
		require.LessOrEqual(s.t, len(s.in.waiting), inputBuffer)
		s.now = s.now.Add(time.Duration(chunk[0]) * time.Millisecond)
		said = append(said, slices.Concat(s.Run(s.now)...)...)
		require.LessOrEqual(s.t, len(s.out.waiting), maxAnswers)
	}
	said = append(said, fromHex(s.t, s.pass(5*time.Minute))...)
	_, more := s.Next()
	require.False(s.t, more, "it comes to rest")
	return said
}

// requireWithin: codes lie from 0 to their highest, and their echoes can be told.
func (s *stand) requireWithin(highest func(parameter string) int) {
	for _, slot := range []int{EditBuffer, 0, 5, s.Slots() - 1} {
		for name, code := range s.codes(slot) {
			require.True(s.t, code >= 0 && code <= highest(name), "slot %d, %s: %d", slot, name, code)
		}
		sound, err := s.Sound(slot)
		require.NoError(s.t, err)
		echoes, err := sound.Echoes(-60, 1000)
		if err != nil {
			require.ErrorIs(s.t, err, ErrHowls)
		}
		require.True(s.t, slices.IsSortedFunc(echoes, func(a, b preset.Echo) int { return int(a.At*1e4 - b.At*1e4) }))
	}
}

func fuzzUnit(f *testing.F, unit string, seeds []string, judge func(s *stand, said []byte, healthy bool)) {
	for i, seed := range seeds {
		f.Add(fromHex(f, seed), byte(40*i), byte(0))
		f.Add(fromHex(f, seed), byte(9), byte(i))
	}
	f.Fuzz(func(t *testing.T, bytes []byte, lump, ill byte) {
		which := int(ill) % len(illnesses)
		s := standing(t, unit, Options{Faults: illnesses[which]})
		judge(s, s.thrash(bytes, lump), which == 0)
	})
}

func FuzzTapLoop(f *testing.F) {
	seeds := []string{
		"B0 63 01 62 02 06 0F 26 50", "B0 55 7F 56 02 57 00", "B0 77 05 10 40 C0 05", "B0 10", "C0 05 06 07 F8 08",
		"F0 7D B0 10 40 F7 10 05", "B0 65 00 64 00 06 01 26 01 62 03 63 01 26 11",
	}
	fuzzUnit(f, "tap-loop", seeds, func(s *stand, said []byte, healthy bool) {
		require.Empty(s.t, said, "it sends nothing")
		s.requireWithin(func(name string) int {
			switch {
			case name == "feedback tap":
				return 7
			case name[len(name)-4:] == "time":
				return 16383
			}
			return 127
		})
		if healthy {
			s.ask("B0 58 2A")
			require.Equal(s.t, 42, s.code("dry level"), "it listens")
		}
	})
}

func FuzzTwin(f *testing.F) {
	seeds := []string{
		"B0 0C 07 2C 68 0D 01", "B0 00 00 20 01 C0 05 76", "B0 0E 0B F8 F8 F8 F8 0F 09 F8", "B0 76 7F 76 7F C0 05", "B0 54 40 52 7F 50 7F",
	}
	fuzzUnit(f, "twin", seeds, func(s *stand, said []byte, healthy bool) {
		require.Empty(s.t, said, "it sends nothing")
		s.requireWithin(func(name string) int {
			switch name[max(0, len(name)-12):] {
			case "clocked time":
				return 11
			case "line 1 time", "line 2 time":
				return 16383
			}
			return 127
		})
		if healthy {
			s.ask("B0 54 2A")
			require.Equal(s.t, 42, s.code("mix"), "it listens")
		}
	})
}

func FuzzOpenParameter(f *testing.F) {
	seeds := []string{
		"F0 7F 00 04 05 01 01 02 02 02 00 3A 09 01 7F 07 02 01 00 F7", askMemory0, askMemory0 + hostACK + hostNAK + hostACK,
		askMemory3 + hostWAIT, toMemory3 + packetIn + hostEOF, toMemory3 + packetIn + packetIn, "C0 05 F0 7E 7F 06 01 F7", "F0 F0 F7 F7 90 33 FF",
	}
	fuzzUnit(f, "open-parameter", seeds, func(s *stand, said []byte, healthy bool) {
		if s.out.faults.Rubbish == 0 {
			requireFramed(s.t, said)
		}
		s.requireWithin(func(string) int { return 16383 })
		for slot := EditBuffer; slot < s.Slots(); slot++ {
			b, err := s.Memory(slot)
			require.NoError(s.t, err)
			_, ok := openSoundOf(b)
			require.True(s.t, ok, "slot %d: % X", slot, b)
		}
		if healthy {
			require.Equal(s.t, "F0 7E 00 06 02 7D 06 00 01 00 01 00 00 00 F7", s.ask("F0 7E 7F 06 01 F7"), "it answers")
		}
	})
}
