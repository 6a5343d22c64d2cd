package cli

import (
	"bytes"
	"os"
	"path/filepath"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"echowright/midi"
	"echowright/midi/port/ports"
	"echowright/midi/songfile"
	"echowright/profiles"
	"echowright/profiles/arrange"
)

// Figures are those worked out at slackInCSV: 24 ticks more than 12.64 ms are 13.0208,
// and the first message begins 37 ticks, 19.2708 ms, before the bar.
func TestWhatAnExportTells(t *testing.T) {
	sheet := slackSet(t, songfile.TempoChange{At: 384, Tempo: 480_000})
	out := filepath.Join(t.TempDir(), "slack.mid")
	v := world(t).run(t, "songs", "export", sheet, "--device", "twin", "--bars", "2", "--out", out, "--json").decode(t)
	require.Equal(t, "slack", v["sheet"])
	require.Equal(t, "twin", v["device"])
	require.Equal(t, []any{out}, v["file"])
	songs := v["song"].([]any)
	require.Len(t, songs, 2)
	for i, want := range []map[string]any{
		{"title": "Flood", "file": out, "slot": 4.0, "live": false, "bar": 2.0, "at_ms": 2000.0, "lead_bars": 1.0,
			"messages": 3.0, "bytes": 8.0, "wire_ms": 2.56, "device_ms": 6.0, "before_ms": 19.271, "spare_ms": 10.38},
		// One bar and two of 2 s, one of 1.5 s.
		{"title": "Slack Water", "file": out, "slot": 9.0, "live": false, "bar": 5.0, "at_ms": 7500.0, "lead_bars": 1.0,
			"messages": 3.0, "bytes": 8.0, "wire_ms": 2.56, "device_ms": 6.0, "before_ms": 19.271, "spare_ms": 10.38},
	} {
		require.Equal(t, want, songs[i])
	}

	got := world(t).run(t, "songs", "export", sheet, "--device", "twin", "--bars", "2", "--out", out)
	require.Equal(t, exitDone, got.code, got.talk)
	require.Regexp(t, `(?m)^song +bar +at s +messages +bytes +wire ms +device ms +sent ms before +ready ms before$`, got.out)
	require.Regexp(t, `(?m)^Slack Water +5 +7\.500 +load slot 9 +8 +2\.56 +6\.00 +19\.27 +10\.38$`, got.out)
	require.Contains(t, got.talk, "written: "+out)
	require.Contains(t, got.talk, "warning: Flood: cannot be had: ", "the twin has two lines, not the machine's loop")
}

// Wire and silence of a whole setting are those of its messages: 320 µs a byte, and
// what the device's manual asks for behind each, 2 ms.
func TestAnExportOfSettings(t *testing.T) {
	out := filepath.Join(t.TempDir(), "ebb.mid")
	v := world(t).run(t, "songs", "export", writeSet(t, ebb), "--device", "twin", "--live", "--out", out, "--json").decode(t)
	for _, one := range v["song"].([]any) {
		song := one.(map[string]any)
		require.Equal(t, true, song["live"])
		require.Greater(t, song["messages"], 10.0)
		require.InDelta(t, song["bytes"].(float64)*0.32, song["wire_ms"], 1e-9)
		require.InDelta(t, song["messages"].(float64)*2, song["device_ms"], 1e-9)
		require.GreaterOrEqual(t, song["before_ms"], song["wire_ms"].(float64)+song["device_ms"].(float64)+10)
	}

	// A device whose slots are out of reach needs no flag for it.
	got := world(t).run(t, "songs", "export", writeSet(t, ebb), "--device", write(t, "pedal.toml", pedal), "--out", out)
	require.Equal(t, exitDone, got.code, got.talk)
	require.Contains(t, got.talk, `the slots of device "mill-pedal" cannot be called up: every parameter is set instead, as with --live`)
	require.Contains(t, got.out, "set every parameter")
}

func TestAFileForEachSong(t *testing.T) {
	out := filepath.Join(t.TempDir(), "ebb")
	export := []string{"songs", "export", writeSet(t, ebb), "--device", "five-line", "--per-song", "--syx", "--out", out + "/"}
	got := world(t).run(t, export...)
	require.Equal(t, exitDone, got.code, got.talk)
	require.Contains(t, got.talk, "written: "+out+"/, with 4 files")
	require.Contains(t, got.talk, "behind each message of "+filepath.Join(out, "ebb.syx"))
	var names []string
	entries, err := os.ReadDir(out)
	require.NoError(t, err)
	for _, e := range entries {
		names = append(names, e.Name())
	}
	require.Equal(t, []string{"1-flood.mid", "2-slack-water.mid", "3-ebb.mid", "ebb.syx"}, names)
	f := parsed(t, filepath.Join(out, "2-slack-water.mid"))
	title, _ := f.Tracks[0].Events[0].Text(songfile.MetaTrackName)
	require.Equal(t, "Slack Water", title)
	m, err := f.TempoMap()
	require.NoError(t, err)
	require.Equal(t, songfile.Tempo(454_545), m.TempoAt(0), "60,000,000 / 132")
	require.Equal(t, songfile.Tick(65*3840), f.Tracks[0].End, "a bar that leads in, and 64")

	again := world(t).run(t, export...)
	require.Equal(t, exitFailed, again.code)
	require.Contains(t, again.talk, out, "a folder that is there is left alone")
}

