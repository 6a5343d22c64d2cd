package emulator

import (
	"testing"
	"time"

	"github.com/stretchr/testify/require"
)

// code is what sounds now, by the manual's name.
func (s *stand) code(name string) int {
	s.t.Helper()
	code, err := s.Code(name)
	require.NoError(s.t, err)
	return code
}

// codes are all that a slot holds.
func (s *stand) codes(slot int) map[string]int {
	s.t.Helper()
	sound, err := s.Sound(slot)
	require.NoError(s.t, err)
	codes := map[string]int{}
	for _, name := range sound.Parameters() {
		codes[name], err = sound.Code(name)
		require.NoError(s.t, err)
	}
	return codes
}

// A change is what a message does to one parameter of a fresh unit, and to no
// other; want −1: to none.
type change struct {
	name, send, parameter string
	want                  int
}

const nothing = -1

func requireChanges(t *testing.T, unit string, o Options, changes []change) {
	t.Helper()
	for _, c := range changes {
		s := standing(t, unit, o)
		want := s.codes(EditBuffer)
		if c.want != nothing {
			require.NotEqual(t, want[c.parameter], c.want, "%s: it changes something", c.name)
			want[c.parameter] = c.want
		}
		require.Empty(t, s.ask(c.send), "%s: it sends nothing", c.name)
		require.Equal(t, want, s.codes(EditBuffer), c.name)
	}
}

func TestWhatTapLoopObeys(t *testing.T) {
	// Controllers are Bn cc vv, the channel in n, 0 for channel 1; parameter numbers
	// and data entry are controllers 99, 98, 6, 38 = 63h, 62h, 06h, 26h (MIDI 1.0
	// Detailed Specification 4.2.1, tables II and III).
	requireChanges(t, "tap-loop", Options{}, []change{
		// 250 ms = 2000 steps = 15·128 + 80 = 0F 50.
		{"time of tap 2", "B0 63 01 B0 62 02 B0 06 0F B0 26 50", "tap 2 time", 2000},
		{"the same with running status", "B0 63 01 62 02 06 0F 26 50", "tap 2 time", 2000},
		{"low half of the number first", "B0 62 02 63 01 06 0F 26 50", "tap 2 time", 2000},
		{"then the null parameter", "B0 63 01 62 02 06 0F 26 50 63 7F 62 7F 06 01 26 01", "tap 2 time", 2000},
		{"longest time, last tap", "B0 63 01 62 07 06 7F 26 7F", "tap 7 time", 16383},
		{"no time", "B0 63 01 62 00 06 00 26 00", "tap 0 time", 0},
		{"the high byte alone waits", "B0 63 01 62 02 06 0F", "", nothing},
		// Factory: tap 2 at 3·480 = 1440 = 11·128 + 32.
		{"the low byte alone is a fine change", "B0 63 01 62 02 26 50", "tap 2 time", 11*128 + 80},
		{"a new number forgets the high byte", "B0 63 01 62 00 06 0F 62 02 26 50", "tap 2 time", 11*128 + 80},
		{"half a number is none", "B0 62 02 06 0F 26 50", "", nothing},
		{"the other half alone", "B0 63 01 06 0F 26 50", "", nothing},
		{"parameter 00h:2", "B0 63 00 62 02 06 0F 26 50", "", nothing},
		{"parameter 01h:8", "B0 63 01 62 08 06 0F 26 50", "", nothing},
		{"parameter 02h:0", "B0 63 02 62 00 06 0F 26 50", "", nothing},
		{"no parameter yet", "B0 06 0F 26 50", "", nothing},
		// Registered numbers are controllers 101, 100 = 65h, 64h.
		{"a registered number", "B0 65 01 64 02 06 0F 26 50", "", nothing},
		{"a registered number after ours", "B0 63 01 62 02 65 00 64 00 06 0F 26 50", "", nothing},
		{"increment", "B0 63 01 62 02 60 7F", "", nothing},

		{"level of tap 0: controller 16", "B0 10 40", "tap 0 level", 64},
		{"level of tap 7: controller 23", "B0 17 7F", "tap 7 level", 127},
		{"silence", "B0 10 00", "tap 0 level", 0},
		{"polarity of tap 0: controller 102", "B0 66 40", "tap 0 polarity", 64},
		{"polarity of tap 7: controller 109", "B0 6D 3F", "tap 7 polarity", 63},
		{"feedback amount: controller 85", "B0 55 7F", "feedback amount", 127},
		{"feedback tap: controller 86", "B0 56 07", "feedback tap", 7},
		{"a ninth tap", "B0 56 08", "", nothing},
		{"high cut: controller 87", "B0 57 01", "high cut", 1},
		{"dry level: controller 88", "B0 58 00", "dry level", 0},
		{"controllers between", "B0 0F 05 18 05 54 05 59 05 65 05 6E 05 30 05", "", nothing},

		{"another channel", "B1 10 40", "", nothing},
		{"our channel after another", "B1 10 40 B0 10 41", "tap 0 level", 65},
		{"clock inside", "B0 F8 10 FE 40", "tap 0 level", 64},
		{"a system message ends the running status", "B0 10 40 F3 01 11 05", "tap 0 level", 64},
		{"so does a SysEx message", "B0 10 40 F0 7D F7 11 05", "tap 0 level", 64},
		{"broken off by another", "B0 10 B0 11 05", "tap 1 level", 5},
		{"a note", "90 10 40", "", nothing},
		{"pressure, with one data byte", "D0 10 10 B0 11 05", "tap 1 level", 5},
		{"stray bytes", "10 40 11 05", "", nothing},
	})
}

