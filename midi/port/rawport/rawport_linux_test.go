package rawport_test

import (
	"context"
	"net"
	"os"
	"path/filepath"
	"testing"

	"github.com/stretchr/testify/require"
	"golang.org/x/sys/unix"

	"echowright/midi/port"
	"echowright/midi/port/porttest"
	"echowright/midi/port/ptyport"
	"echowright/midi/port/rawport"
)

// terminal is a new pseudo terminal; where there is none the test is skipped.
func terminal(t *testing.T) *ptyport.Terminal {
	t.Helper()
	p, err := ptyport.Open()
	if err != nil {
		t.Skipf("no pseudo terminals here: %v", err)
	}
	t.Cleanup(func() { _ = p.Close() })
	return p
}

func pair(t *testing.T) (port.Port, port.Port) {
	far := terminal(t)
	near, err := rawport.Open(t.Context(), far.Path())
	require.NoError(t, err)
	return near, far
}

func TestRawTerminal(t *testing.T) {
	porttest.Run(t, porttest.Kind{Open: pair, HangUpDrops: true})
}

func TestPseudoTerminal(t *testing.T) {
	porttest.Run(t, porttest.Kind{SendIsDeaf: true, Open: func(t *testing.T) (port.Port, port.Port) {
		raw, pty := pair(t)
		return pty, raw
	}})
}

func TestOpenSaysWhatIsWrong(t *testing.T) {
	folder := t.TempDir()
	plain := filepath.Join(folder, "plain")
	require.NoError(t, os.WriteFile(plain, []byte("x"), 0o600))
	socket := filepath.Join(folder, "socket")
	l, err := net.Listen("unix", socket)
	require.NoError(t, err)
	defer l.Close()
	pipe := filepath.Join(folder, "pipe")
	require.NoError(t, unix.Mkfifo(pipe, 0o600))
	hungUp := terminal(t)
	require.NoError(t, hungUp.Close())

	for _, tc := range []struct {
		name, path string
		kind       error
		want       string
	}{
		{"nothing there", filepath.Join(folder, "midiC9D9"), port.ErrNotThere, "is it plugged in and switched on?"},
		{"below a file", filepath.Join(plain, "x"), port.ErrNotThere, "look at the path again"},
		{"a folder", folder, port.ErrNotThere, "that is a folder"},
		{"a plain file", plain, port.ErrNotThere, "it is no device but a plain file; name a device such as"},
		{"a named pipe", pipe, port.ErrNotThere, "it is no device but a named pipe"},
		{"a socket", socket, port.ErrNotThere, "for a socket write unix:PATH"},
		{"a terminal whose master is gone", hungUp.Path(), port.ErrNotThere, "port raw:" + hungUp.Path() + ": opening"},
	} {
		t.Run(tc.name, func(t *testing.T) {
			p, err := rawport.Open(t.Context(), tc.path)
			require.Nil(t, p)
			require.ErrorIs(t, err, tc.kind)
			require.ErrorContains(t, err, tc.want)
			require.ErrorContains(t, err, "port raw:"+tc.path+": opening: there is no such port")
		})
	}
	ended, cancel := context.WithCancel(t.Context())
	cancel()
	_, err = rawport.Open(ended, plain)
	require.ErrorIs(t, err, context.Canceled)
}

func TestNoPermission(t *testing.T) {
	if os.Geteuid() == 0 {
		t.Skip("root may open everything")
	}
	far := terminal(t)
	require.NoError(t, os.Chmod(far.Path(), 0))
	_, err := rawport.Open(t.Context(), far.Path())
	require.ErrorIs(t, err, port.ErrDenied)
	require.ErrorContains(t, err, "usermod")
}

func TestOneUserAtATime(t *testing.T) {
	far := terminal(t)
	require.NoError(t, far.Stay())
	first, err := rawport.Open(t.Context(), far.Path())
	require.NoError(t, err)
	_, err = rawport.Open(t.Context(), far.Path())
	require.ErrorIs(t, err, port.ErrBusy)
	require.ErrorContains(t, err, "close the other program")
	require.NoError(t, first.Send(t.Context(), []byte{0xFE}), "the first user is not disturbed")

	require.NoError(t, first.Close())
	second, err := rawport.Open(t.Context(), far.Path())
	require.NoError(t, err, "free again")
	require.NoError(t, second.Close())
}

// settings reads what a terminal does to its bytes.
func settings(t *testing.T, path string) *unix.Termios {
	t.Helper()
	f, err := os.OpenFile(path, os.O_RDWR|unix.O_NOCTTY, 0)
	require.NoError(t, err)
	defer f.Close()
	raw, err := f.SyscallConn()
	require.NoError(t, err)
	var got *unix.Termios
	require.NoError(t, raw.Control(func(fd uintptr) { got, err = unix.IoctlGetTermios(int(fd), unix.TCGETS) }))
	require.NoError(t, err)
	return got
}

func TestTerminalIsAsItWas(t *testing.T) {
	far := terminal(t)
	require.NoError(t, far.Stay())
	cooked := settings(t, far.Path())
	cooked.Lflag |= unix.ECHO | unix.ICANON
	cooked.Iflag |= unix.ICRNL | unix.IXON
	cooked.Oflag |= unix.OPOST
	f, err := os.OpenFile(far.Path(), os.O_RDWR|unix.O_NOCTTY, 0)
	require.NoError(t, err)
	defer f.Close()
	raw, err := f.SyscallConn()
	require.NoError(t, err)
	require.NoError(t, raw.Control(func(fd uintptr) { err = unix.IoctlSetTermios(int(fd), unix.TCSETS, cooked) }))
	require.NoError(t, err)

	p, err := rawport.Open(t.Context(), far.Path())
	require.NoError(t, err)
	during := settings(t, far.Path())
	require.Zero(t, during.Lflag&(unix.ECHO|unix.ICANON|unix.ISIG))
	require.Zero(t, during.Iflag&(unix.ICRNL|unix.IXON|unix.ISTRIP))
	require.Zero(t, during.Oflag&unix.OPOST)
	require.NoError(t, p.Close())
	require.Equal(t, cooked, settings(t, far.Path()))
}

func TestWhatCameBeforeUsIsNotOurs(t *testing.T) {
	far := terminal(t)
	require.NoError(t, far.Stay())
	require.NoError(t, far.Send(t.Context(), []byte("for somebody else")))
	near, err := rawport.Open(t.Context(), far.Path())
	require.NoError(t, err)
	defer near.Close()
	require.NoError(t, far.Send(t.Context(), []byte{0xF8}))
	got, err := near.Receive(t.Context())
	require.NoError(t, err)
	require.Equal(t, []byte{0xF8}, got)
}
