package wholefile

import (
	"bytes"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"path/filepath"
	"runtime"
	"sync"
	"syscall"
	"testing"

	"github.com/stretchr/testify/require"
)

func content(t *testing.T, path string) string {
	t.Helper()
	b, err := os.ReadFile(path)
	require.NoError(t, err)
	return string(b)
}

// requireOnly says that nothing but these names is left in the folder.
func requireOnly(t *testing.T, folder string, names ...string) {
	t.Helper()
	entries, err := os.ReadDir(folder)
	require.NoError(t, err)
	var got []string
	for _, e := range entries {
		got = append(got, e.Name())
	}
	require.Equal(t, names, got)
}

func TestWriteAndWriteAgain(t *testing.T) {
	folder := t.TempDir()
	path := filepath.Join(folder, "a.toml")
	require.NoError(t, Write(path, []byte("old"), 0o644))
	require.NoError(t, Write(path, []byte("new"), 0o644))
	require.Equal(t, "new", content(t, path))
	requireOnly(t, folder, "a.toml")
}

func TestCreateReplacesNothing(t *testing.T) {
	folder := t.TempDir()
	path := filepath.Join(folder, "a.toml")
	require.NoError(t, Create(path, []byte("first"), 0o644))
	err := Create(path, []byte("second"), 0o644)
	require.ErrorIs(t, err, fs.ErrExist)
	require.EqualError(t, err, "writing "+path+": file already exists; choose another name")
	require.Equal(t, "first", content(t, path))
	requireOnly(t, folder, "a.toml")
}

func TestOfManyCreatorsOneWins(t *testing.T) {
	folder := t.TempDir()
	path := filepath.Join(folder, "a.toml")
	const many = 32
	errs := make([]error, many)
	var group sync.WaitGroup
	for i := range many {
		group.Go(func() { errs[i] = Create(path, fmt.Append(nil, i), 0o644) })
	}
	group.Wait()
	won := -1
	for i, err := range errs {
		if err == nil {
			require.Equal(t, -1, won, "two won")
			won = i
			continue
		}
		require.ErrorIs(t, err, fs.ErrExist)
	}
	require.Equal(t, fmt.Sprint(won), content(t, path))
	requireOnly(t, folder, "a.toml")
}

func TestCreateFolder(t *testing.T) {
	home := t.TempDir()
	path := filepath.Join(home, "snapshot")
	files := map[string][]byte{"manifest.toml": []byte("m"), "slot-00.syx": {0xF0, 0xF7}}
	require.NoError(t, CreateFolder(path, files, 0o644))
	require.Equal(t, "m", content(t, filepath.Join(path, "manifest.toml")))
	require.Equal(t, "\xf0\xf7", content(t, filepath.Join(path, "slot-00.syx")))

	require.ErrorIs(t, CreateFolder(path, nil, 0o644), fs.ErrExist)
	requireOnly(t, path, "manifest.toml", "slot-00.syx")

	empty := filepath.Join(home, "empty")
	require.NoError(t, os.Mkdir(empty, 0o755))
	require.ErrorIs(t, CreateFolder(empty, files, 0o644), fs.ErrExist, "an empty folder is a folder too")

	err := CreateFolder(filepath.Join(home, "wrong"), map[string][]byte{"no/such/folder": nil}, 0o644)
	require.ErrorIs(t, err, fs.ErrNotExist)
	requireOnly(t, home, "empty", "snapshot")
}

func TestMakeFolder(t *testing.T) {
	path := filepath.Join(t.TempDir(), "a", "b", "c")
	for range 2 {
		require.NoError(t, MakeFolder(path))
		require.DirExists(t, path)
	}
	file := filepath.Join(path, "file")
	require.NoError(t, Write(file, nil, 0o600))
	require.ErrorIs(t, MakeFolder(file), syscall.ENOTDIR)
	require.ErrorContains(t, MakeFolder(filepath.Join(file, "d")), "a folder in its path is a file: choose another place")
	if runtime.GOOS == "linux" { // where /proc holds what runs, and nothing else: proc(5)
		require.ErrorContains(t, MakeFolder("/proc/library/ports"), "no folder can be made in /proc: choose another place (")
	}
}

