package cli

import (
	"context"
	"fmt"
	"testing"

	"github.com/stretchr/testify/require"

	"echowright/library"
	"echowright/preset"
)

// tempi is a set of that machine, a song for each tempo.
func tempi(t *testing.T, all ...preset.BPM) []broughtSong {
	t.Helper()
	songs := make([]broughtSong, len(all))
	for i, tempo := range all {
		songs[i] = songOf(t, tempo, library.Song{Mode: library.ModeSpeed, Note: "1/8.", Heads: []int{2}, Slot: i})
		songs[i].Title = fmt.Sprintf("at %v", float64(tempo))
	}
	return songs
}

func TestSongsPlannedAtOnceAreTheSameAsOneByOne(t *testing.T) {
	d := fiveLine(t)
	a := address{device: d}
	songs := tempi(t, 90, 100, 110, 120, 130, 140, 150)
	all, err := planAll(t.Context(), songs, a)
	require.NoError(t, err)
	for i, s := range songs {
		alone, err := planSong(s, a)
		require.NoError(t, err)
		require.Equal(t, alone, all[i])
	}
}

func TestAllSongsThatCannotBePlannedAreToldInTheirOrder(t *testing.T) {
	songs := tempi(t, 90, 100, 110, 120)
	songs[3].Slot, songs[1].Slot = 70, 64
	_, err := planAll(t.Context(), songs, address{device: fiveLine(t)})
	require.EqualError(t, err, `song "at 100": slot 64: device "five-line" has slots 0 to 63`+"\n"+`song "at 120": slot 70: device "five-line" has slots 0 to 63`)
}

func TestPlanningEndsOnCtrlC(t *testing.T) {
	stopped, stop := context.WithCancel(t.Context())
	stop()
	_, err := planAll(stopped, tempi(t, 90, 100), address{device: fiveLine(t)})
	require.ErrorIs(t, err, context.Canceled)
}

func TestASlotIsNamedAfterItsSong(t *testing.T) {
	s := tempi(t, 120)[0]
	s.Title = "Überflutung bei Nacht"
	p, err := planSong(s, address{device: fiveLine(t)})
	require.NoError(t, err)
	require.Equal(t, "-berflutung", p.Setting.Name, "12 characters of ASCII, the last a space")
}
