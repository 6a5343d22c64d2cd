package emulator

import (
	"testing"
	"time"

	"github.com/stretchr/testify/require"
)

func TestARestartForgetsWhatSounds(t *testing.T) {
	b := onBench(t, Options{Faults: Faults{Reboot: 2}})
	require.Equal(t, loaded, b.ask(load), "only after the second message")
	require.Equal(t, b.slots[1], b.edit)
	require.Empty(t, b.ask(setTime), "the answer does not get out any more")
	require.Equal(t, b.slots[0], b.edit, "the first memory sounds, as at power-up")
}

func TestARestartLosesAWriteUnderWay(t *testing.T) {
	b := onBench(t, Options{Faults: Faults{Reboot: 1}})
	before := b.slots
	require.Empty(t, b.ask(overwrite(5, b.slots[9])))
	require.Equal(t, before, b.slots)
	require.Empty(t, b.ask(load), "1 s later it does not hear yet")
	require.Equal(t, loaded, b.ask(load), "after 2 s it does")
	require.Equal(t, framed(0x7F, 0x22), b.ask(overwrite(5, b.slots[9])), "and writes")
	require.Equal(t, b.slots[9], b.slots[5])
}

func TestARestartLosesWhatWaits(t *testing.T) {
	b := onBench(t, Options{Silence: 1, Faults: Faults{Reboot: 2, RebootFor: 10 * time.Millisecond}})
	b.arrive(load)
	b.pass(7 * byteTime)  // read, and to be answered; 7·0.32 ms more for the next two
	b.arrive(load + load) // the second one waits while the first is read
	require.Empty(t, b.pass(time.Second), "neither an answer that was on its way nor one to what waited")
	require.Equal(t, 2, b.taken)
	require.Equal(t, loaded, b.ask(load))
}

func TestRestartsOfTheOthers(t *testing.T) {
	for _, c := range []struct {
		unit         string
		change, hear string // two messages; the unit restarts after the second
		parameter    string
		after        string // the same change, done once more
		code         int
	}{
		{"tap-loop", "B0 10 05", "B0 11 05", "tap 0 level", "B0 10 05", 5},
		{"twin", "B0 54 05", "B0 50 05", "mix", "B0 54 05", 5},
		{
			"open-parameter", "F0 7F 00 04 05 01 01 02 02 00 00 05 00 F7", "F0 7F 00 04 05 01 01 02 02 00 01 05 00 F7", "feedback",
			"F0 7F 00 04 05 01 01 02 02 00 00 05 00 F7", 5,
		},
	} {
		s := standing(t, c.unit, Options{Faults: Faults{Reboot: 2}})
		factory, err := s.Code(c.parameter)
		require.NoError(t, err)
		require.NotEqual(t, c.code, factory)
		s.ask(c.change)
		require.Equal(t, c.code, s.code(c.parameter), c.unit)
		s.ask(c.hear)
		require.Equal(t, factory, s.code(c.parameter), c.unit)
		s.ask(c.after)
		require.Equal(t, factory, s.code(c.parameter), "%s: it hears nothing yet", c.unit)
		s.ask(c.after)
		require.Equal(t, c.code, s.code(c.parameter), c.unit)
	}
}

// A store that is under way when the power goes is not made: the tap-loop unit
// stores its sound in memory 5, and restarts at once.
func TestARestartLosesAStore(t *testing.T) {
	s := standing(t, "tap-loop", Options{Faults: Faults{Reboot: 2}})
	before := s.Image()
	s.ask("B0 10 05")
	s.ask("B0 77 05")
	s.pass(time.Minute)
	require.Equal(t, string(before), string(s.Image()))
}

func TestARestartEndsADump(t *testing.T) {
	s := standing(t, "open-parameter", Options{Faults: Faults{Reboot: 1, RebootFor: time.Second}})
	s.talk("out", [2]string{askMemory0, ""})
	require.Empty(t, s.pass(time.Minute), "nothing of it is said later")
	before := s.Image()
	s = standing(t, "open-parameter", Options{Faults: Faults{Reboot: 2, RebootFor: time.Millisecond}})
	s.talk("in", [2]string{toMemory3, unitACK}, [2]string{packetIn, ""}, [2]string{hostEOF, ""})
	require.Equal(t, string(before), string(s.Image()), "it has forgotten what had come")
}
