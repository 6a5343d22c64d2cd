package songfile

import (
	"errors"
	"math/big"
	"math/rand/v2"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"echowright/midi"
)

const ms = time.Millisecond

// sysEx is a System Exclusive message of n bytes.
func sysEx(n int) []byte {
	b := make([]byte, n)
	b[0], b[1], b[n-1] = 0xF0, 0x7D, 0xF7
	return b
}

func ticksOf(events []Event) []Tick {
	var all []Tick
	for _, e := range events {
		all = append(all, e.At)
	}
	return all
}

// At 500,000 µs a quarter and 500 ticks in it a tick lasts 1 ms. Bar 2 begins at
// tick 2000, 2 s in. A byte takes 320 µs (MIDI 1.0, page 1: 31.25 kbaud, 10 bits):
//
//	118 bytes          37.76 ms          begins 38 ticks before, 0.24 ms to spare
//	118 bytes, 4 ms    41.76 ms          42 ticks before
//	4 times 3 bytes     0.96 ms each     4 ticks before, each on a tick of its own:
//	                                     3.84 ms of wire, but the last has 0.04 ms to spare
//	with 2 ms each      2.96 ms each     12 ticks before
func TestCuesWorkedByHand(t *testing.T) {
	m := mapOf(t, 500, nil, nil)
	const nrpn = "B0 63 01 B0 62 08 B0 06 07 B0 26 68"
	for _, c := range []struct {
		name   string
		step   midi.Step
		wire   Micros
		device Micros
		ticks  []Tick
		spare  Micros
	}{
		{"a slot in System Exclusive", midi.Step{Send: sysEx(118)}, 37_760, 0, []Tick{1962}, 240},
		{"and 4 ms for the device", midi.Step{Send: sysEx(118), Gap: 4 * ms}, 37_760, 4000, []Tick{1958}, 240},
		{"a time-out is for whoever hears the answer", midi.Step{Send: sysEx(118), Gap: 4 * ms, Timeout: 400 * ms}, 37_760, 4000, []Tick{1958}, 240},
		{"an NRPN", midi.Step{Send: unhex(t, nrpn)}, 3840, 0, []Tick{1996, 1997, 1998, 1999}, 40},
		{"an NRPN of a device that wants a pause", midi.Step{Send: unhex(t, nrpn), Gap: 2 * ms}, 3840, 8000, []Tick{1988, 1991, 1994, 1997}, 40},
		{"a program change, and 30 ms until it sounds", midi.Step{Send: unhex(t, "C0 05"), Gap: 30 * ms}, 640, 30_000, []Tick{1969}, 360},
		{"a length that ends on the tick", midi.Step{Send: sysEx(25)}, 8000, 0, []Tick{1992}, 0},
		{"a gap that is no whole microsecond is rounded up", midi.Step{Send: sysEx(25), Gap: 1}, 8000, 1, []Tick{1991}, 999},
	} {
		c.step.What = c.name
		placed, err := m.Place(Cue{Ready: 2000, Steps: []midi.Step{c.step}})
		require.NoError(t, err, c.name)
		require.Equal(t, c.wire, placed[0].Wire, c.name)
		require.Equal(t, c.device, placed[0].Device, c.name)
		require.Equal(t, c.wire+c.device, placed[0].Total(), c.name)
		require.Equal(t, c.ticks, ticksOf(placed[0].Events), c.name)
		require.Equal(t, c.spare, placed[0].Spare, c.name)
		require.Equal(t, len(c.ticks), placed[0].Messages, c.name)
		require.Equal(t, len(c.step.Send), placed[0].Bytes, c.name)
	}
}

func TestCuesWriteTheStatusOut(t *testing.T) {
	m := mapOf(t, 500, nil, nil)
	placed, err := m.Place(Cue{2000, 0, []midi.Step{{What: "two controllers", Send: unhex(t, "B0 63 01 62 08")}}})
	require.NoError(t, err)
	require.Equal(t, []Event{at(1998, "B0 63 01"), at(1999, "B0 62 08")}, placed[0].Events)
	require.Equal(t, Micros(6*320), placed[0].Wire, "six bytes: a player may send another message in between")
}

