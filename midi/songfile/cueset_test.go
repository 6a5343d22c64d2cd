package songfile

import (
	"math/big"
	"math/rand/v2"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"echowright/midi"
)

// The first song: 120 quarters a minute, two bars of 4/4; a tick is 520.8333 µs.
// Its 118 bytes take 37.76 ms, 72.5 ticks, so they begin 73 ticks before its bar and
// leave 73 · 520.8333 − 37,760 = 260 µs.
//
// The second: 240 a minute in 3/4, 1000 ticks of a 480th of a quarter, made up to one
// bar; a tick is 260.4167 µs, a bar 0.75 s. Two bytes and 2.9 s for the device are
// 2.90064 s: four bars lead in. 2.90064 s are 11,138.5 ticks, so it begins 11,139
// before its bar and leaves 141 µs.
func TestASetWorkedByHand(t *testing.T) {
	s, err := LayOut([]Song{
		{mapOf(t, 1, nil, nil), 8, []midi.Step{{What: "slot", Send: sysEx(118)}}, 0},
		{mapOf(t, 480, []TempoChange{{0, 250_000}}, []MeterChange{{0, Meter{3, 4}}}), 1000, []midi.Step{{What: "load", Send: unhex(t, "C0 05"), Gap: 2900 * ms}}, 0},
	})
	require.NoError(t, err)
	require.Equal(t, 960, s.Division)
	a, b := s.Songs[0], s.Songs[1]
	require.Equal(t, []Tick{0, 3840, 11520}, []Tick{a.LeadIn, a.Start, a.End})
	require.Equal(t, 1, a.Bars)
	require.Equal(t, []Tick{3840 - 73}, ticksOf(a.Events))
	require.Equal(t, Micros(260), a.Spare)

	require.Equal(t, []Tick{11520, 11520 + 4*2880, 11520 + 5*2880}, []Tick{b.LeadIn, b.Start, b.End})
	require.Equal(t, 4, b.Bars)
	require.Equal(t, []Tick{b.Start - 11139}, ticksOf(b.Events))
	require.Equal(t, Micros(141), b.Spare)

	require.Equal(t, Micros(2_000_000), s.Map.TimeAt(a.Start))
	require.Equal(t, Micros(6_000_000), s.Map.TimeAt(b.LeadIn))
	require.Equal(t, Micros(9_000_000), s.Map.TimeAt(b.Start))
	require.Equal(t, Position{2, 1, 0}, s.Map.PositionAt(a.Start))
	require.Equal(t, Position{8, 1, 0}, s.Map.PositionAt(b.Start))
}

func TestTheTicksOfASet(t *testing.T) {
	for _, c := range []struct {
		divisions []int
		want      int
	}{
		{[]int{1}, 960},
		{[]int{480, 960}, 960},
		{[]int{96, 120}, 960},
		{[]int{384, 1}, 1152},
		{[]int{384, 480}, 1920},
		{[]int{1001}, 1001},
		{[]int{32767}, 32767},
		{nil, 960},
	} {
		var songs []Song
		for _, d := range c.divisions {
			songs = append(songs, Song{Map: mapOf(t, d, nil, nil), Length: 1})
		}
		s, err := LayOut(songs)
		require.NoError(t, err)
		require.Equal(t, c.want, s.Division, "%v", c.divisions)
	}
	_, err := LayOut([]Song{{Map: mapOf(t, 960, nil, nil)}, {Map: mapOf(t, 1001, nil, nil)}})
	require.EqualError(t, err, "song 2: its 1001 ticks per quarter note have no common measure with those of the songs before it below 32767: make a file for each song")
}

func TestASongOfNothingHasABar(t *testing.T) {
	s, err := LayOut([]Song{{Map: mapOf(t, 96, nil, nil)}})
	require.NoError(t, err)
	require.Equal(t, []Tick{0, 3840, 7680}, []Tick{s.Songs[0].LeadIn, s.Songs[0].Start, s.Songs[0].End})
	require.Empty(t, s.Songs[0].Events)
}

// A change of tempo behind the length that was given belongs to the song as well.
func TestASongIsAsLongAsItsMap(t *testing.T) {
	s, err := LayOut([]Song{{mapOf(t, 960, []TempoChange{{3841, 400_000}}, nil), 10, nil, 0}})
	require.NoError(t, err)
	require.Equal(t, Tick(3840+7680), s.Songs[0].End)
	require.Equal(t, Tempo(400_000), s.Map.TempoAt(3840+3841))
	require.Equal(t, Tempo(500_000), s.Map.TempoAt(3840+3840))
}

