package cli

import (
	"testing"

	"github.com/stretchr/testify/require"

	"echowright/preset"
)

func TestAUnitIsBroughtToASongOnlyIfOneIsNamed(t *testing.T) {
	u := preset.Unit{Name: "fen", Heads: []preset.Head{{Head: 1, Delay: 400}, {Head: 2, Delay: 200, Level: -3}}}
	for _, c := range []struct {
		args []string
		want preset.Millis // of head 1
		says string
	}{
		{nil, 400, ""},
		{[]string{"--bpm", "120", "--note", "1/4"}, 500, ""},                 // 60000/120, on the longest head
		{[]string{"--bpm", "120", "--note", "1/4", "--head", "2"}, 1000, ""}, // head 2 has half the delay
		{[]string{"--note", "1/4"}, 0, "--bpm is missing"},
		{[]string{"--head", "1"}, 0, "--bpm is missing"},
		{[]string{"--bpm", "0"}, 0, "must lie from 10 to 1000"},
		{[]string{"--bpm", "NaN", "--note", "1/4"}, 0, "must lie from 10 to 1000"},
		{[]string{"--bpm", "120"}, 0, "--note is missing"},
		{[]string{"--bpm", "120", "--note", "1/5"}, 0, "there is no such note value"},
		{[]string{"--bpm", "120", "--note", "1/4", "--head", "0"}, 0, "--head 0: unit \"fen\" has heads [1 2]"},
	} {
		cmd := newPlanCommand(&call{})
		require.NoError(t, cmd.ParseFlags(c.args))
		var f songFlags
		f.bpm, _ = cmd.Flags().GetFloat64("bpm")
		f.note, _ = cmd.Flags().GetString("note")
		f.head, _ = cmd.Flags().GetInt("head")
		got, err := f.retime(cmd, u)
		if c.says != "" {
			require.ErrorContains(t, err, c.says, c.args)
			require.Equal(t, exitMisused, exitCode(err), c.args)
			continue
		}
		require.NoError(t, err, c.args)
		require.InDelta(t, float64(c.want), float64(got.Heads[0].Delay), 1e-9, c.args)
	}
}

func TestWhatAShiftSoundsLike(t *testing.T) {
	for _, c := range []struct {
		off, jnd preset.Millis
		want     string
	}{
		{0, 6, "on the note"},
		{-5.9, 6, "sounds on the note"},
		{6, 6, "sounds on the note"},
		{-81, 13.1, "beside the note, 6.2 times what can be noticed"},
		{7, 6, "beside the note, 1.2 times what can be noticed"},
	} {
		require.Equal(t, c.want, heard(c.off, c.jnd))
	}
}