// The tempo is halved at tick 1990 of the map above: from there on a tick lasts
// 2 ms, so that 37.76 ms before tick 2000 is 20 ms of slow ticks, and 17.76 ms,
// which is 18 ticks, before 1990.
func TestACueAcrossAChangeOfTempo(t *testing.T) {
	m := mapOf(t, 500, []TempoChange{{1990, 1_000_000}}, nil)
	placed, err := m.Place(Cue{2000, 0, []midi.Step{{What: "slot", Send: sysEx(118)}}})
	require.NoError(t, err)
	require.Equal(t, []Tick{1972}, ticksOf(placed[0].Events))
	require.Equal(t, Micros(240), placed[0].Spare)
}

// 37.76 ms each: the second is ready at 2000 and so begins at 1962; the first has
// to be out of its way then, 38 ticks earlier, although it would have time.
func TestCuesKeepOutOfEachOthersWay(t *testing.T) {
	m := mapOf(t, 500, nil, nil)
	step := func(what string) []midi.Step { return []midi.Step{{What: what, Send: sysEx(118)}} }
	placed, err := m.Place(Cue{2000, 0, step("later")}, Cue{1990, 0, step("earlier")})
	require.NoError(t, err)
	require.Equal(t, []Tick{1962}, ticksOf(placed[0].Events))
	require.Equal(t, []Tick{1924}, ticksOf(placed[1].Events))
	require.Equal(t, Micros(28_240), placed[1].Spare, "1990 − 1924 is 66 ms")

	placed, err = m.Place(Cue{2000, 0, step("first")}, Cue{2000, 0, nil}, Cue{2000, 0, step("second")})
	require.NoError(t, err)
	require.Equal(t, []Tick{1924}, ticksOf(placed[0].Events), "of two for one tick the first is sent first")
	require.Empty(t, placed[1].Events)
	require.Equal(t, []Tick{1962}, ticksOf(placed[2].Events))
}

// With 10 ms to spare 37.76 ms end at tick 1990, and begin 38 ticks before that.
func TestACueThatIsEarly(t *testing.T) {
	m := mapOf(t, 500, nil, nil)
	slot := []midi.Step{{What: "slot", Send: sysEx(118)}}
	placed, err := m.Place(Cue{2000, 10_000, slot})
	require.NoError(t, err)
	require.Equal(t, []Tick{1952}, ticksOf(placed[0].Events))
	require.Equal(t, Micros(10_240), placed[0].Spare)

	_, err = m.Place(Cue{40, 10_000, slot})
	var near *TooNearError
	require.ErrorAs(t, err, &near)
	require.Equal(t, Micros(7760), near.Missing, "47.76 ms in 40")
	_, err = m.Place(Cue{5, 10_000, slot})
	require.ErrorAs(t, err, &near)
	require.Equal(t, Micros(42_760), near.Missing, "47.76 ms in 5")
}

// 41.76 ms before tick 40, which is 40 ms in, is 1.76 ms before the beginning.
func TestACueThatIsTooNear(t *testing.T) {
	m := mapOf(t, 500, nil, nil)
	_, err := m.Place(Cue{40, 0, []midi.Step{{What: "slot", Send: sysEx(118), Gap: 4 * ms}}})
	var near *TooNearError
	require.ErrorAs(t, err, &near)
	require.Equal(t, Micros(1760), near.Missing)
	require.EqualError(t, err, "cue for bar 1, beat 1: it takes 41.76 ms, of which 1.76 ms would lie before the beginning: lead in with some bars before it")

	_, err = m.Place(Cue{42, 0, []midi.Step{{What: "slot", Send: sysEx(118), Gap: 4 * ms}}})
	require.NoError(t, err)
}

func TestCuesThatCannotBe(t *testing.T) {
	m := mapOf(t, 500, nil, nil)
	for _, c := range []struct {
		name string
		cue  Cue
		want string
	}{
		{"a tick before the song", Cue{Ready: -1}, "cue for tick -1: wanted 0 to 137438953472"},
		{"a tick behind all", Cue{Ready: MaxTick + 1}, "cue for tick 137438953473: wanted 0 to 137438953472"},
		{"one that is late", Cue{Ready: 2000, Early: -1}, "cue that is early by -1 µs: wanted 0 to 3600000000"},
		{"one that is days early", Cue{Ready: 2000, Early: 1 << 40}, "cue that is early by 1099511627776 µs: wanted 0 to 3600000000"},
		{"a silence of days", Cue{2000, 0, []midi.Step{{What: "x", Send: sysEx(3), Gap: 48 * time.Hour}}}, `step "x": a silence of 48h0m0s: wanted an hour at the most`},
		{"a step of nothing", Cue{2000, 0, []midi.Step{{What: "x"}}}, `step "x": it sends nothing`},
		{"half a message", Cue{2000, 0, []midi.Step{{What: "x", Send: unhex(t, "B0 63")}}}, "x: event at tick 1999: message B0 63: wanted 2 data bytes, got 1"},
		{"System Exclusive that is cut", Cue{2000, 0, []midi.Step{{What: "x", Send: unhex(t, "F0 7D")}}}, "x: MIDI message at tick 1999: System Exclusive without its F7 at the end"},
	} {
		_, err := m.Place(c.cue)
		require.EqualError(t, err, c.want, c.name)
	}
}