func TestSetsThatCannotBe(t *testing.T) {
	long := Song{Map: mapOf(t, 960, nil, nil), Length: MaxTick - 10_000}
	_, err := LayOut([]Song{long, long})
	require.ErrorContains(t, err, "song 2: ends at tick")
	require.ErrorContains(t, err, "make a file for each song")
	_, err = LayOut([]Song{{Map: mapOf(t, 1, nil, nil), Length: MaxTick}})
	require.ErrorContains(t, err, "song 1: 131941395333120 ticks long: wanted 137438953472 at the most")
	_, err = LayOut([]Song{{Map: mapOf(t, 1, nil, nil), Steps: []midi.Step{{What: "x"}}}})
	require.EqualError(t, err, `song 1: step "x": it sends nothing`)
	// A quarter of 1 µs in 960 ticks: an hour has 3.456·10¹² of them, more than there are.
	_, err = LayOut([]Song{{mapOf(t, 1, []TempoChange{{0, 1}}, nil), 1, []midi.Step{{What: "x", Send: unhex(t, "C0 05"), Gap: time.Hour}}, 0}})
	var near *TooNearError
	require.ErrorAs(t, err, &near)
}

// A song sounds in a set as it does by itself: from its start on every tick comes at
// the same time, to the fraction of a microsecond. Nothing is sent while another
// song is played.
func TestSongsKeepTheirTimesInASet(t *testing.T) {
	r := rand.New(rand.NewPCG(8, 34))
	for range 50 {
		var songs []Song
		var tempi [][]TempoChange
		for range 1 + r.IntN(6) {
			division := []int{24, 96, 192, 384, 480}[r.IntN(5)]
			changes := someTempi(r, division)
			tempi = append(tempi, changes)
			songs = append(songs, Song{mapOf(t, division, changes, []MeterChange{{0, Meter{1 + r.IntN(9), 1 << r.IntN(5)}}}), Tick(r.IntN(100 * division)), someSteps(r), Micros(r.IntN(2) * 10_000)})
		}
		s, err := LayOut(songs)
		require.NoError(t, err)
		end := Tick(0)
		for i, song := range songs {
			placed := s.Songs[i]
			require.Equal(t, end, placed.LeadIn)
			require.GreaterOrEqual(t, placed.Events[0].At, placed.LeadIn)
			require.Less(t, placed.Events[len(placed.Events)-1].At, placed.Start)
			division := int(song.Map.division)
			for range 20 {
				tick := Tick(r.Int64N(int64(song.Length) + 1))
				there := placed.Start + tick*Tick(s.Division/division)
				since := big.NewRat(s.Map.exact(there)-s.Map.exact(placed.Start), int64(s.Division))
				require.Zero(t, timeOf(division, tempi[i], tick).Cmp(since), "tick %d of song %d", tick, i+1)
				require.LessOrEqual(t, there, placed.End)
			}
			p := s.Map.PositionAt(placed.End)
			require.Equal(t, Position{p.Bar, 1, 0}, p, "a song ends at a bar line")
			end = placed.End
		}
	}
}

// Whatever map a file holds, a set of it is laid out or refused, and what is laid out
// can be written and read again.
func FuzzLayOut(f *testing.F) {
	for _, seed := range []File{
		{0, 96, []Track{{Events: []Event{at(0, "FF 51 07 A1 20"), at(3, "FF 58 03 02 18 08")}, End: 500}}},
		{0, 1, []Track{{Events: []Event{at(0, "FF 51 00 00 01"), at(0, "FF 58 01 07 01 08")}, End: 1}}},
		{0, MaxDivision, []Track{{Events: []Event{at(7, "FF 51 FF FF FF")}, End: 1 << 27}}},
	} {
		b, err := Format(seed)
		require.NoError(f, err)
		f.Add(b, uint32(4000))
	}
	f.Fuzz(func(t *testing.T, b []byte, silence uint32) {
		file, err := Parse("fuzz.mid", b)
		if err != nil {
			return
		}
		m, err := file.TempoMap()
		require.NoError(t, err)
		steps := []midi.Step{{What: "load", Send: []byte{0xC0, 5}, Gap: time.Duration(silence) * time.Microsecond}}
		song := Song{m, file.Tracks[0].End, steps, 10_000}
		s, err := LayOut([]Song{song, song})
		if err != nil {
			return
		}
		var events []Event
		for _, placed := range s.Songs {
			require.GreaterOrEqual(t, placed.Events[0].At, placed.LeadIn)
			require.GreaterOrEqual(t, placed.Spare, Micros(10_000))
			events = append(events, placed.Events...)
		}
		text, err := Format(File{1, s.Division, []Track{{Events: s.Map.Events()}, {Events: events}}})
		if err != nil {
			require.ErrorContains(t, err, "ticks without an event")
			return
		}
		again, err := Parse("again.mid", text)
		require.NoError(t, err)
		require.Equal(t, events, again.Tracks[1].Events)
	})
}