func TestErrorsNameThePathAndTheNextStep(t *testing.T) {
	folder := t.TempDir()
	file := filepath.Join(folder, "file")
	require.NoError(t, os.WriteFile(file, []byte("content"), 0o600))
	for _, c := range []struct {
		name, path string
		is         error
		want       string
	}{
		{"folder not there", filepath.Join(folder, "none", "a"), fs.ErrNotExist, "its folder is not there: make it"},
		{"folder is a file", filepath.Join(file, "a"), syscall.ENOTDIR, "a folder in its path is a file"},
		{"file is a folder", folder, nil, "file exists"},
	} {
		t.Run(c.name, func(t *testing.T) {
			err := Write(c.path, []byte("x"), 0o600)
			require.ErrorContains(t, err, "writing "+c.path+": ")
			require.ErrorContains(t, err, c.want)
			require.NotContains(t, err.Error(), Prefix)
			if c.is != nil {
				require.ErrorIs(t, err, c.is)
			}
		})
	}
	requireOnly(t, folder, "file")
}

func TestCleanTakesAwayLeftoversAlone(t *testing.T) {
	folder := t.TempDir()
	require.NoError(t, os.MkdirAll(filepath.Join(folder, Prefix+"1", "deep"), 0o755))
	for _, name := range []string{Prefix + "2", ".git", "a.toml", "x" + Prefix} {
		require.NoError(t, os.WriteFile(filepath.Join(folder, name), nil, 0o600))
	}
	require.NoError(t, Clean(folder))
	requireOnly(t, folder, ".git", "a.toml", "x"+Prefix)
	require.NoError(t, Clean(filepath.Join(folder, "none")))
}

// A reader in the middle of many writes sees one text or another, never a part.
func TestNobodySeesAPart(t *testing.T) {
	path := filepath.Join(t.TempDir(), "a")
	texts := [][]byte{bytes.Repeat([]byte("a"), 70_000), bytes.Repeat([]byte("b"), 50_000)}
	require.NoError(t, Write(path, texts[0], 0o600))
	done := make(chan error)
	go func() {
		for i := range 100 {
			if err := Write(path, texts[i%2], 0o600); err != nil {
				done <- err
				return
			}
		}
		done <- nil
	}()
	for {
		select {
		case err := <-done:
			require.NoError(t, err)
			return
		default:
			got, err := os.ReadFile(path)
			require.NoError(t, err)
			require.True(t, bytes.Equal(got, texts[0]) || bytes.Equal(got, texts[1]))
		}
	}
}

func TestAStreamIsWholeOrNotThere(t *testing.T) {
	folder := t.TempDir()
	path := filepath.Join(folder, "a.wav")
	pieces := func(n int, last error) func(io.Writer) error {
		return func(w io.Writer) error {
			for range n {
				if _, err := io.WriteString(w, "piece "); err != nil {
					return err
				}
			}
			return last
		}
	}
	stopped := errors.New("stopped in the middle")
	require.ErrorIs(t, Stream(path, 0o644, pieces(2, stopped)), stopped)
	requireOnly(t, folder)
	require.NoError(t, Stream(path, 0o644, pieces(3, nil)))
	require.Equal(t, "piece piece piece ", content(t, path))
	err := Stream(path, 0o644, pieces(2, stopped))
	require.ErrorIs(t, err, stopped)
	require.ErrorContains(t, err, "writing "+path)
	require.Equal(t, "piece piece piece ", content(t, path), "what was there stays")
	requireOnly(t, folder, "a.wav")
}

func TestRemoveTakesAFolderAwayWithAllInIt(t *testing.T) {
	home := t.TempDir()
	path := filepath.Join(home, "intent")
	require.NoError(t, CreateFolder(path, map[string][]byte{"intent.toml": []byte("i"), "slot-00.bin": {1}}, 0o644))
	require.NoError(t, CreateFolder(path+"-2", nil, 0o644))
	require.NoError(t, Remove(path))
	requireOnly(t, home, "intent-2")
	err := Remove(path)
	require.ErrorIs(t, err, fs.ErrNotExist)
	require.ErrorContains(t, err, "writing "+path+": ")
	require.NotContains(t, err.Error(), Prefix)
}

func TestMove(t *testing.T) {
	home := t.TempDir()
	from, to := filepath.Join(home, "units", "a"), filepath.Join(home, "trash", "a")
	require.NoError(t, MakeFolder(filepath.Dir(from)))
	require.NoError(t, MakeFolder(filepath.Dir(to)))
	require.NoError(t, Write(from, []byte("text"), 0o644))
	require.NoError(t, Move(from, to))
	require.Equal(t, "text", content(t, to))
	requireOnly(t, filepath.Dir(from))

	require.ErrorIs(t, Move(from, to), fs.ErrNotExist)
	require.Equal(t, "text", content(t, to))
	require.ErrorContains(t, Move(to, filepath.Join(home, "none", "a")), "its folder is not there: make it")
	require.Equal(t, "text", content(t, to), "on error it is where it was")
}
