package cli

import (
	"testing"

	"github.com/spf13/cobra"
	"github.com/stretchr/testify/require"

	"echowright/preset"
)

// The figures are 60000/BPM and fractions of it (definition).
func TestAUnitIsBroughtToASongOnlyIfOneIsNamed(t *testing.T) {
	u := preset.Unit{Name: "fen", Heads: []preset.Head{{Head: 1, Delay: 400}, {Head: 2, Delay: 200, Level: -3}}}
	for _, c := range []struct {
		args []string
		want preset.Millis // of head 1
		says string
	}{
		{nil, 400, ""},
		{[]string{"--bpm", "120", "--note", "1/4"}, 500, ""}, // on the longest head
		{[]string{"--beat-ms", "500", "--note", "1/4"}, 500, ""},
		{[]string{"--bpm", "120", "--note", "1/4", "--head", "2"}, 1000, ""}, // head 2 has half the delay
		{[]string{"--bpm", "120", "--note", "1/4", "--mode", "speed"}, 500, ""},
		{[]string{"--bpm", "120", "--mode", "grid"}, 375, ""}, // 1/8. is the nearest to 400
		{[]string{"--bpm", "120", "--grid", "1/4,1/16"}, 500, ""},
		{[]string{"--note", "1/4"}, 0, "--bpm is missing"},
		{[]string{"--head", "1"}, 0, "--bpm is missing"},
		{[]string{"--mode", "grid"}, 0, "--bpm is missing"},
		{[]string{"--bpm", "0"}, 0, "must lie from 10 to 1000"},
		{[]string{"--bpm", "-120"}, 0, "must lie from 10 to 1000"},
		{[]string{"--bpm", "1e9"}, 0, "must lie from 10 to 1000"},
		{[]string{"--bpm", "NaN", "--note", "1/4"}, 0, "must lie from 10 to 1000"},
		{[]string{"--beat-ms", "0", "--note", "1/4"}, 0, "--beat-ms 0: a beat lasts from 60 ms to 6000 ms"},
		{[]string{"--beat-ms", "-500", "--note", "1/4"}, 0, "a beat lasts from 60 ms"},
		{[]string{"--beat-ms", "NaN", "--note", "1/4"}, 0, "a beat lasts from 60 ms"},
		{[]string{"--beat-ms", "0.5", "--note", "1/4"}, 0, "a beat lasts from 60 ms"},
		{[]string{"--bpm", "120", "--beat-ms", "500", "--note", "1/4"}, 0, "told twice"},
		{[]string{"--bpm", "120"}, 0, "--note is missing"},
		{[]string{"--bpm", "120", "--note", "1/5"}, 0, "there is no such note value"},
		{[]string{"--bpm", "120", "--note", "1/4", "--head", "0"}, 0, "--head 0: unit \"fen\" has heads [1 2]"},
		{[]string{"--bpm", "120", "--mode", "nearest"}, 0, `--mode "nearest": there are speed, grid`},
		{[]string{"--bpm", "120", "--mode", ""}, 0, `--mode "": there are speed, grid`},
		{[]string{"--bpm", "120", "--mode", "grid", "--note", "1/4"}, 0, "--note is for --mode speed"},
		{[]string{"--bpm", "120", "--grid", "1/4", "--head", "1"}, 0, "--head is for --mode speed"},
		{[]string{"--bpm", "120", "--mode", "speed", "--note", "1/4", "--grid", "1/4"}, 0, "--grid is for --mode grid"},
		{[]string{"--bpm", "120", "--grid", "1/4,1/3"}, 0, "--grid: note \"1/3\""},
		{[]string{"--bpm", "120", "--grid", "1/4,1/4"}, 0, "stands twice"},
		{[]string{"--bpm", "120", "--grid", ""}, 0, "--grid: no note values"},
	} {
		cmd := &cobra.Command{Use: "plan"}
		var f songFlags
		f.add(cmd)
		require.NoError(t, cmd.ParseFlags(c.args))
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

func TestPlansAndPushesTakeAGridToo(t *testing.T) {
	unit := write(t, "fen.toml", someUnit)                                                                                // heads at 200 and 400 ms
	v := world(t).run(t, "plan", unit, "--device", "five-line", "--bpm", "100", "--grid", "1/8,1/8t", "--json").decode(t) // 300 and 200 ms
	require.InDelta(t, 200, first(t, v["echo"]).(map[string]any)["ms"], 1e-9)
	require.InDelta(t, 300, v["echo"].([]any)[1].(map[string]any)["ms"], 1e-9)
}

func TestWhatAShiftSoundsLike(t *testing.T) {
	for _, c := range []struct {
		off, jnd     preset.Millis
		heard, moved string
	}{
		{0, 6, "on the note", "as it was"},
		{-5.9, 6, "sounds on the note", "sounds as it was"},
		{6, 6, "sounds on the note", "sounds as it was"},
		{-81, 13.1, "beside the note, 6.2 times what can be noticed", "moved by 6.2 times what can be noticed"},
		{7, 6, "beside the note, 1.2 times what can be noticed", "moved by 1.2 times what can be noticed"},
	} {
		require.Equal(t, c.heard, heard(c.off, c.jnd))
		require.Equal(t, c.moved, moved(c.off, c.jnd))
	}
}