func TestTapLoopOnAnotherChannel(t *testing.T) {
	requireChanges(t, "tap-loop", Options{Channel: 16}, []change{
		{"channel 16", "BF 10 40", "tap 0 level", 64},
		{"channel 1", "B0 10 40", "", nothing},
	})
}

func TestTapLoopRemembersSounds(t *testing.T) {
	s := standing(t, "tap-loop", Options{})
	require.Equal(t, 128, s.Slots())
	require.Equal(t, s.codes(0), s.codes(EditBuffer), "at power-up it plays memory 0")
	require.Empty(t, s.ask("C0 7F"))
	require.Equal(t, s.codes(127), s.codes(EditBuffer), "recall memory 127")
	require.NotEqual(t, s.codes(127), s.codes(5))

	s.ask("B0 58 21")
	require.NotEqual(t, s.codes(127), s.codes(EditBuffer), "what sounds is not yet stored")
	require.Empty(t, s.ask("B0 77 05"), "controller 119: store in memory 5")
	require.Equal(t, s.codes(EditBuffer), s.codes(5))
	s.ask("C0 00")
	require.Equal(t, 127, s.code("dry level"))
	s.ask("05") // running status
	require.Equal(t, 0x21, s.code("dry level"))
	require.Nil(t, func() []byte { b, err := s.Memory(5); require.NoError(t, err); return b }(), "the manual does not tell how it is stored")
}

func TestTapLoopIgnoresWhatComesWhileItStores(t *testing.T) {
	for _, c := range []struct {
		name  string
		write time.Duration
		after time.Duration // from the store's last byte to the next message's first
		want  int
	}{
		{"just too early", 0, 450*time.Millisecond - 1, 127},
		{"just in time", 0, 450 * time.Millisecond, 64},
		{"as long as the manual allows, too early", 500 * time.Millisecond, 500*time.Millisecond - 1, 127},
		{"as long as the manual allows", 500 * time.Millisecond, 500 * time.Millisecond, 64},
	} {
		s := standing(t, "tap-loop", Options{FlashWrite: c.write})
		s.arrive("B0 77 05")
		s.pass(2*byteTime + c.after)
		s.arrive("B0 58 40")
		s.pass(time.Second)
		require.Equal(t, c.want, s.code("dry level"), c.name)
	}
}

func TestAfterAStoreItWaitsForAStatus(t *testing.T) {
	s := standing(t, "tap-loop", Options{})
	s.arrive("B0 77 05")
	s.pass(300 * time.Millisecond)
	s.arrive("B0 10") // lost
	s.pass(time.Second)
	require.Equal(t, s.codes(0), s.codes(5))
	s.ask("58 40")
	require.Equal(t, 127, s.code("dry level"), "no running status")
	s.ask("B0 58 40")
	require.Equal(t, 64, s.code("dry level"))
}

func TestAMemoryIsWrittenWhenTheStoreIsDone(t *testing.T) {
	s := standing(t, "tap-loop", Options{})
	old := s.codes(127)
	s.arrive("B0 77 7F")
	s.pass(2*byteTime + 450*time.Millisecond - 1)
	require.Equal(t, old, s.codes(127))
	s.pass(1)
	require.Equal(t, s.codes(0), s.codes(127))
}

func TestTapLoopReadsAtWireSpeedAndNeedsAMillisecondOverUSB(t *testing.T) {
	for _, c := range []struct {
		name    string
		options Options
		between time.Duration // from the last byte of a message to the first of the next
		want    int
	}{
		{"on a MIDI cable", Options{}, byteTime, 5},
		{"over USB, too early", Options{USB: true}, time.Millisecond - 1, 64},
		{"over USB", Options{USB: true}, time.Millisecond, 5},
		{"served in real time", Options{RealTime: true}, byteTime, 5},
		{"served in real time over USB, too early", Options{USB: true, RealTime: true}, time.Millisecond - 1, 64},
		{"served in real time over USB", Options{USB: true, RealTime: true}, time.Millisecond, 5},
		{"a silence was asked for", Options{Silence: 3 * time.Millisecond}, 2 * time.Millisecond, 64},
	} {
		s := standing(t, "tap-loop", c.options)
		s.arrive("B0 10 40")
		s.pass(2*byteTime + c.between)
		s.arrive("10 05") // running status: it begins with its first data byte
		s.pass(time.Second)
		require.Equal(t, c.want, s.code("tap 0 level"), c.name)
	}
}

func TestAMessageForAnotherChannelNeedsNoSilence(t *testing.T) {
	s := standing(t, "tap-loop", Options{USB: true})
	s.ask("B5 10 40 B0 10 05")
	require.Equal(t, 5, s.code("tap 0 level"))
	s.ask("B0 10 06 B5 10 40 B0 10 07")
	require.Equal(t, 7, s.code("tap 0 level"), "nor does it hold up the next: that begins after 4 · 0.32 ms")
}
