package cli

import (
	"testing"

	"github.com/stretchr/testify/require"

	"echowright/library"
	"echowright/preset"
	"echowright/profiles"
)

// threeHeads is a machine whose heads lie at 120, 240 and 360 ms, the loop from the
// last.
func threeHeads() preset.Unit {
	return preset.Unit{
		Name: "mudflat", Kind: preset.Drum,
		Heads:    []preset.Head{{Head: 1, Delay: 120, Level: -6}, {Head: 2, Delay: 240}, {Head: 3, Delay: 360, Level: -2}},
		Feedback: &preset.Feedback{Heads: []int{3}, Gain: -8},
		Direct:   &preset.Direct{EchoToDirect: -3},
	}
}

// songOf is a song of that machine.
func songOf(t *testing.T, tempo preset.BPM, song library.Song) broughtSong {
	t.Helper()
	song.Title = "Neap"
	b, err := bring(setSong{Song: song, unit: threeHeads(), tempo: tempo})
	require.NoError(t, err)
	return b
}

func plannedOn(t *testing.T, device string, b broughtSong) plannedSong {
	t.Helper()
	d, err := profiles.Shipped(device)
	require.NoError(t, err)
	p, err := planSong(b, address{device: d, unit: d.Manners.FirstUnit})
	require.NoError(t, err)
	return p
}

func TestTheSpanOfADevicesDelays(t *testing.T) {
	for device, want := range map[string][2]preset.Millis{
		"five-line": {0, 1600}, // its manual, section 4: 0 to 1600.0 ms in steps of 0.1 ms
		"twin":      {0, 1200}, // its manual: up to 1200 ms
	} {
		d, err := profiles.Shipped(device)
		require.NoError(t, err)
		least, most, ok := delaySpan(d)
		require.True(t, ok)
		require.Equal(t, want, [2]preset.Millis{least, most}, device)
	}
}

func TestDelaysBeyondReach(t *testing.T) {
	d := fiveLine(t)
	tap := func(head int, delay preset.Millis) preset.Tap { return preset.Tap{Head: head, Delay: delay} }
	loop := func(head int, delay preset.Millis) preset.Return { return preset.Return{Head: head, Delay: delay} }
	for _, c := range []struct {
		name    string
		pattern preset.Pattern
		want    []beyond
		loop    bool
	}{
		{"within", preset.Pattern{Taps: []preset.Tap{tap(1, 0), tap(2, 1600)}, Returns: []preset.Return{loop(2, 1600)}}, nil, false},
		{"a head", preset.Pattern{Taps: []preset.Tap{tap(1, 400), tap(2, 1600.1)}}, []beyond{{2, 1600.1, 1600}}, false},
		{"a head and its loop, told once", preset.Pattern{Taps: []preset.Tap{tap(2, 2000)}, Returns: []preset.Return{loop(2, 2000)}}, []beyond{{2, 2000, 1600}}, true},
		{"a loop from a head that is not heard", preset.Pattern{Taps: []preset.Tap{tap(1, 400)}, Returns: []preset.Return{loop(3, 1700)}}, []beyond{{3, 1700, 1600}}, true},
	} {
		got := beyondReach(c.pattern, d)
		require.Equal(t, c.want, got, c.name)
		require.Equal(t, c.loop, loopBeyond(c.pattern, got), c.name)
	}
}

