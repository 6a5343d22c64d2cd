package measure

import (
	"bytes"
	"math"
	"math/rand"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"echowright/preset/wavfile"
)

// through lets a program make OUT of IN: 48 kHz, float.
func through(t *testing.T, x []float64, command string) []float64 {
	t.Helper()
	args := strings.Fields(command)
	if _, err := exec.LookPath(args[0]); err != nil {
		t.Skipf("SKIP: %s is not installed", args[0])
	}
	dir := t.TempDir()
	in, out := filepath.Join(dir, "in.wav"), filepath.Join(dir, "out.wav")
	var file bytes.Buffer
	_, err := wavfile.Write(&file, 48_000, [][]float64{x}, wavfile.Float32)
	require.NoError(t, err)
	require.NoError(t, os.WriteFile(in, file.Bytes(), 0o600))
	for i, a := range args {
		args[i] = strings.NewReplacer("IN", in, "OUT", out).Replace(a)
	}
	told, err := exec.Command(args[0], args[1:]...).CombinedOutput()
	require.NoError(t, err, "%s", told)
	made, err := os.ReadFile(out)
	require.NoError(t, err)
	take, err := wavfile.Read("out.wav", bytes.NewReader(made), int64(len(made)))
	require.NoError(t, err)
	return take.Channels[0]
}

// A note alone, with the quiet after it that its echoes need.
func noteAlone(seed int64) []float64 {
	_, _, dry := record(rand.New(rand.NewSource(seed)), shortNote, unit{}, recording{rate: 48_000, lead: 0.3, seconds: 2.5, noise: -80})
	return dry
}

// Both programs delay by whole samples, which they round in ways of their own.
const ownRounding = 1000.0 / 48_000 // ms

// What SoX's echo and FFmpeg's aecho do is told in their manuals: the sound times
// the gain in, and for each delay the sound so much later times its decay, all
// times the gain out. No tone, no loop.
func TestEchoesOfOtherPrograms(t *testing.T) {
	for _, c := range []struct {
		name, command  string
		direct         float64
		delays, decays []float64
	}{
		{"sox, three echoes", "sox -D IN -e float -b 32 OUT echo 0.8 0.9 121.3 0.25 263.7 0.56 405.2 0.45", 0.8,
			[]float64{121.3, 263.7, 405.2}, []float64{0.25, 0.56, 0.45}},
		{"sox, one echo", "sox -D IN -e float -b 32 OUT echo 0.8 0.9 187.5 0.4", 0.8, []float64{187.5}, []float64{0.4}},
		{"ffmpeg, three echoes", "ffmpeg -v error -i IN -c:a pcm_f32le -af aecho=0.8:0.9:121.3|263.7|405.2:0.25|0.56|0.45 OUT", 0.8,
			[]float64{121.3, 263.7, 405.2}, []float64{0.25, 0.56, 0.45}},
	} {
		t.Run(c.name, func(t *testing.T) {
			heads := []int{2, 4, 6}[:len(c.delays)]
			r, err := Heads(Take{Rate: 48_000, Samples: through(t, noteAlone(3), c.command)}, Options{Heads: heads})
			require.NoError(t, err)
			require.Nil(t, r.Unit.Feedback, "%+v", r.Unit.Feedback)
			checkEchoes(t, r, c.direct, c.delays, c.decays)
		})
	}
}

// checkEchoes: beside the programs' rounding 0.01 ms and 0.05 dB, which is what
// one asks of a take without motion (0.05 ms, 0.1 dB) and less.
func checkEchoes(t *testing.T, r Result, direct float64, delays, decays []float64) {
	t.Helper()
	require.Len(t, r.Unit.Heads, len(delays))
	loudest := 0.0
	for _, d := range decays {
		loudest = math.Max(loudest, d)
	}
	for k, h := range r.Unit.Heads {
		require.InDelta(t, delays[k], float64(h.Delay), ownRounding+0.01)
		require.InDelta(t, 20*math.Log10(decays[k]/loudest), float64(h.Level), 0.05)
		require.False(t, h.Inverted)
	}
	require.InDelta(t, 20*math.Log10(loudest/direct), float64(r.Unit.Direct.EchoToDirect), 0.1)
}

// Two channels: the sound as it was, and as a program delayed it.
func TestTwoChannelsByOtherPrograms(t *testing.T) {
	for _, c := range []struct {
		name, command  string
		delays, decays []float64
	}{
		{"sox delay", "sox -D IN -e float -b 32 OUT delay 0.1213 vol 0.7", []float64{121.3}, []float64{0.7}},
		{"ffmpeg adelay", "ffmpeg -v error -i IN -c:a pcm_f32le -af adelay=263.7,volume=0.7 OUT", []float64{263.7}, []float64{0.7}},
		{"ffmpeg aecho, delayed as a whole", "ffmpeg -v error -i IN -c:a pcm_f32le -af aecho=1:0.5:142.4|283.9:0.5|0.8,adelay=121.3 OUT",
			[]float64{121.3, 263.7, 405.2}, []float64{0.5, 0.25, 0.4}},
	} {
		t.Run(c.name, func(t *testing.T) {
			dry := noteAlone(4)
			wet := through(t, dry, c.command)
			n := min(len(wet), len(dry))
			r, err := Heads(Take{Rate: 48_000, Samples: wet[:n], Dry: dry[:n]}, Options{Heads: []int{2, 4, 6}[:len(c.delays)]})
			require.NoError(t, err)
			checkEchoes(t, r, 1, c.delays, c.decays)
		})
	}
}
