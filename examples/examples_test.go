package examples_test

import (
	"encoding/json"
	"os"
	"path/filepath"
	"slices"
	"strconv"
	"testing"

	"github.com/stretchr/testify/require"

	"echowright/library"
	"echowright/preset"
	"echowright/preset/unitfile"
)

func unitOf(t *testing.T, path string) preset.Unit {
	t.Helper()
	text, err := os.ReadFile(path)
	require.NoError(t, err)
	u, err := unitfile.Parse(path, text)
	require.NoError(t, err)
	return u
}

// TestTheUnitIsTheMachineOfTheTake holds the profile against what was put into the
// simulated machine: takes/truth.json.
func TestTheUnitIsTheMachineOfTheTake(t *testing.T) {
	text, err := os.ReadFile("takes/truth.json")
	require.NoError(t, err)
	var truth map[string]struct {
		Heads        map[string][2]float64 `json:"heads"`
		LoopFrom     int                   `json:"loop_from"`
		Loop         preset.Decibels       `json:"loop_db"`
		EchoToDirect preset.Decibels       `json:"echo_to_direct_db"`
		HighCut      preset.Hertz          `json:"high_cut_hz"`
		LowCut       preset.Hertz          `json:"low_cut_hz"`
		Wow          preset.Percent        `json:"wow_percent"`
		WowRate      preset.Hertz          `json:"wow_hz"`
	}
	require.NoError(t, json.Unmarshal(text, &truth))
	put := truth["saltmarsh-heads-246"]
	require.NotEmpty(t, put.Heads)

	u := unitOf(t, "saltmarsh-drum-1.toml")
	require.Len(t, u.Heads, len(put.Heads))
	for _, h := range u.Heads {
		want := put.Heads[strconv.Itoa(h.Head)]
		require.Equal(t, want, [2]float64{float64(h.Delay), float64(h.Level)}, "head %d", h.Head)
		require.Equal(t, preset.Tone{LowCut: put.LowCut, HighCut: put.HighCut}, h.Tone())
	}
	require.Equal(t, &preset.Feedback{Heads: []int{put.LoopFrom}, Gain: put.Loop}, u.Feedback)
	require.Equal(t, &preset.Direct{EchoToDirect: put.EchoToDirect}, u.Direct)
	require.Equal(t, &preset.Motion{WowPercent: put.Wow, WowHz: put.WowRate}, u.Motion)
}

// TestTheSetListIsWhole looks at what the sheet names: units that are there, and
// heads that they have.
func TestTheSetListIsWhole(t *testing.T) {
	const path = "saltmarsh-evening.toml"
	text, err := os.ReadFile(path)
	require.NoError(t, err)
	sheet, err := library.ParseSongs(path, text)
	require.NoError(t, err)
	require.Len(t, sheet.Songs, 8)
	var modes []library.SongMode
	for _, s := range sheet.Songs {
		u := unitOf(t, filepath.Clean(s.Unit))
		require.Subset(t, u.HeadNumbers(), s.Heads, s.Title)
		modes = append(modes, s.Mode)
	}
	slices.Sort(modes)
	require.Equal(t, []library.SongMode{library.ModeGrid, library.ModeNearest, library.ModeSpeed}, slices.Compact(modes), "each mode has its example")
}
