package fileport_test

import (
	"context"
	"os"
	"path/filepath"
	"testing"

	"github.com/stretchr/testify/require"

	"echowright/midi/port"
	"echowright/midi/port/fileport"
	"echowright/midi/port/porttest"
)

func TestFile(t *testing.T) {
	porttest.RunWriteOnly(t, func(t *testing.T) (port.Port, func() ([]byte, error)) {
		path := filepath.Join(t.TempDir(), "slot.syx")
		f, err := fileport.Open(t.Context(), path)
		require.NoError(t, err)
		return f, func() ([]byte, error) { return os.ReadFile(path) }
	})
}

func names(t *testing.T, folder string) []string {
	t.Helper()
	entries, err := os.ReadDir(folder)
	require.NoError(t, err)
	var out []string
	for _, e := range entries {
		out = append(out, e.Name())
	}
	return out
}

func TestWholeOrNotAtAll(t *testing.T) {
	folder := t.TempDir()
	path := filepath.Join(folder, "slot.SYX")
	f, err := fileport.Open(t.Context(), path)
	require.NoError(t, err)
	require.NoError(t, f.Send(t.Context(), []byte{0xF0, 0x7D}))
	require.Empty(t, names(t, folder), "nothing is there before Close")
	require.NoError(t, f.Send(t.Context(), []byte{0xF7}))
	require.NoError(t, f.Close())
	require.Equal(t, []string{"slot.SYX"}, names(t, folder))
	got, err := os.ReadFile(path)
	require.NoError(t, err)
	require.Equal(t, []byte{0xF0, 0x7D, 0xF7}, got)
}

func TestNothingIsLeftBehind(t *testing.T) {
	folder := t.TempDir()
	f, err := fileport.Open(t.Context(), filepath.Join(folder, "a.syx"))
	require.NoError(t, err)
	require.NoError(t, f.Close(), "nothing was sent")
	require.ErrorIs(t, f.Send(t.Context(), []byte{0xF8}), port.ErrClosed)
	require.Empty(t, names(t, folder))
}

func TestTheFolderGoesAway(t *testing.T) {
	folder := filepath.Join(t.TempDir(), "gone")
	require.NoError(t, os.Mkdir(folder, 0o755))
	f, err := fileport.Open(t.Context(), filepath.Join(folder, "a.syx"))
	require.NoError(t, err)
	require.NoError(t, f.Send(t.Context(), []byte{0xF8}))
	require.NoError(t, os.Remove(folder))
	err = f.Close()
	require.ErrorIs(t, err, os.ErrNotExist)
	require.ErrorContains(t, err, "nothing was written")
	require.Equal(t, err, f.Close(), "closing again says the same")
}

func TestNothingIsOverwritten(t *testing.T) {
	path := filepath.Join(t.TempDir(), "mine.syx")
	late, err := fileport.Open(t.Context(), path)
	require.NoError(t, err)
	require.NoError(t, late.Send(t.Context(), []byte{0xF8}))
	require.NoError(t, os.WriteFile(path, []byte("mine"), 0o600))

	_, err = fileport.Open(t.Context(), path)
	require.ErrorIs(t, err, os.ErrExist)
	require.ErrorContains(t, err, "nothing is overwritten")
	require.ErrorIs(t, late.Close(), os.ErrExist, "nor what came after opening")
	got, err := os.ReadFile(path)
	require.NoError(t, err)
	require.Equal(t, "mine", string(got))
}

func TestOpenSaysWhatIsWrong(t *testing.T) {
	folder := t.TempDir()
	for _, tc := range []struct {
		path string
		kind error
		want string
	}{
		{"slot.mid", port.ErrUnsupported, `the name "slot.mid" does not end in .syx: not supported; name the file ` + filepath.Join(folder, "slot.syx")},
		{"none/slot.syx", port.ErrNotThere, "there is no folder " + filepath.Join(folder, "none") + "; make it first"},
	} {
		_, err := fileport.Open(t.Context(), filepath.Join(folder, tc.path))
		require.ErrorIs(t, err, tc.kind)
		require.ErrorContains(t, err, tc.want)
	}
	ended, cancel := context.WithCancel(t.Context())
	cancel()
	_, err := fileport.Open(ended, filepath.Join(folder, "a.syx"))
	require.ErrorIs(t, err, context.Canceled)
}
