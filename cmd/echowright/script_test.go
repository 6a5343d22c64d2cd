package main

import (
	"crypto/sha256"
	"encoding/binary"
	"errors"
	"flag"
	"fmt"
	"io/fs"
	"math"
	"os"
	"os/exec"
	"path/filepath"
	"runtime"
	"strconv"
	"strings"
	"testing"
	"time"

	"github.com/rogpeppe/go-internal/testscript"

	"echowright/examples"
)

// TestMain lets the test binary be the program itself, so that scripts run it in
// processes of its own.
func TestMain(m *testing.M) {
	// Most of a script's time is the wire's, not the processor's; -parallel still counts.
	_ = flag.Set("test.parallel", strconv.Itoa(4*runtime.GOMAXPROCS(0)))
	testscript.Main(m, map[string]func(){"echowright": main})
}

// TestScripts runs the program as a person would: each script is one afternoon
// with it, in an empty folder and with an empty library.
func TestScripts(t *testing.T) {
	shipped, err := filepath.Abs("../../examples")
	if err != nil {
		t.Fatal(err)
	}
	testscript.Run(t, testscript.Params{
		Dir: "testdata/script",
		Setup: func(e *testscript.Env) error {
			e.Setenv("ECHOWRIGHT_HOME", e.Cd+"/library")
			e.Setenv("EXAMPLES", shipped)
			e.Values[devicesKey] = devices{}
			return nil
		},
		Cmds: map[string]func(*testscript.TestScript, bool, []string){
			"take": writeTake, "cut": cutFile, "appears": awaitFile,
			"remember": remember, "unchanged": unchanged,
			"device": startDevice, "clock": startClock, "exits": exits, "machine": playThrough,
		},
	})
}

// exits runs a command that has to end with an exit code: "exits CODE COMMAND…".
// What it said can be looked at afterwards.
func exits(ts *testscript.TestScript, _ bool, args []string) {
	if len(args) < 2 {
		ts.Fatalf("usage: exits CODE COMMAND…")
	}
	want, err := strconv.Atoi(args[0])
	ts.Check(err)
	code := 0
	var ended *exec.ExitError
	if err := ts.Exec(args[1], args[2:]...); errors.As(err, &ended) {
		code = ended.ExitCode()
	} else {
		ts.Check(err)
	}
	if code != want {
		ts.Fatalf("exit code %d, wanted %d", code, want)
	}
}

// writeTake writes a WAV file: "take FILE KIND", see takes.
func writeTake(ts *testscript.TestScript, _ bool, args []string) {
	if len(args) != 2 {
		ts.Fatalf("usage: take FILE KIND")
	}
	make, ok := takes[args[1]]
	if !ok {
		ts.Fatalf("no kind of take %q", args[1])
	}
	ts.Check(os.WriteFile(ts.MkAbs(args[0]), make(), 0o644))
}

// The takes that scripts can ask for.
var takes = map[string]func() []byte{
	"example":     func() []byte { return examples.Take },
	"empty":       func() []byte { return nil },
	"silence":     func() []byte { return wav(1, 48000, make([]int16, 2*48000)) },
	"short":       func() []byte { return wav(1, 48000, note(2000, 0)) },
	"clicks":      func() []byte { return wav(1, 48000, note(5*24000, 0.5)) },
	"no-echo":     func() []byte { return wav(1, 48000, note(5*24000, 0)) },
	"no-channels": func() []byte { return wav(0, 48000, note(48000, 0.5)) },
	"two-alike":   func() []byte { return wav(2, 48000, interleaved(note(5*24000, 0.5), note(4*48000, 0.5))) },
	"two-others":  func() []byte { return wav(2, 48000, interleaved(note(5*24000, 0), note(4*48000, 0.5))) },
}

