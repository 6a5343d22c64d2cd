package cli

import (
	"context"
	"maps"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"testing/synctest"

	"github.com/stretchr/testify/require"

	"echowright/midi/port"
	"echowright/profiles/emulator"
)

// A bench is a device that keeps its memory from one run of the program to the
// next, on the port "bench:device", and a library that does so too. Its time is
// that of a synctest bubble.
type bench struct {
	Env
	device *emulator.Unit
	model  string
	plug   func(*emulator.Unit) // in, in place of the one that is there
}

// onBench runs a test at a bench with a five-line unit that has an illness.
func onBench(t *testing.T, ill emulator.Options, test func(*testing.T, bench)) {
	t.Helper()
	onBenchOf(t, "five-line", ill, test)
}

// onBenchOf is onBench with another model.
func onBenchOf(t *testing.T, model string, ill emulator.Options, test func(*testing.T, bench)) {
	t.Helper()
	synctest.Test(t, func(t *testing.T) {
		d, err := emulator.New(model, ill)
		require.NoError(t, err)
		b := bench{Env: world(t), device: d, model: model, plug: func(u *emulator.Unit) { d = u }}
		b.Ports = maps.Clone(b.Ports)
		b.Ports["bench"] = func(context.Context, string) (port.Port, error) {
			near, far := port.Pipe("bench:device")
			go func() {
				defer far.Close()
				_ = emulator.Serve(t.Context(), far, d) // until the near end is closed
			}()
			return near, nil
		}
		test(t, b)
		synctest.Wait()
	})
}

// repaired is the bench with a healthy device that has the same memory.
func (b bench) repaired(t *testing.T) bench {
	t.Helper()
	healthy, err := emulator.New(b.model, emulator.Options{})
	require.NoError(t, err)
	require.NoError(t, healthy.SetImage(b.device.Image()))
	b.plug(healthy)
	b.device = healthy
	return b
}

// with runs a command with the device on the bench.
func (b bench) with(t *testing.T, args ...string) said {
	t.Helper()
	return b.run(t, append(args, "--device", b.model, "--port", "bench:device")...)
}

// memories is all that the device holds.
func (b bench) memories(t *testing.T) (all [][]byte) {
	t.Helper()
	for slot := emulator.EditBuffer; slot < b.device.Slots(); slot++ {
		m, err := b.device.Memory(slot)
		require.NoError(t, err)
		all = append(all, m)
	}
	return all
}

// shelf lists the files of the library with their content; the lock is none.
func (b bench) shelf(t *testing.T) map[string]string {
	t.Helper()
	home := b.Getenv("ECHOWRIGHT_HOME")
	all := map[string]string{}
	require.NoError(t, filepath.WalkDir(home, func(path string, e os.DirEntry, err error) error {
		if os.IsNotExist(err) || e.IsDir() || strings.HasSuffix(e.Name(), "lock") {
			return nil
		}
		text, err := os.ReadFile(path)
		all[path] = string(text)
		return err
	}))
	return all
}

func readAll(t *testing.T, path string) []byte {
	t.Helper()
	text, err := os.ReadFile(path)
	require.NoError(t, err)
	return text
}