func TestExportsThatCannotBe(t *testing.T) {
	folder := t.TempDir()
	out := filepath.Join(folder, "x.mid")
	sheet := writeSet(t, ebb)
	far := slackSet(t)
	require.NoError(t, os.WriteFile(filepath.Join(filepath.Dir(far), "slack.mid"), []byte("MThd\x00\x00\x00\x06\x00\x00\x00\x01\xE7\x28"), 0o600))
	for _, c := range []struct {
		name string
		code int
		args []string
		want string
	}{
		{"nowhere to", exitMisused, []string{sheet, "--device", "twin"}, "--out is missing"},
		{"no MIDI file", exitMisused, []string{sheet, "--device", "twin", "--out", folder}, "the name of a MIDI file ends in .mid; a folder goes with --per-song"},
		{"one file for each song", exitMisused, []string{sheet, "--device", "twin", "--out", out, "--per-song"}, "with --per-song it is a folder"},
		{"no bars", exitMisused, []string{sheet, "--device", "twin", "--out", out, "--bars", "0"}, "--bars 0: must lie from 1 to 9999"},
		{"no device", exitMisused, []string{sheet, "--out", out}, "which device? Give --rig or --device"},
		{"two devices", exitMisused, []string{sheet, "--out", out, "--rig", "stage", "--device", "twin"}, "--rig says which device already"},
		{"a unit that the device cannot be", exitMisused, []string{sheet, "--device", "five-line", "--unit", "16", "--out", out}, "unit number 16"},
		{"no sheet", exitFailed, []string{"none.toml", "--device", "twin", "--out", out}, "none.toml"},
		{"slots of a device without", exitMisused, []string{sheet, "--device", write(t, "pedal.toml", pedal), "--out", out, "--syx"}, `--syx: device "mill-pedal" has no slots that can be reached`},
		{"slots that no .syx file holds", exitFailed, []string{sheet, "--device", "twin", "--out", out, "--syx"}, "a .syx file holds System Exclusive messages alone"},
		{"a map in frames", exitFailed, []string{far, "--device", "twin", "--out", out}, "time in SMPTE frames"},
		{"a folder that is not there", exitFailed, []string{sheet, "--device", "twin", "--out", filepath.Join(folder, "no", "x.mid")}, "x.mid"},
	} {
		got := world(t).run(t, append([]string{"songs", "export"}, c.args...)...)
		require.Equal(t, c.code, got.code, "%s: %s", c.name, got.talk)
		require.Contains(t, got.talk, c.want, c.name)
		require.Empty(t, got.out, c.name)
	}
	entries, err := os.ReadDir(folder)
	require.NoError(t, err)
	require.Empty(t, entries, "nothing was written")
}

func TestASongThatHowlsIsNotExported(t *testing.T) {
	d, howl := howling(t)
	set := &plannedSet{device: d, songs: []plannedSong{{Result: arrange.Result{Setting: howl}}}}
	set.songs[0].Title, set.songs[0].Slot = "Flood", 3
	var talk bytes.Buffer
	c := &call{Env: Env{Ports: ports.Builtin()}}
	c.talk.Writer = &talk
	a := address{device: d, unit: d.Manners.FirstUnit}
	err := c.checkExport(set, a, songsExportOptions{})
	require.ErrorContains(t, err, `song "Flood": slot 3: the loop's gain can reach +0.8 dB a turn`)
	require.ErrorContains(t, err, "--allow-runaway")
	require.NoError(t, c.checkExport(set, a, songsExportOptions{allowRunaway: true}))
	require.Contains(t, talk.String(), "warning: Flood: slot 3: the loop's gain can reach +0.8 dB a turn")
}

// Nobody hears the answers: what the device may take for its memory counts, and where
// silence is an answer, the time after which it is one. What it takes at the most to
// say something, 400 ms here, does not.
func TestHowLongADeviceMayTakeUnheard(t *testing.T) {
	const ms = time.Millisecond
	answers := []midi.Answer{{Means: midi.Done}}
	for _, c := range []struct {
		name string
		step midi.Step
		want time.Duration
	}{
		{"one that is never answered", midi.Step{Gap: 4 * ms}, 4 * ms},
		{"one that is answered at once", midi.Step{Gap: 4 * ms, Answers: answers, Timeout: 400 * ms}, 4 * ms},
		{"a write of up to 300 ms", midi.Step{Gap: 4 * ms, Answers: answers, Timeout: 700 * ms}, 304 * ms},
		{"a packet that counts as taken after 50 ms", midi.Step{Gap: 4 * ms, Answers: answers, Timeout: 50 * ms, Silence: midi.Done}, 54 * ms},
		{"an answer within less than the usual", midi.Step{Gap: 4 * ms, Answers: answers, Timeout: 100 * ms}, 4 * ms},
	} {
		require.Equal(t, c.want, unheard(c.step, profiles.Manners{Answer: 400 * ms}), c.name)
	}
}

func TestTitlesAsNamesOfFiles(t *testing.T) {
	for title, want := range map[string]string{
		"Slack Water":     "slack-water",
		`Eelgrass "Ebb"`:  "eelgrass-ebb",
		"../../etc/x":     "etc-x",
		"Łódź 7":          "d-7",
		"…":               "song",
		"CON.":            "con",
		" a  b ":          "a-b",
		"sixty" + longOne: "sixty" + longOne[:55],
	} {
		require.Equal(t, want, plainName(title))
	}
}

const longOne = "0123456789012345678901234567890123456789012345678901234567890123456789"
