package emulator

import (
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"
)

// ofTwin is a twin that asks for no silence between messages, so that a table
// can hand them over in a row.
var ofTwin = Options{RealTime: true}

func TestWhatTwinObeys(t *testing.T) {
	// Controllers 12, 13 with 44, 45 (0Ch, 0Dh, 2Ch, 2Dh) are pairs of 14 bits: a high
	// byte sets the low one to zero (MIDI 1.0 Detailed Specification 4.2.1, table II,
	// note 4).
	requireChanges(t, "twin", ofTwin, []change{
		// 1000 = 7·128 + 104 = 07 68, 8192 = 40 00, 16383 = 7F 7F.
		{"time of line 1", "B0 0C 07 B0 2C 68", "line 1 time", 1000},
		{"the same with running status", "B0 0C 07 2C 68", "line 1 time", 1000},
		{"time of line 2", "B0 0D 7F 2D 7F", "line 2 time", 16383},
		{"a high byte alone", "B0 0C 40", "line 1 time", 8192},
		// Factory: 1500 = 11·128 + 92.
		{"a low byte alone is a fine change", "B0 2C 10", "line 1 time", 11*128 + 16},
		{"a low byte, then a high one", "B0 2C 10 0C 07", "line 1 time", 7 * 128},
		{"no time", "B0 0C 00", "line 1 time", 0},
		{"level of line 1: controller 80", "B0 50 7F", "line 1 level", 127},
		{"level of line 2: controller 81", "B0 51 00", "line 2 level", 0},
		{"feedback of line 1: controller 82", "B0 52 7F", "line 1 feedback", 127},
		{"feedback of line 2: controller 83", "B0 53 01", "line 2 feedback", 1},
		{"clocked time of line 1: controller 14", "B0 0E 0B", "line 1 clocked time", 11},
		{"clocked time of line 2: controller 15", "B0 0F 01", "line 2 clocked time", 1},
		{"a note value beyond the last", "B0 0E 0C", "", nothing},
		{"mix: controller 84", "B0 54 40", "mix", 64},
		{"controllers between", "B0 0B 05 10 05 2B 05 2E 05 4F 05 55 05", "", nothing},
		{"a bank alone", "B0 00 00 20 01", "", nothing},
		{"another channel", "B3 54 40", "", nothing},
		{"clock inside", "B0 F8 54 F8 40", "mix", 64},
		{"a note", "90 54 40", "", nothing},
	})
	requireChanges(t, "twin", Options{RealTime: true, Channel: 4}, []change{{"channel 4", "B3 54 40", "mix", 64}})
}

func TestTwinPresets(t *testing.T) {
	s := standing(t, "twin", ofTwin)
	require.Equal(t, 200, s.Slots())
	require.Equal(t, s.codes(0), s.codes(EditBuffer), "at power-up it plays program 0 of bank 0")
	for _, c := range []struct {
		name, send string
		sounds     int // bank · 100 + program
	}{
		{"bank 0, program 99", "B0 00 00 20 00 C0 63", 99},
		{"program 100: there is none", "C0 64", 99},
		{"bank 1, program 5", "B0 00 00 20 01 C0 05", 105},
		{"a further program stays in the bank", "C0 07", 107},
		{"a bank alone changes nothing", "B0 00 00", 107},
		{"its high byte set the low one to zero", "C0 08", 8},
		{"bank 2: there is none", "B0 20 02 C0 09", 8},
		{"bank 128: nor that", "B0 00 01 C0 09", 8},
		{"bank 1 by its low byte", "B0 00 00 20 01 C0 63", 199},
	} {
		require.Empty(t, s.ask(c.send))
		require.Equal(t, s.codes(c.sounds), s.codes(EditBuffer), c.name)
	}
}

func TestTwinStoresInThePresetSelectedLast(t *testing.T) {
	s := standing(t, "twin", ofTwin)
	s.ask("B0 54 11 76 7F") // 76h is controller 118
	require.Equal(t, 0x11, s.codes(0)["mix"], "none selected since power-up: program 0 of bank 0")
	s.ask("B0 00 00 20 01 C0 05 B0 54 12")
	for _, value := range []string{"00", "7E"} {
		s.ask("B0 76 " + value)
		require.NotEqual(t, 0x12, s.codes(105)["mix"], "the value is 127, not %s", value)
	}
	s.ask("B0 20 00")
	require.Empty(t, s.ask("B0 76 7F"))
	require.Equal(t, s.codes(EditBuffer), s.codes(105), "the bank has changed, but no preset was selected in it")
	require.Equal(t, 0x12, s.codes(105)["mix"])
}

