package rawport

import (
	"errors"
	"os"
	"testing"
	"time"

	"github.com/stretchr/testify/require"
	"golang.org/x/sys/unix"

	"echowright/midi/port"
	"echowright/midi/port/ptyport"
)

// A raw MIDI device that is pulled out gives POLLERR and ENODEV, and the poller
// of the runtime may know it before Read does. The writing end of a pipe whose
// reader is gone behaves so too: POLLERR, and no reading.
func TestPulledOutWhileNobodyReads(t *testing.T) {
	var ends [2]int
	require.NoError(t, unix.Pipe2(ends[:], unix.O_NONBLOCK|unix.O_CLOEXEC))
	d := &device{File: os.NewFile(uintptr(ends[1]), "device")}
	p := port.Stream("raw:device", d, explain)
	require.NoError(t, p.Send(t.Context(), []byte{0xF8}))
	require.NoError(t, unix.Close(ends[0]))
	for range 3 {
		_, err := p.Receive(t.Context())
		require.ErrorIs(t, err, port.ErrGone, "again and again")
		require.ErrorIs(t, err, unix.ENODEV)
		require.ErrorIs(t, p.Send(t.Context(), []byte{0xF8}), port.ErrGone)
	}
	require.NoError(t, p.Close())
	_, err := p.Receive(t.Context())
	require.ErrorIs(t, err, port.ErrClosed)
}

func TestUnpluggedInMidMessage(t *testing.T) {
	far, err := ptyport.Open()
	if err != nil {
		t.Skipf("no pseudo terminals here: %v", err)
	}
	near, err := Open(t.Context(), far.Path())
	require.NoError(t, err)
	heard := make(chan error, 1)
	go func() { // while nothing is said
		_, err := near.Receive(t.Context())
		heard <- err
	}()
	const message, read = 1 << 20, 10_000
	sent := make(chan error, 1)
	go func() { sent <- near.Send(t.Context(), make([]byte, message)) }()
	for got := 0; got < read; {
		b, err := far.Receive(t.Context())
		require.NoError(t, err)
		got += len(b)
	}
	require.NoError(t, far.Close())
	err = within(t, sent)
	require.ErrorIs(t, err, port.ErrGone)
	require.GreaterOrEqual(t, port.Sent(err), read, "what the other side has read has gone")
	require.Less(t, port.Sent(err), message)
	require.ErrorIs(t, within(t, heard), port.ErrGone)
	for range 2 {
		_, err = near.Receive(t.Context())
		require.ErrorIs(t, err, port.ErrGone)
		require.ErrorIs(t, near.Send(t.Context(), []byte{0xF7}), port.ErrGone)
	}
	require.NoError(t, near.Close(), "the settings of a terminal that is gone need not be put back")
}

// within waits for what must come soon.
func within(t *testing.T, c <-chan error) error {
	t.Helper()
	select {
	case err := <-c:
		return err
	case <-time.After(10 * time.Second): // only a failing test waits so long
		return errors.New("nothing happened")
	}
}

// What the kernel answers to opening, and whether it is the device that is busy,
// not there, or not ours: open(2), and the raw MIDI driver for EBUSY and EAGAIN,
// which a second user gets.
func TestWhatOpeningMeans(t *testing.T) {
	for _, tc := range []struct {
		said, kind error
	}{
		{unix.EBUSY, port.ErrBusy}, {unix.EAGAIN, port.ErrBusy},
		{unix.ENODEV, port.ErrNotThere}, {unix.ENXIO, port.ErrNotThere}, {unix.ENOENT, port.ErrNotThere},
		{unix.EACCES, port.ErrDenied}, {unix.EPERM, port.ErrDenied},
	} {
		err := openError("raw:/dev/snd/midiC1D0", &os.PathError{Op: "open", Path: "/dev/snd/midiC1D0", Err: tc.said})
		require.ErrorIs(t, err, tc.kind)
		require.ErrorIs(t, err, tc.said)
		require.ErrorContains(t, err, "port raw:/dev/snd/midiC1D0: opening: ")
		var e *port.Error
		require.ErrorAs(t, err, &e)
		require.NotEmpty(t, e.Next)
	}
}
