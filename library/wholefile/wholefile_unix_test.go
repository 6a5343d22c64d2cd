//go:build unix

package wholefile

import (
	"bytes"
	"fmt"
	"io/fs"
	"os"
	"os/exec"
	"os/signal"
	"path/filepath"
	"strings"
	"syscall"
	"testing"
	"time"

	"github.com/stretchr/testify/require"
)

// The test binary calls itself to be limited, powerless or killed in a process
// of its own.
const childKey = "ECHOWRIGHT_TEST_CHILD"

func TestMain(m *testing.M) {
	if role := os.Getenv(childKey); role != "" {
		child(role, os.Args[1])
		return
	}
	os.Exit(m.Run())
}

func child(role, path string) {
	switch role {
	case "limited": // files of 4096 bytes at most, as on a disk that is full
		signal.Ignore(syscall.SIGXFSZ)
		if err := syscall.Setrlimit(syscall.RLIMIT_FSIZE, &syscall.Rlimit{Cur: 4096, Max: 4096}); err != nil {
			fmt.Println("cannot limit:", err)
			return
		}
	case "powerless":
		if os.Getuid() == 0 {
			if err := syscall.Setuid(65534); err != nil {
				fmt.Println("cannot become nobody:", err)
				return
			}
		}
	case "busy": // until killed
		for i := 0; ; i++ {
			_ = Write(path, bytes.Repeat([]byte{"ab"[i%2]}, 200_000), 0o600)
		}
	}
	fmt.Println(Write(path, bytes.Repeat([]byte("x"), 100_000), 0o600))
}

func asChild(role, path string) *exec.Cmd {
	command := exec.Command(os.Args[0], path)
	command.Env = append(os.Environ(), childKey+"="+role)
	return command
}

func TestPermissionBitsAreThoseAskedForWithinTheUmask(t *testing.T) {
	old := syscall.Umask(0o027)
	defer syscall.Umask(old)
	folder := t.TempDir()
	for _, c := range []struct{ perm, want, folder fs.FileMode }{
		{0o644, 0o640, 0o750}, {0o600, 0o600, 0o700}, {0o666, 0o640, 0o750},
	} {
		path := filepath.Join(folder, fmt.Sprintf("%o", c.perm))
		require.NoError(t, Write(path, nil, c.perm))
		info, err := os.Stat(path)
		require.NoError(t, err)
		require.Equal(t, c.want, info.Mode().Perm())

		require.NoError(t, CreateFolder(path+"-folder", nil, c.perm))
		info, err = os.Stat(path + "-folder")
		require.NoError(t, err)
		require.Equal(t, c.folder, info.Mode().Perm())
	}
}

func TestAFullDiskLeavesTheOldFileAndNothingElse(t *testing.T) {
	folder := t.TempDir()
	path := filepath.Join(folder, "a.toml")
	require.NoError(t, Write(path, []byte("old"), 0o600))
	said, err := asChild("limited", path).Output()
	require.NoError(t, err, "%s", said)
	require.Equal(t, "writing "+path+": file too large; it is larger than this disk or account allows\n", string(said))
	require.Equal(t, "old", content(t, path))
	requireOnly(t, folder, "a.toml")

	// What a disk without room says is the same but for the number of the error.
	require.EqualError(t, Explain(path, &fs.PathError{Op: "write", Path: "temp", Err: syscall.ENOSPC}),
		"writing "+path+": no space left on device; make room on the disk")
	require.ErrorContains(t, Explain(path, &os.LinkError{Op: "rename", Old: "a", New: "b", Err: syscall.EROFS}),
		"writing "+path+": read-only file system; the disk is read-only")
}

func TestAFolderWithoutTheRightToWrite(t *testing.T) {
	folder := t.TempDir()
	require.NoError(t, os.Chmod(filepath.Dir(folder), 0o755)) // nobody must be able to get there
	path := filepath.Join(folder, "a.toml")
	require.NoError(t, Write(path, []byte("old"), 0o644))
	require.NoError(t, os.Chmod(folder, 0o555))
	defer os.Chmod(folder, 0o755)
	said, err := asChild("powerless", path).Output()
	require.NoError(t, err, "%s", said)
	require.Equal(t, "writing "+path+": permission denied; ask for the right to write into that folder, or choose another place\n", string(said))
	require.Equal(t, "old", content(t, path))
	requireOnly(t, folder, "a.toml")
}

func TestKilledInTheMiddleLeavesOneOrTheOther(t *testing.T) {
	folder := t.TempDir()
	path := filepath.Join(folder, "a")
	for i := range 20 {
		command := asChild("busy", path)
		require.NoError(t, command.Start())
		for begin := time.Now(); i == 0; { // until it has begun
			if _, err := os.Stat(path); err == nil {
				break
			}
			require.Less(t, time.Since(begin), 10*time.Second)
		}
		time.Sleep(time.Duration(5+3*i) * time.Millisecond) // a real process cannot be killed on a clock of ours
		require.NoError(t, command.Process.Kill())
		_ = command.Wait() // says that it was killed

		got := content(t, path)
		require.Len(t, got, 200_000)
		require.Equal(t, strings.Repeat(got[:1], 200_000), got)
	}
	require.NoError(t, Clean(folder))
	requireOnly(t, folder, "a")
}
