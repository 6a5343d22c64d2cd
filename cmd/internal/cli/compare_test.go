package cli

import (
	"bytes"
	"math"
	"os"
	"path/filepath"
	"testing"

	"github.com/stretchr/testify/require"

	"echowright/preset"
	"echowright/preset/wavfile"
)

// plucked is a damped note with echoes so many samples after it, at half of it.
func plucked(n int, echoes ...int) []float64 {
	x := make([]float64, n)
	for _, late := range append([]int{0}, echoes...) {
		for i := 4800 + late; i < n; i++ {
			t, v := float64(i-4800-late)/48000, 0.0
			for h := 1.0; h < 9; h++ {
				v += math.Sin(2*math.Pi*h*220*t+h*h) / h
			}
			v *= math.Exp(-60*t) * (1 - math.Exp(-4000*t)) / 5
			if late > 0 {
				v /= 2
			}
			x[i] += v
		}
	}
	return x
}

func waves(t *testing.T, name string, rate float64, channels ...[]float64) string {
	t.Helper()
	var file bytes.Buffer
	_, err := wavfile.Write(&file, preset.Hertz(rate), channels, wavfile.PCM24)
	require.NoError(t, err)
	return write(t, name, file.String())
}

func TestFieldsOfCompare(t *testing.T) {
	a := waves(t, "a.wav", 48000, plucked(72000, 4800, 12000))
	b := waves(t, "b.wav", 48000, plucked(72000, 4848, 12000))
	v := world(t).run(t, "compare", a, b, "--json", "-q").decode(t)
	hasFields(t, v, "offset_ms", "offset_sd_ms", "gain_db", "gain_sd_db", "drift_ppm", "inverted", "residual_db", "residual_floor_db",
		"echo_from", "echo", "tone", "decay", "warnings")
	echo := hasFields(t, first(t, v["echo"]), "ms", "db", "delta_ms", "delta_db", "delta_sd_ms", "delta_sd_db", "noticed_from_ms", "noticed_from_db", "noticeable")
	// The echo was moved by 48 samples of 48,000 a second; tails of the note tell it
	// within a twentieth of that.
	require.InDelta(t, 100, echo["ms"], 0.1)
	require.InDelta(t, 1, echo["delta_ms"], 0.05)
	require.InDelta(t, 0, v["offset_ms"], 0.001)
	hasFields(t, first(t, v["tone"]), "hz", "db", "delta_db", "delta_sd_db")
}

func TestTakesOfOtherShapesAreCompared(t *testing.T) {
	x := plucked(72000, 4800, 12000)
	half := plucked(48000, 4800, 12000)
	mono := waves(t, "mono.wav", 48000, x)
	for name, c := range map[string]struct {
		other string
		code  int
		talk  string
	}{
		"two channels alike":      {waves(t, "alike.wav", 48000, x, x), exitDone, ""},
		"two channels that vary":  {waves(t, "vary.wav", 48000, x, plucked(72000, 7000)), exitMisused, "different sound"},
		"shorter":                 {waves(t, "short.wav", 48000, half), exitDone, ""},
		"another rate, same data": {waves(t, "rate.wav", 44100, x), exitNothing, "don't match"},
		"silence":                 {waves(t, "silence.wav", 48000, make([]float64, 48000)), exitNothing, "silent"},
	} {
		t.Run(name, func(t *testing.T) {
			got := world(t).run(t, "compare", mono, c.other)
			require.Equal(t, c.code, got.code, got.talk)
			require.Contains(t, got.talk, c.talk)
		})
	}
}

func TestAReportIsWrittenWholeOrNotAtAll(t *testing.T) {
	a := waves(t, "a.wav", 48000, plucked(72000, 4800))
	folder := t.TempDir()
	page := filepath.Join(folder, "proof.html")
	require.Equal(t, exitDone, world(t).run(t, "compare", a, a, "--report", page).code)
	text, err := os.ReadFile(page)
	require.NoError(t, err)
	require.Contains(t, string(text), "</html>")
	require.Equal(t, exitFailed, world(t).run(t, "compare", a, a, "--report", filepath.Join(folder, "no", "proof.html")).code)
	left, err := os.ReadDir(folder)
	require.NoError(t, err)
	require.Len(t, left, 1)
}
