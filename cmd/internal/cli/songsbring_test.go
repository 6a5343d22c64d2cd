package cli

import (
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/require"

	"echowright/library"
	"echowright/preset"
)

// What holds for any song of any machine: with mode speed the anchor is on its note
// and the rhythm of the heads stays; on a grid every head is on a note of it; and the
// unit that was measured is left alone.
func TestAnySongBringsItsUnitToItsTempo(t *testing.T) {
	random := rand.New(rand.NewPCG(73, 2))
	notes := preset.CommonNotes()
	brought := 0
	for range 500 {
		u := preset.Unit{Name: "any", Kind: preset.Other}
		for n := range 1 + random.IntN(6) {
			u.Heads = append(u.Heads, preset.Head{Head: n + 1, Delay: preset.Millis(60 + 90*float64(n) + 40*random.Float64()), HighCutHz: 3000})
		}
		before := append([]preset.Head(nil), u.Heads...)
		s := setSong{unit: u, tempo: preset.BPM(40 + 168*random.Float64())} // a metronome's
		note := notes[random.IntN(len(notes))]
		s.Mode, s.Note, s.Head = library.ModeSpeed, note.String(), 1+random.IntN(len(u.Heads))
		b, err := bring(s)
		if err != nil {
			require.ErrorContains(t, err, "would come to", "a note so long or short that no unit has such a delay")
			continue
		}
		brought++
		anchor, ok := b.retimed.Unit.Head(s.Head)
		require.True(t, ok)
		require.InDelta(t, 60_000/float64(s.tempo)*note.Quarters(), float64(anchor.Delay), 1e-9)
		for i, h := range b.retimed.Unit.Heads {
			require.InEpsilon(t, float64(before[i].Delay), float64(h.Delay)*b.retimed.SpeedRatio, 1e-9)
			require.InEpsilon(t, 3000*b.retimed.SpeedRatio, float64(h.HighCutHz), 1e-9, "the tone goes with the speed")
		}

		s.Mode, s.Note, s.Head, s.Grid = library.ModeGrid, "", 0, []string{"1/16", "1/8t", "1/8", "1/4"}
		b, err = bring(s)
		require.NoError(t, err)
		for _, h := range b.retimed.Heads {
			note, err := preset.ParseNote(h.Note)
			require.NoError(t, err)
			require.Contains(t, s.Grid, h.Note)
			require.InDelta(t, float64(note.Length(s.tempo)), float64(h.Delay), 1e-9)
		}
		require.Equal(t, before, u.Heads)
	}
	require.Greater(t, brought, 350, "or it was hardly tried")
}

func TestTheAnchorIsTheLastHeadIfNoneIsNamed(t *testing.T) {
	b := songOf(t, 100, library.Song{Mode: library.ModeSpeed, Note: "1/8.", Heads: []int{1}})
	require.Equal(t, 3, b.anchor(), "also where it is not heard, as push and plan have it")
	h, _ := b.retimed.Unit.Head(3)
	require.InDelta(t, 450, float64(h.Delay), 1e-9) // 60000/100 · 3/4
	require.Len(t, b.pattern.Taps, 1)

	b = songOf(t, 100, library.Song{Mode: library.ModeSpeed, Note: "1/8.", Head: 2})
	h, _ = b.retimed.Unit.Head(2)
	require.InDelta(t, 450, float64(h.Delay), 1e-9)
}

func TestWhatIsToBeMindedOfASong(t *testing.T) {
	for _, c := range []struct {
		name  string
		tempo preset.BPM
		song  library.Song
		want  []string
	}{
		// A dotted eighth at 125 BPM lasts 360 ms, as head 3 has it.
		{"nothing", 125, library.Song{Mode: library.ModeSpeed, Note: "1/8."}, nil},
		// 720 ms are half the speed, which another pulley gives; at 60 BPM they are 1500 ms.
		{"half the speed", 125, library.Song{Mode: library.ModeSpeed, Note: "1/4."}, nil},
		{"less", 60, library.Song{Mode: library.ModeSpeed, Note: "1/4."}, []string{"no motor would run the unit at 0.24 of its speed: take another note or head, or mode \"grid\""}},
		{"more than twice the speed", 125, library.Song{Mode: library.ModeSpeed, Note: "1/32."}, []string{"no motor would run the unit at 4 of its speed: take another note or head, or mode \"grid\""}},
		{"heads that fall together", 125, library.Song{Mode: library.ModeGrid, Grid: []string{"1/8"}}, []string{"heads 1, 2 and 3 fall on one note value, 1/8, and become one echo"}},
	} {
		require.Equal(t, c.want, songOf(t, c.tempo, c.song).remarks, c.name)
	}
}

// TestTheLevelOfASongReachesTheDevice asks for the same song louder and softer: the
// five-line unit has a level for the direct sound in steps of 0.5 dB.
func TestTheLevelOfASongReachesTheDevice(t *testing.T) {
	for level, want := range map[preset.Decibels]float64{0: -3, 2: -1, 5: 2, -6: -9} {
		p := plannedOn(t, "five-line", songOf(t, 100, library.Song{Mode: library.ModeSpeed, Note: "1/8.", EchoLevel: level}))
		require.NotNil(t, p.Direct.Got)
		require.InDelta(t, want, float64(*p.Direct.Got), 0.26, "half a step of 0.5 dB")
	}
}
