package main

import (
	"context"
	"encoding/binary"
	"math"
	"math/rand/v2"
	"os"
	"os/exec"
	"path/filepath"
	"testing"
	"time"

	"github.com/rogpeppe/go-internal/testscript"
	"github.com/stretchr/testify/require"
)

// TestBadTakes runs the program on whatever people hand it for a take by mistake.
func TestBadTakes(t *testing.T) {
	testscript.Run(t, testscript.Params{
		Dir: "testdata/badtakes",
		Setup: func(e *testscript.Env) error {
			e.Setenv("ECHOWRIGHT_HOME", e.Cd+"/library")
			e.Values[devicesKey] = devices{}
			return writeBadTakes(e.WorkDir)
		},
		Cmds: map[string]func(*testscript.TestScript, bool, []string){
			"exits": exits, "remember": remember, "unchanged": unchanged,
			"huge": func(ts *testscript.TestScript, _ bool, args []string) { ts.Check(writeHuge(ts.MkAbs(args[0]))) },
		},
	})
}

func writeBadTakes(folder string) error {
	for name, file := range badTakes() {
		if err := os.WriteFile(filepath.Join(folder, name), file, 0o600); err != nil {
			return err
		}
	}
	return os.Mkdir(filepath.Join(folder, "folder.wav"), 0o700)
}

func badTakes() map[string][]byte {
	const rate, frames = 48_000, 4 * 48_000
	random := rand.New(rand.NewPCG(1, 2))
	var slow [8]float64
	made := func(at func(i int) float64) []byte {
		x := make([]int16, frames)
		for i := range x {
			x[i] = int16(32767 * at(i))
		}
		return wav(1, rate, x)
	}
	good := wav(1, rate, note(5*24_000, 0.5))
	return map[string][]byte{
		"good.wav":       good,
		"silence.wav":    made(func(int) float64 { return 0 }),
		"constant.wav":   made(func(int) float64 { return 0.5 }),
		"white.wav":      made(func(int) float64 { return 0.1 * math.Tanh(random.NormFloat64()) }),
		"pink.wav":       made(func(int) float64 { return 0.3 * math.Tanh(pink(&slow, random)) }),
		"square.wav":     made(func(i int) float64 { return math.Copysign(0.5, math.Sin(2*math.Pi*220*float64(i)/rate)) }),
		"music.wav":      made(chords),
		"samples.wav":    wav(1, rate, note(30_000, 0.5)[24_000:26_000]), // 2,000 of them
		"nan.wav":        floatWAV(rate, frames, math.NaN()),
		"infinite.wav":   floatWAV(rate, frames, math.Inf(-1)),
		"cut.wav":        good[:len(good)/2],
		"cut-head.wav":   good[:20],
		"text.wav":       []byte("Dear diary, today the belt broke.\n"),
		"empty.wav":      nil,
		"rate-0.wav":     patched(good, 24, 0),
		"channels.wav":   wav(64, rate, make([]int16, 64*1000)),
		"other-rate.wav": wav(1, 44_100, note(5*24_000, 0)),
		"other-dry.wav":  made(func(i int) float64 { return 0.3 * math.Sin(2*math.Pi*330*float64(i)/rate) }),
	}
}

// pink is noise that falls by about 3 dB an octave: the sum of one-pole low-passes
// whose corners are an octave apart and which have one power each.
func pink(slow *[8]float64, random *rand.Rand) float64 {
	sum := 0.0
	for k := range slow {
		a := math.Ldexp(0.5, -k)
		slow[k] += a*random.NormFloat64()/math.Sqrt(a) - a*slow[k]
		sum += slow[k]
	}
	return sum / 8
}

// chords change twice a second and never stop: no note stands by itself.
func chords(i int) float64 {
	t := float64(i) / 48_000
	root := []float64{220, 174.6, 261.6, 196}[int(2*t)%4]
	v := 0.0
	for _, interval := range []float64{1, 1.26, 1.5} {
		for h := 1.0; h < 5; h++ {
			v += math.Sin(2*math.Pi*root*interval*h*t) / h
		}
	}
	return 0.08 * v * (0.7 + 0.3*math.Exp(-8*math.Mod(t, 0.5)))
}

// floatWAV is silence in 32-bit float but for one sample.
func floatWAV(rate, frames int, odd float64) []byte {
	b := patched(wav(1, rate, make([]int16, 2*frames)), 20, 3|1<<16) // float, one channel
	binary.LittleEndian.PutUint32(b[28:], uint32(4*rate))
	binary.LittleEndian.PutUint32(b[32:], 4|32<<16) // bytes a frame, bits
	binary.LittleEndian.PutUint32(b[44+4*1000:], math.Float32bits(float32(odd)))
	return b
}

// patched writes another 32-bit number at a byte of the file.
func patched(file []byte, at int, v uint32) []byte {
	b := append([]byte(nil), file...)
	binary.LittleEndian.PutUint32(b[at:], v)
	return b
}

// writeHuge makes 44 minutes of stereo at 192 kHz in 16 bits, all but the header
// a hole in the file: 2 GB that take no room.
func writeHuge(path string) error {
	const bytes = 44 * 60 * 192_000 * 4
	head := wav(2, 192_000, nil)
	binary.LittleEndian.PutUint32(head[4:], 36+bytes)
	binary.LittleEndian.PutUint32(head[40:], bytes)
	if err := os.WriteFile(path, head, 0o600); err != nil {
		return err
	}
	return os.Truncate(path, int64(len(head))+bytes)
}

// The program looks at the first minutes of a take that lasts for hours: it ends
// within a minute on any machine, and its memory is that of those minutes. Four
// copies of two minutes at 192 kHz are 0.7 GB; the file decoded would be 8 GB.
func TestAHugeTakeEndsInBoundedMemory(t *testing.T) {
	path := filepath.Join(t.TempDir(), "huge.wav")
	require.NoError(t, writeHuge(path))
	ctx, cancel := context.WithTimeout(t.Context(), time.Minute)
	defer cancel()
	command := exec.CommandContext(ctx, "echowright", "measure", path, "--heads", "2,4,6")
	told, err := command.CombinedOutput()
	var ended *exec.ExitError
	require.ErrorAs(t, err, &ended)
	require.Equal(t, 5, ended.ExitCode(), "%s", told)
	if most, ok := mostMemory(ended.ProcessState); ok {
		require.Less(t, most, 700.0, "MB")
	}
}

func TestTheBadTakesAreWhatTheyAreSaidToBe(t *testing.T) {
	all := badTakes()
	require.Len(t, all["samples.wav"], 44+2*2000)
	require.EqualValues(t, 64, binary.LittleEndian.Uint16(all["channels.wav"][22:]))
	require.EqualValues(t, 0, binary.LittleEndian.Uint32(all["rate-0.wav"][24:]))
	odd := math.Float32frombits(binary.LittleEndian.Uint32(all["nan.wav"][44+4000:]))
	require.True(t, math.IsNaN(float64(odd)))
}
