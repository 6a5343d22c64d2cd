package library

import (
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"syscall"
	"testing"
	"time"

	"github.com/stretchr/testify/require"
)

// insideKey is set where a test runs again with mounts of its own.
const insideKey = "ECHOWRIGHT_TEST_INSIDE"

// onDisks runs a test in a process that may mount small disks that nobody else
// sees. Where the system does not allow that, it is passed over.
func onDisks(t *testing.T, test func(t *testing.T)) {
	t.Helper()
	if os.Getenv(insideKey) != "" {
		test(t)
		return
	}
	command := exec.Command(os.Args[0], "-test.run=^"+t.Name()+"$", "-test.v")
	command.Env = append(os.Environ(), insideKey+"=1")
	command.SysProcAttr = &syscall.SysProcAttr{
		Cloneflags:  syscall.CLONE_NEWUSER | syscall.CLONE_NEWNS,
		UidMappings: []syscall.SysProcIDMap{{ContainerID: 0, HostID: os.Getuid(), Size: 1}},
		GidMappings: []syscall.SysProcIDMap{{ContainerID: 0, HostID: os.Getgid(), Size: 1}},
	}
	out, err := command.CombinedOutput()
	if command.ProcessState == nil {
		t.Skipf("SKIP: this system allows no mounts of one's own: %v", err)
	}
	require.NoError(t, err, "%s", out)
	if strings.Contains(string(out), "--- SKIP: "+t.Name()) {
		t.Skipf("%s", out)
	}
	require.Contains(t, string(out), "--- PASS: "+t.Name())
	t.Logf("%s", out)
}

// A disk is a library's own, in memory.
type disk struct {
	t    *testing.T
	path string
}

func mountDisk(t *testing.T) disk {
	t.Helper()
	path := t.TempDir()
	if err := syscall.Mount("tmpfs", path, "tmpfs", 0, "size=1m,nr_inodes=200"); err != nil {
		t.Skipf("SKIP: no disk can be mounted here: %v", err)
	}
	t.Cleanup(func() { require.NoError(t, syscall.Unmount(path, syscall.MNT_DETACH)) })
	// Room for no page at all would mean as many as one likes.
	require.NoError(t, os.WriteFile(filepath.Join(path, "one-page"), []byte("x"), 0o600))
	return disk{t, path}
}

// room leaves so many files, or pages of content, beyond what is there.
func (d disk) room(files, pages uint64) {
	d.t.Helper()
	var now syscall.Statfs_t
	require.NoError(d.t, syscall.Statfs(d.path, &now))
	options := fmt.Sprintf("nr_inodes=%d,nr_blocks=%d", now.Files-now.Ffree+files, now.Blocks-now.Bfree+pages)
	require.NoError(d.t, syscall.Mount("", d.path, "", syscall.MS_REMOUNT, options))
}

const plenty = 100

func (d disk) library() *Library {
	d.t.Helper()
	l, err := Open(filepath.Join(d.path, "shelf"), func() time.Time { return evening })
	require.NoError(d.t, err)
	return l
}

// However little room the disk has left, a work is done or all is as before, and
// what is lacking is told.
func TestADiskThatIsFull(t *testing.T) {
	onDisks(t, func(t *testing.T) {
		for name, w := range works() {
			for _, lacking := range []string{"files", "pages"} {
				full := 0
				for left := uint64(0); ; left++ {
					d := mountDisk(t)
					l := d.library()
					if w.prepare != nil {
						w.prepare(t, l)
					}
					if lacking == "files" {
						d.room(left, plenty)
					} else {
						d.room(plenty, left)
					}
					err := w.do(t.Context(), l)
					require.Equal(t, err == nil, w.done(t, l), "%s: %v", name, err)
					if err == nil {
						break
					}
					full++
					require.ErrorContains(t, err, "no space left on device; make room on the disk", name)
					if _, err := os.Stat(l.Home()); err == nil {
						requireNoLeftovers(t, l)
					}
					d.room(plenty, plenty)
					requireRedone(t, l, w)
				}
				t.Logf("%s: a disk with too few %s %d times", name, lacking, full)
				require.True(t, full > 0 || name == "finish", "%s never lacked %s", name, lacking)
			}
		}
	})
}

func TestADiskThatIsReadOnly(t *testing.T) {
	onDisks(t, func(t *testing.T) {
		for name, w := range works() {
			d := mountDisk(t)
			l := d.library()
			if w.prepare != nil {
				w.prepare(t, l)
			}
			require.NoError(t, syscall.Mount("", d.path, "", syscall.MS_REMOUNT|syscall.MS_RDONLY, ""))
			err := w.do(t.Context(), l)
			require.ErrorIs(t, err, syscall.EROFS, name)
			require.ErrorContains(t, err, "the disk is read-only: choose another place, or mount it for writing", name)
			require.False(t, w.done(t, l), name)
			_, err = l.LockPort("raw:/dev/snd/midiC1D0")
			require.ErrorContains(t, err, "the disk is read-only")

			require.NoError(t, syscall.Mount("", d.path, "", syscall.MS_REMOUNT, ""))
			requireRedone(t, l, w)
		}
	})
}