func TestWhatIsOfferedForASongOutOfReach(t *testing.T) {
	for _, c := range []struct {
		name   string
		tempo  preset.BPM
		song   library.Song
		beyond []int // heads
		offer  string
	}{
		// A whole note at 60 BPM lasts 4000 ms; of its halves 2000 and 1000, the second is
		// the first within 1600 ms.
		{"a whole note at 60 BPM", 60, library.Song{Mode: library.ModeSpeed, Note: "1/1"}, []int{2, 3}, "note 1/4, 4 times the speed, the last head at 1000.0 ms, all echoes to be had"},
		// 60000/40·2·1.5 = 4500 ms, half of it 2250, a quarter 1125.
		{"a dotted half stays dotted", 40, library.Song{Mode: library.ModeSpeed, Note: "1/2."}, []int{2, 3}, "note 1/8., 4 times the speed, the last head at 1125.0 ms, all echoes to be had"},
		// 60000/70·2 = 1714.3 ms; half of it is 857.1 ms.
		{"a half note at 70 BPM", 70, library.Song{Mode: library.ModeSpeed, Note: "1/2"}, []int{3}, "note 1/4, twice the speed, the last head at 857.1 ms, all echoes to be had"},
		// Head 1 is the anchor: on a quarter at 80 BPM, 750 ms, the others come to 1500
		// and 2250 ms.
		{"an anchor that is not the last", 80, library.Song{Mode: library.ModeSpeed, Note: "1/4", Head: 1}, []int{3}, "note 1/8, twice the speed, the last head at 1125.0 ms, all echoes to be had"},
		// A grid of half notes only: all heads at 2000 ms. In place of it a head on its own
		// note: 1500 ms, three quarters of it, is the nearest within 1600 ms.
		{"a grid too wide", 60, library.Song{Mode: library.ModeGrid, Grid: []string{"1/2"}}, []int{1, 2, 3}, `mode "speed" with note 1/4.`},
	} {
		t.Run(c.name, func(t *testing.T) {
			p := plannedOn(t, "five-line", songOf(t, c.tempo, c.song))
			var heads []int
			for _, b := range p.beyond {
				heads = append(heads, b.Head)
				require.Equal(t, preset.Millis(1600), b.Limit)
			}
			require.Equal(t, c.beyond, heads)
			require.NotNil(t, p.offer)
			require.Contains(t, p.reachWords("five-line"), "; instead: "+c.offer)
			// The offer is taken at its word.
			song := c.song
			song.Mode, song.Note, song.Head, song.Grid = p.offer.Mode, p.offer.Note, p.anchor(), nil
			taken := plannedOn(t, "five-line", songOf(t, c.tempo, song))
			require.Empty(t, taken.beyond)
			require.False(t, lacking(taken.Result).any())
			require.Equal(t, p.offer.Speed, taken.retimed.SpeedRatio)
		})
	}
}

func TestWhatIsWithinReachNeedsNoOffer(t *testing.T) {
	p := plannedOn(t, "five-line", songOf(t, 100, library.Song{Mode: library.ModeSpeed, Note: "1/8."}))
	require.Empty(t, p.beyond)
	require.Nil(t, p.offer)
	require.Empty(t, p.lackWords())
	// Two taps and no lines to spare: not every echo can be had, but none for being
	// too late.
	p = plannedOn(t, "twin", songOf(t, 100, library.Song{Mode: library.ModeSpeed, Note: "1/8."}))
	require.Empty(t, p.beyond)
	require.Nil(t, p.offer)
	require.Regexp(t, `^\d+ of \d+ echoes`, p.lackWords())
}

func TestWhereNoNoteDoesBetterHeadsAreToBeLeftOut(t *testing.T) {
	p := plannedSong{beyond: []beyond{{Head: 3, Delay: 2000, Limit: 1600}, {Head: 1, Delay: 2, Limit: 5}}}
	require.Equal(t, "box: head 3 at 2000.0 ms is 400.0 ms beyond the longest delay, 1600 ms; head 1 at 2.0 ms is 3.0 ms short of the shortest delay, 5 ms; "+
		"no other note does better: leave heads out", p.reachWords("box"))
}

func TestLacksInWords(t *testing.T) {
	for want, l := range map[string]lack{
		"":            {of: 9, off: tolerableLevel},
		"1 of 1 echo": {missing: 1, of: 1},
		"2 of 9 echoes, levels up to 19.0 dB off": {missing: 2, of: 9, off: 19},
		"levels up to 1.1 dB off":                 {of: 9, off: 1.1},
	} {
		require.Equal(t, want, l.words())
		require.Equal(t, want != "", l.any())
	}
	for want, change := range map[string]float64{"twice the speed": 2, "half the speed": 0.5, "4 times the speed": 4, "0.6667 times the speed": 2.0 / 3} {
		require.Equal(t, want, timesTheSpeed(change))
	}
}
