package main

import (
	"bytes"
	"io"
	"math"
	"os"
	"os/exec"
	"path/filepath"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"echowright/preset/wavfile"
)

// sixHeads is a unit with six heads, a loop and a tone.
const sixHeads = `format = "echowright-unit/1"
name = "six"
kind = "drum"
[feedback]
heads = [6]
gain_db = -6.0
[direct]
echo_to_direct_db = -4.0
`

func sixHeadsFile(tb testing.TB) string {
	tb.Helper()
	text := sixHeads
	for i, d := range []string{"61.234", "122.71", "187.013", "251.9", "318.477", "377.155"} {
		text += "[[head]]\nhead = " + string(rune('1'+i)) + "\ndelay_ms = " + d + "\nlevel_db = -" + string(rune('0'+i)) + ".0\nlow_cut_hz = 80\nhigh_cut_hz = 3500\n"
	}
	path := filepath.Join(tb.TempDir(), "six.toml")
	require.NoError(tb, os.WriteFile(path, []byte(text), 0o600))
	return path
}

// longTake writes so many seconds of a sound that swells, 24 bits at 48 kHz.
func longTake(tb testing.TB, seconds int) string {
	tb.Helper()
	path := filepath.Join(tb.TempDir(), "dry.wav")
	f, err := os.Create(path)
	require.NoError(tb, err)
	defer f.Close()
	require.NoError(tb, writeSwell(f, seconds))
	return path
}

func writeSwell(to io.Writer, seconds int) error {
	w, err := wavfile.NewWriter(to, 48_000, 1, int64(seconds)*48_000, wavfile.PCM24)
	if err != nil {
		return err
	}
	block := make([]float64, 48_000)
	for i := range block {
		t := float64(i) / 48_000
		block[i] = 0.4 * math.Sin(2*math.Pi*220*t) * math.Sin(math.Pi*t)
	}
	for range seconds {
		if err := w.Write([][]float64{block}); err != nil {
			return err
		}
	}
	return w.Close()
}

// Memory is that of the longest delay, however long the take: ten minutes take what
// one does, but for what the collector leaves lying about. The benchmark has the hour.
func TestRenderingTakesTheMemoryOfItsDelaysAlone(t *testing.T) {
	unit := sixHeadsFile(t)
	minute, ok := renderMemory(t, unit, longTake(t, 60))
	if !ok {
		t.Skip("SKIP: what memory a process had is not told here")
	}
	ten, _ := renderMemory(t, unit, longTake(t, 600))
	t.Logf("a minute %.1f MB, ten %.1f MB", minute, ten)
	require.Less(t, ten, minute+12)
}

func renderMemory(tb testing.TB, unit, dry string) (megabytes float64, ok bool) {
	cmd := exec.Command("echowright", "render", unit, dry, "--out", filepath.Join(tb.TempDir(), "wet.wav"))
	told, err := cmd.CombinedOutput()
	require.NoError(tb, err, "%s", told)
	return mostMemory(cmd.ProcessState)
}

func BenchmarkRenderMemory(b *testing.B) {
	unit := sixHeadsFile(b)
	for _, c := range []struct {
		name    string
		seconds int
	}{{"a minute", 60}, {"an hour", 3600}} {
		b.Run(c.name, func(b *testing.B) {
			dry := longTake(b, c.seconds)
			most := 0.0
			for b.Loop() {
				if m, ok := renderMemory(b, unit, dry); ok {
					most = max(most, m)
				}
			}
			b.ReportMetric(most*1e6, "resident-bytes")
			b.ReportMetric(float64(b.N)*float64(c.seconds)/b.Elapsed().Seconds(), "x-real-time")
		})
	}
}

// The whole process, files included, on the same five minutes in the same run, beside
// programs that play six taps at whole samples without loop and tone. Fixed gain is
// one pass, as theirs; the safe level takes two.
func BenchmarkRenderBesideOthers(b *testing.B) {
	unit, dry := sixHeadsFile(b), longTake(b, 300)
	out := filepath.Join(b.TempDir(), "wet.wav")
	for _, c := range []struct {
		name string
		line []string
	}{
		{"fixed gain", []string{"echowright", "render", unit, dry, "--out", out, "--replace", "--gain-db", "-12"}},
		{"safe level", []string{"echowright", "render", unit, dry, "--out", out, "--replace"}},
		{"SoX echos", []string{"sox", "-q", dry, out, "echos", "0.5", "0.5", "61.2", "0.5", "122.7", "0.45", "187", "0.4", "251.9", "0.35", "318.5", "0.3", "377.2", "0.28"}},
		{"FFmpeg aecho", []string{
			"ffmpeg", "-v", "error", "-y", "-i", dry, "-c:a", "pcm_s24le",
			"-af", "aecho=0.5:0.5:61|123|187|252|318|377:0.5|0.45|0.4|0.35|0.3|0.28", out,
		}},
	} {
		b.Run(c.name, func(b *testing.B) {
			if _, err := exec.LookPath(c.line[0]); err != nil {
				b.Skip("SKIP: not here to be compared with:", err)
			}
			var spent time.Duration
			for b.Loop() {
				cmd := exec.Command(c.line[0], c.line[1:]...)
				var told bytes.Buffer
				cmd.Stderr = &told
				require.NoError(b, cmd.Run(), told.String())
				spent += cmd.ProcessState.UserTime() + cmd.ProcessState.SystemTime()
			}
			b.ReportMetric(float64(b.N)*300/b.Elapsed().Seconds(), "x-real-time")
			b.ReportMetric(float64(b.N)*300/spent.Seconds(), "x-real-time-one-core")
		})
	}
}