// timeOf is the time of a tick as a fraction of microseconds, added up change by
// change: another way to it than that of the map.
func timeOf(division int, tempi []TempoChange, t Tick) *big.Rat {
	sum, at, tempo := new(big.Rat), Tick(0), defaultTempo
	add := func(to Tick) {
		sum.Add(sum, big.NewRat(int64(to-at)*int64(tempo), int64(division)))
		at = to
	}
	for _, c := range tempi { // in the order of their ticks
		if c.At > t {
			break
		}
		add(c.At)
		tempo = c.Tempo
	}
	add(t)
	return sum
}

// Whatever the map and the messages: none begins before the one in front of it has
// passed and the device has had its silence, the last is done in time, and none is
// sent a tick earlier than it must be.
func TestNoCuesOverlap(t *testing.T) {
	r := rand.New(rand.NewPCG(3, 17))
	crowded := 0
	for range 300 {
		division := 1 + r.IntN(2000)
		tempi := someTempi(r, division)
		m := mapOf(t, division, tempi, nil)
		cues := make([]Cue, 1+r.IntN(5))
		for i := range cues {
			cues[i] = Cue{m.TickAt(Micros(2_000_000 + r.IntN(2_000_000))), Micros(r.IntN(3) * r.IntN(20_000)), someSteps(r)}
		}
		placed, err := m.Place(cues...)
		var near *TooNearError
		if errors.As(err, &near) {
			crowded++
			continue
		}
		require.NoError(t, err)
		requireApart(t, division, tempi, cues, placed)
	}
	require.Less(t, crowded, 100, "most of them have to be placed for the test to say something")
}

func someTempi(r *rand.Rand, division int) []TempoChange {
	var tempi []TempoChange
	at := Tick(0)
	for range 1 + r.IntN(20) {
		tempi = append(tempi, TempoChange{at, Tempo(60_000 + r.IntN(2_000_000))})
		at += Tick(1 + r.IntN(division))
	}
	return tempi
}

func someSteps(r *rand.Rand) []midi.Step {
	var steps []midi.Step
	for range 1 + r.IntN(5) {
		s := midi.Step{What: "some", Send: []byte{0xB0, 1, byte(r.IntN(128)), 2, 3}}
		if r.IntN(2) == 0 {
			s.Send = sysEx(3 + r.IntN(200))
		}
		s.Gap = time.Duration(r.IntN(50_000_000))
		steps = append(steps, s)
	}
	return steps
}

func requireApart(t *testing.T, division int, tempi []TempoChange, cues []Cue, placed []PlacedCue) {
	t.Helper()
	next := map[Tick]bool{} // where messages begin
	type sent struct {
		at    Tick
		takes *big.Rat
		until *big.Rat // when it has to have passed, but for the others
	}
	var all []sent
	for i, p := range placed {
		messages, err := cuedOf(cues[i].Steps)
		require.NoError(t, err)
		require.Len(t, p.Events, len(messages))
		for k, e := range p.Events {
			require.False(t, next[e.At], "two messages at tick %d", e.At)
			next[e.At] = true
			ready := timeOf(division, tempi, cues[i].Ready)
			all = append(all, sent{
				e.At, big.NewRat(int64(len(messages[k].bytes)*320)+int64(messages[k].silence), 1),
				ready.Sub(ready, big.NewRat(int64(cues[i].Early), 1)),
			})
		}
	}
	for _, s := range all {
		until := s.until
		for at := range next {
			if begins := timeOf(division, tempi, at); at > s.at && begins.Cmp(until) < 0 {
				until = begins
			}
		}
		end := new(big.Rat).Add(timeOf(division, tempi, s.at), s.takes)
		require.LessOrEqual(t, end.Cmp(until), 0, "the message at tick %d ends too late", s.at)
		later := new(big.Rat).Add(timeOf(division, tempi, s.at+1), s.takes)
		require.Positive(t, later.Cmp(until), "the message at tick %d could be sent a tick later", s.at)
	}
}