// note is a damped note at 0.5 s with three echoes, so much below it, at 120, 250
// and 390 ms and their repeats from the last at half. Its noise is a fixed
// sequence, some 70 dB below.
func note(samples int, level float64) []int16 {
	const rate = 48000
	out := make([]float64, samples)
	noise := uint32(1)
	dry := func(i int) float64 {
		t := float64(i) / rate
		if t < 0 {
			return 0
		}
		v := 0.0
		for h := 1.0; h < 12; h++ {
			v += math.Sin(2*math.Pi*h*196.2*t+h*h) / h * math.Exp(-t*(60+5*h))
		}
		return v * (1 - math.Exp(-t*4000))
	}
	for i := range out {
		at := i - rate/2
		v := dry(at)
		for turn, gain := 0, level; turn < 8 && gain > 0; turn, gain = turn+1, gain/2 {
			late := at - turn*390*rate/1000
			v += gain * (0.5*dry(late-120*rate/1000) + dry(late-250*rate/1000) + 0.8*dry(late-390*rate/1000))
		}
		noise = noise*1664525 + 1013904223
		out[i] = v*0.3 + 1e-4*(float64(noise)/math.MaxUint32-0.5)
	}
	pcm := make([]int16, samples)
	for i, v := range out {
		pcm[i] = int16(math.Round(32767 * math.Max(-1, math.Min(1, v))))
	}
	return pcm
}

func interleaved(a, b []int16) []int16 {
	var out []int16
	for i := range a {
		out = append(out, a[i], b[i])
	}
	return out
}

// wav is a WAV file of 16 bits: RIFF, a fmt chunk of 16 bytes, a data chunk
// (Multimedia Programming Interface and Data Specifications 1.0, 1991).
func wav(channels, rate int, samples []int16) []byte {
	b := []byte("RIFF----WAVEfmt ")
	le := binary.LittleEndian
	le.PutUint32(b[4:], uint32(36+2*len(samples)))
	b = le.AppendUint32(b, 16)
	b = le.AppendUint16(b, 1) // PCM
	b = le.AppendUint16(b, uint16(channels))
	b = le.AppendUint32(b, uint32(rate))
	b = le.AppendUint32(b, uint32(rate*channels*2))
	b = le.AppendUint16(b, uint16(channels*2))
	b = le.AppendUint16(b, 16)
	b = append(b, "data"...)
	b = le.AppendUint32(b, uint32(2*len(samples)))
	for _, s := range samples {
		b = le.AppendUint16(b, uint16(s))
	}
	return b
}

// cutFile keeps the first bytes of a file: "cut FILE BYTES".
func cutFile(ts *testscript.TestScript, _ bool, args []string) {
	if len(args) != 2 {
		ts.Fatalf("usage: cut FILE BYTES")
	}
	n, err := strconv.ParseInt(args[1], 10, 64)
	ts.Check(err)
	ts.Check(os.Truncate(ts.MkAbs(args[0]), n))
}

// awaitFile waits until there is a file: "appears FILE", or one whose name fits a
// pattern.
func awaitFile(ts *testscript.TestScript, _ bool, args []string) {
	if len(args) != 1 {
		ts.Fatalf("usage: appears PATTERN")
	}
	const patience = 20 * time.Second
	for began := time.Now(); time.Since(began) < patience; time.Sleep(10 * time.Millisecond) {
		found, err := filepath.Glob(ts.MkAbs(args[0]))
		ts.Check(err)
		if len(found) > 0 {
			return
		}
	}
	ts.Fatalf("%s did not appear within %v", args[0], patience)
}

// remembered is where a folder's content is noted between two commands.
const remembered = ".remembered"

// remember notes all that is in a folder, or in a device: "remember FOLDER".
func remember(ts *testscript.TestScript, _ bool, args []string) {
	ts.Setenv(remembered+args[0], content(ts, args[0]))
}

// unchanged fails if it now holds anything else: "unchanged FOLDER".
func unchanged(ts *testscript.TestScript, _ bool, args []string) {
	before, now := ts.Getenv(remembered+args[0]), content(ts, args[0])
	if before == "" || before != now {
		ts.Fatalf("%s was\n%s\nand is\n%s", args[0], before, now)
	}
}

// content lists every file of a folder with its hash; the lock is no content.
func content(ts *testscript.TestScript, folder string) string {
	if d, ok := ts.Value(devicesKey).(devices)[folder]; ok {
		return memories(ts, d)
	}
	var list strings.Builder
	root := ts.MkAbs(folder)
	err := filepath.WalkDir(root, func(path string, e fs.DirEntry, err error) error {
		if err != nil || e.IsDir() || strings.HasSuffix(path, "lock") {
			return err
		}
		text, err := os.ReadFile(path)
		fmt.Fprintf(&list, "%s %x\n", strings.TrimPrefix(path, root), sha256.Sum256(text))
		return err
	})
	if !errors.Is(err, fs.ErrNotExist) {
		ts.Check(err)
	}
	return "of " + folder + ":\n" + list.String()
}
