package exchange

import (
	"bytes"
	"fmt"
	"os"
	"path/filepath"
	"testing"
	"testing/synctest"
	"time"

	"github.com/stretchr/testify/require"

	"echowright/library"
	"echowright/profiles"
	"echowright/profiles/emulator"
)

// A ground is what a cell of the matrix begins with: a device of which three
// slots count, and a library with a snapshot of them from the time before two of
// them were overwritten.
type ground struct {
	device   string
	home     string // the library; cells work on copies
	image    []byte // the device's memory
	snapshot string
	intent   string // what is in the journal, "" where there is nothing
	slots    []int
	setting  profiles.Setting // that is pushed to the first of them
	pushed   []byte           // the same as a memory
	factory  map[int][]byte   // what the snapshot holds
	before   map[int][]byte   // what each slot held before anything in the journal was begun
	now      map[int][]byte   // what each slot holds
	kept     map[string]bool  // snapshots that are there already
}

// newGround makes it with a healthy device.
func newGround(t *testing.T, device, home string) *ground {
	t.Helper()
	g := &ground{device: device, home: home, slots: []int{2, 5, 9}, factory: map[int][]byte{}, kept: map[string]bool{}}
	synctest.Test(t, func(t *testing.T) {
		b := connect(t, g, home, nil, emulator.Options{}, &tap{})
		defer b.end(t)
		for _, n := range g.slots {
			g.factory[n] = b.memory(t, n)
		}
		backup, err := b.Backup(t.Context(), g.slots, BackupOptions{})
		require.NoError(t, err)
		g.snapshot = backup.Snapshot
		for i, n := range g.slots[1:] {
			_, err := b.Push(t.Context(), n, settingFor(b.Device, i), PushOptions{})
			require.NoError(t, err)
		}
		g.setting = settingFor(b.Device, 2)
		g.pushed = b.Device.AppendSlot(nil, g.setting)
		g.now = b.all(t)
		g.before, g.image = g.now, b.unit.Image()
	})
	g.note(t)
	return g
}

// interrupted is a ground on which a restore was broken off by a cable that was
// pulled, with one slot written and the other as it was.
func (g *ground) interrupted(t *testing.T, home string) *ground {
	t.Helper()
	for n := 1; ; n++ {
		require.Less(t, n, 100, "a restore has so many messages")
		broken := *g
		broken.home = filepath.Join(home, fmt.Sprint(n))
		broken.kept = map[string]bool{}
		require.NoError(t, os.CopyFS(broken.home, os.DirFS(g.home)))
		var a account
		synctest.Test(t, func(t *testing.T) {
			b := connect(t, g, broken.home, g.image, emulator.Options{}, &tap{pullAfter: n})
			a = restoreJob(t.Context(), b.Session, g)
			b.end(t)
			broken.now, broken.image = b.all(t), b.unit.Image()
		})
		first, second := g.slots[1], g.slots[2]
		if a.intent != "" && bytes.Equal(broken.now[first], g.factory[first]) && bytes.Equal(broken.now[second], g.now[second]) {
			broken.intent = a.intent
			broken.note(t)
			return &broken
		}
	}
}

// note remembers which snapshots are there.
func (g *ground) note(t *testing.T) {
	t.Helper()
	shelf, err := library.Open(g.home, time.Now)
	require.NoError(t, err)
	all, err := shelf.Snapshots()
	require.NoError(t, err)
	for _, s := range all {
		g.kept[s.Name] = true
	}
}

// all is what every slot holds.
func (b *bench) all(t *testing.T) map[int][]byte {
	t.Helper()
	all := map[int][]byte{}
	for n := range b.unit.Slots() {
		all[n] = b.memory(t, n)
	}
	return all
}

// settingFor is a setting that no slot of the device holds from the factory.
func settingFor(d *profiles.Device, n int) profiles.Setting {
	s := d.Rest()
	for parameter, code := range map[string]int{
		"a-time": 1210 + n, "a-level": 107, "dry-level": 121, // of the five-line unit
		"tap-1-time": 2500 + n, "tap-1-level": 900, "feedback": 400, // of the open-parameter unit
	} {
		if i := d.Parameter(parameter); i >= 0 {
			s.Codes[i] = code
		}
	}
	if d.Name == "five-line" {
		s.Name = "slack tide"
	}
	return s
}

// inMemory is a folder for libraries: what the disk does to them is tried
// elsewhere, here it would only take its time.
func inMemory(t *testing.T) string {
	t.Helper()
	const memory = "/dev/shm"
	if info, err := os.Stat(memory); err != nil || !info.IsDir() {
		return t.TempDir()
	}
	folder, err := os.MkdirTemp(memory, "echowright-")
	if err != nil {
		return t.TempDir()
	}
	t.Cleanup(func() { require.NoError(t, os.RemoveAll(folder)) })
	return folder
}