func TestTwinIgnoresWhatComesWhileItStores(t *testing.T) {
	for _, c := range []struct {
		name  string
		write time.Duration
		after time.Duration
		want  int
	}{
		{"just too early", 0, 180*time.Millisecond - 1, 90},
		{"just in time", 0, 180 * time.Millisecond, 64},
		{"as long as the manual allows, too early", 200 * time.Millisecond, 200*time.Millisecond - 1, 90},
		{"as long as the manual allows", 200 * time.Millisecond, 200 * time.Millisecond, 64},
	} {
		s := standing(t, "twin", Options{FlashWrite: c.write})
		s.arrive("B0 76 7F")
		s.pass(2*byteTime + c.after)
		s.arrive("B0 54 40")
		s.pass(time.Second)
		require.Equal(t, c.want, s.code("mix"), c.name)
	}
}

func TestTwinNeedsTwoMillisecondsBetweenMessages(t *testing.T) {
	for _, c := range []struct {
		name    string
		options Options
		between time.Duration
		want    int
	}{
		{"too early", Options{}, 2*time.Millisecond - 1, 7 * 128},
		{"just in time", Options{}, 2 * time.Millisecond, 1000},
		{"over USB", Options{USB: true}, 2*time.Millisecond - 1, 7 * 128},
		{"served in real time", Options{RealTime: true}, byteTime, 1000},
	} {
		s := standing(t, "twin", c.options)
		s.arrive("B0 0C 07")
		s.pass(2*byteTime + c.between)
		s.arrive("2C 68")
		s.pass(time.Second)
		require.Equal(t, c.want, s.code("line 1 time"), c.name)
	}
}

// beat sends clocks so far apart.
func (s *stand) beat(clocks int, apart time.Duration) {
	for range clocks {
		s.arrive("F8")
		s.pass(apart)
	}
}

func TestTwinFollowsTheClock(t *testing.T) {
	// 24 clocks a quarter note (MIDI 1.0 Detailed Specification 4.2.1, System Real
	// Time): at 120 beats a minute, 500 ms, they come each 20.8333 ms; here 20.8 ms,
	// a quarter of 499.2 ms.
	const apart = 20800 * time.Microsecond
	for code, want := range []float64{
		109.869987, // off: its own time, 1200 · 1500/16383
		499.2, 748.8, 332.8,
		249.6, 374.4, 166.4,
		124.8, 187.2, 83.2,
		62.4,
		998.4,
	} {
		s := standing(t, "twin", ofTwin)
		s.ask("B0 51 00 0E " + toHex([]byte{byte(code)}))
		s.beat(30, apart)
		echoes, err := s.Echoes(-60, 1200)
		require.NoError(t, err)
		require.InDelta(t, want, float64(echoes[0].At), 1e-6, "note value %d", code)
		require.Equal(t, 1500, s.code("line 1 time"), "it keeps its own time")
	}
}

// clockedTo is when the first echo of line 1 comes.
func (s *stand) clockedTo() float64 {
	echoes, err := s.Echoes(-60, 1200)
	require.NoError(s.t, err)
	require.NotEmpty(s.t, echoes)
	return float64(echoes[0].At)
}

func TestTwinFollowsTheClockAsItChanges(t *testing.T) {
	s := standing(t, "twin", ofTwin)
	s.ask("B0 51 00 0E 01") // line 1 at 1/4
	s.beat(1, 10*time.Millisecond)
	require.InDelta(t, 109.869987, s.clockedTo(), 1e-6, "one clock tells nothing: its own time")
	s.beat(1, 10*time.Millisecond)
	require.InDelta(t, 240, s.clockedTo(), 1e-6, "two are enough")
	s.beat(24, 20*time.Millisecond)
	require.InDelta(t, 480-10, s.clockedTo(), 1e-6, "the last 24, of which the first still took 10 ms")
	s.beat(1, 20*time.Millisecond)
	require.InDelta(t, 480, s.clockedTo(), 1e-6)
	s.pass(time.Minute)
	require.InDelta(t, 480, s.clockedTo(), 1e-6, "it stays when the clock stops")
	s.beat(3, 30*time.Millisecond)
	require.InDelta(t, 720, s.clockedTo(), 1e-6, "a clock after a pause is a new one")
	s.beat(60, 60*time.Millisecond)
	require.InDelta(t, 720, s.clockedTo(), 1e-6, "1440 ms do not fit into 1200: half of it")
	s.ask("C0 05 B0 51 00 0E 02")
	require.InDelta(t, 1080, s.clockedTo(), 1e-6, "a sound that is recalled follows it at once: half of 2160 ms")
}

func TestClocksNeedNoSilence(t *testing.T) {
	s := standing(t, "twin", Options{})
	s.arrive("B0 0C 07" + strings.Repeat(" F8", 7)) // 7 · 0.32 = 2.24 ms
	s.arrive("2C 68")
	s.pass(time.Second)
	require.Equal(t, 1000, s.code("line 1 time"))
	s.ask("B0 51 00 0E 01")
	require.Greater(t, s.clockedTo(), 0.0)
}
