package cli

import (
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"strconv"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"echowright/midi"
	"echowright/midi/songfile"
)

// What other programs read out of an exported set.

// slack is a set of two songs; the second has a map of its own.
const slack = `format = "echowright-songs/1"
name = "slack"
[[song]]
title = "Flood"
tempo_bpm = 120
unit = "fen.toml"
note = "1/4"
slot = 4
[[song]]
title = "Slack Water"
tempo_map = "slack.mid"
unit = "fen.toml"
note = "1/4"
slot = 9
`

// slackSet writes the set with a map of 96 ticks a quarter in 3/4: two bars of 288
// ticks, a marker at the second, another tempo a third into it.
func slackSet(t *testing.T, tempi ...songfile.TempoChange) string {
	t.Helper()
	sheet := writeSet(t, slack)
	m, err := songfile.NewTempoMap(96, append([]songfile.TempoChange{{At: 0, Tempo: 500_000}}, tempi...), []songfile.MeterChange{{At: 0, Meter: songfile.Meter{Beats: 3, Unit: 4}}})
	require.NoError(t, err)
	bridge, err := songfile.Text(288, songfile.MetaMarker, "Bridge")
	require.NoError(t, err)
	words, err := songfile.Text(288, songfile.MetaLyric, "no business of ours")
	require.NoError(t, err)
	b, err := songfile.Format(songfile.File{Format: 1, Division: 96, Tracks: []songfile.Track{{Events: m.Events()}, {Events: []songfile.Event{bridge, words}, End: 576}}})
	require.NoError(t, err)
	require.NoError(t, os.WriteFile(filepath.Join(filepath.Dir(sheet), "slack.mid"), b, 0o600))
	return sheet
}

func exported(t *testing.T, sheet string, args ...string) string {
	t.Helper()
	out := filepath.Join(t.TempDir(), "set.mid")
	got := world(t).run(t, append([]string{"songs", "export", sheet, "--out", out}, args...)...)
	require.Equal(t, exitDone, got.code, got.talk)
	return out
}

// Worked by hand, as midicsv(5) has it: track, tick, name, values. 960 ticks a quarter
// hold the 96 of the map ten times. A bar of 4/4 has 3840, one of 3/4 has 2880. The
// first song leads in with one bar and has two, to 11520; the second leads in with
// one of 3/4, to 14400.
//
// The twin wants 2 ms behind each message. Bank Select is two of three bytes, 2.96 ms
// each, the program 0.64 + 2 = 2.64 ms. At 520.8333 µs a tick the program has to
// begin 12.64 ms before the bar, 24.3 ticks, so 25; that leaves 13.0208 − 2.64 =
// 10.38 ms. 2.96 ms are 5.7 ticks, so 6, and 6 again.
const slackInCSV = `0, 0, Header, 1, 2, 960
1, 0, Start_track
1, 0, Title_t, "slack"
1, 0, Time_signature, 4, 2, 24, 8
1, 0, Tempo, 500000
1, 0, Marker_t, "lead-in: Flood"
1, 3840, Time_signature, 4, 2, 24, 8
1, 3840, Tempo, 500000
1, 3840, Marker_t, "Flood"
1, 11520, Time_signature, 3, 2, 24, 8
1, 11520, Tempo, 500000
1, 11520, Marker_t, "lead-in: Slack Water"
1, 14400, Time_signature, 3, 2, 24, 8
1, 14400, Tempo, 500000
1, 14400, Marker_t, "Slack Water"
1, 17280, Marker_t, "Bridge"
1, 18240, Tempo, 480000
1, 20160, End_track
2, 0, Start_track
2, 0, Title_t, "twin, channel 1"
2, 3803, Text_t, "Flood: load slot 4: 3 messages, 8 bytes: 2.56 ms on the wire, 6.00 ms for the device; ready 10.38 ms before bar 2"
2, 3803, Control_c, 0, 0, 0
2, 3809, Control_c, 0, 32, 0
2, 3815, Program_c, 0, 4
2, 14363, Text_t, "Slack Water: load slot 9: 3 messages, 8 bytes: 2.56 ms on the wire, 6.00 ms for the device; ready 10.38 ms before bar 5"
2, 14363, Control_c, 0, 0, 0
2, 14369, Control_c, 0, 32, 0
2, 14375, Program_c, 0, 9
2, 20160, End_track
0, 0, End_of_file
`

func TestMidicsvReadsTheSet(t *testing.T) {
	if _, err := exec.LookPath("midicsv"); err != nil {
		t.Skip("SKIP: no midicsv here to ask:", err)
	}
	file := exported(t, slackSet(t, songfile.TempoChange{At: 384, Tempo: 480_000}), "--device", "twin", "--bars", "2")
	csv, err := exec.Command("midicsv", file).CombinedOutput()
	require.NoError(t, err, string(csv))
	require.Equal(t, slackInCSV, string(csv))
}

// timesByMido prints for each event of all tracks, as they come, how many seconds in it
// comes, and its bytes.
const timesByMido = `
import sys, mido
now = 0
for m in mido.MidiFile(sys.argv[1]):
    now += m.time
    if m.type in ('marker', 'text'):
        print(now, m.text)
    elif not m.is_meta:
        print(now, ' '.join('%02X' % b for b in m.bytes()))
`

// Played by mido, every message and marker comes when it does here, over a ramp from
// 100 to 140 BPM.
func TestMidoPlaysTheSetAtTheSameTimes(t *testing.T) {
	const python = "/usr/bin/python3"
	if err := exec.Command(python, "-c", "import mido").Run(); err != nil {
		t.Skip("SKIP: no mido here to ask:", err)
	}
	ramp, err := songfile.Ramp{At: 0, Length: 576, From: 100, To: 140}.Steps(375)
	require.NoError(t, err)
	require.Greater(t, len(ramp), 10)
	const evening = "../../../examples/saltmarsh-evening.toml"
	for _, args := range [][]string{
		{slackSet(t, ramp...), "--device", "twin"}, {slackSet(t, ramp...), "--device", "five-line", "--live"}, {evening, "--device", "five-line"},
	} {
		file := exported(t, args[0], args[1:]...)
		out, err := exec.Command(python, "-c", timesByMido, file).CombinedOutput()
		require.NoError(t, err, string(out))
		theirs := strings.Split(strings.TrimSuffix(string(out), "\n"), "\n")
		ours := timed(t, file)
		require.Len(t, theirs, len(ours))
		for i, line := range theirs {
			at, what, _ := strings.Cut(line, " ")
			seconds, err := strconv.ParseFloat(at, 64)
			require.NoError(t, err)
			require.Equal(t, ours[i].what, what)
			// mido adds up floating-point seconds; ours are rounded to the microsecond.
			require.InDelta(t, ours[i].seconds, seconds, 2e-6, what)
		}
	}
}

type timedEvent struct {
	seconds float64
	what    string
}

// timed are the markers, texts and messages of a file as this program reads it.
func timed(t *testing.T, path string) []timedEvent {
	t.Helper()
	f := parsed(t, path)
	m, err := f.TempoMap()
	require.NoError(t, err)
	var all []timedEvent
	for _, e := range f.InOrder() {
		kind, data, meta := e.Meta()
		what := midi.Hex(e.Wire())
		if meta {
			what = string(data)
		}
		if !meta || kind == songfile.MetaMarker || kind == songfile.MetaText {
			all = append(all, timedEvent{m.TimeAt(e.At).Millis() / 1000, what})
		}
	}
	require.Greater(t, len(all), 6, fmt.Sprint(all))
	return all
}
