package cli

import (
	"context"
	"errors"
	"io"
	"testing"
	"testing/synctest"
	"time"

	"github.com/stretchr/testify/require"

	"echowright/cmd/internal/ui"
	"echowright/library"
	"echowright/midi/port"
	"echowright/midi/port/ports"
	"echowright/profiles/emulator"
)

func TestALookAtALockIsWaitedFor(t *testing.T) {
	shelf, err := library.Open(t.TempDir(), time.Now)
	require.NoError(t, err)
	synctest.Test(t, func(t *testing.T) {
		look, err := shelf.LockPort("raw:x")
		require.NoError(t, err)
		time.AfterFunc(lockPause+lockPause/2, func() { _ = look() })
		unlock, err := lockPort(t.Context(), shelf, "raw:x")
		require.NoError(t, err, "it was only a look")

		began := time.Now()
		_, err = lockPort(t.Context(), shelf, "raw:x")
		var locked *library.PortLockedError
		require.ErrorAs(t, err, &locked, "and this is a conversation")
		require.Equal(t, (lockTries-1)*lockPause, time.Since(began))

		interrupted, stop := context.WithCancel(t.Context())
		stop()
		_, err = lockPort(interrupted, shelf, "raw:x")
		require.ErrorIs(t, err, context.Canceled)
		unlock()
		unlock, err = lockPort(interrupted, shelf, "raw:x")
		require.NoError(t, err, "it is free again")
		unlock()
	})
}

func TestHowAnEntryStands(t *testing.T) {
	onBench(t, emulator.Options{}, func(t *testing.T, b bench) {
		name := b.leaveOpen(t, "bench:device")
		shelf, err := library.Open(b.Getenv("ECHOWRIGHT_HOME"), b.Now)
		require.NoError(t, err)
		open, err := shelf.Intents()
		require.NoError(t, err)
		require.Equal(t, brokenOff, standingOf(t.Context(), shelf, open[0]))

		unlock, err := shelf.LockPort("bench:device")
		require.NoError(t, err)
		require.Equal(t, portInUse, standingOf(t.Context(), shelf, open[0]))
		require.Contains(t, b.run(t, "device", "list").talk, "has not come to its end: another echowright is using that port right now and may be at it")
		refused := b.with(t, "backup", "--slots", "1")
		require.Equal(t, exitFailed, refused.code)
		require.Contains(t, refused.talk, `another echowright is using the port "bench:device"`)
		require.NoError(t, unlock())

		require.NoError(t, shelf.Finish(t.Context(), name))
		require.Equal(t, settled, standingOf(t.Context(), shelf, open[0]), "it was finished after the list was read")
		require.Equal(t, brokenOff, standingOf(t.Context(), shelf, library.IntentEntry{Name: "x", Err: errors.New("torn")}))
	})
}

func TestAPortThatAnotherEchowrightUsesIsNotAskedAndListeningSaysSo(t *testing.T) {
	e := speaking(t, []byte{0xB0, 16, 64})
	shelf, err := library.Open(e.Getenv("ECHOWRIGHT_HOME"), e.Now)
	require.NoError(t, err)
	unlock, err := shelf.LockPort("far:side")
	require.NoError(t, err)
	const warning = "warning: another echowright is using the port \"far:side\": what its device says may not be heard here\n"
	got := e.run(t, "listen", "--port", "far:side")
	require.Equal(t, exitDone, got.code, got.talk)
	require.Contains(t, got.talk, warning)

	opened := 0
	open := e.Ports["far"]
	e.Ports["far"] = func(ctx context.Context, name string) (port.Port, error) {
		opened++
		return open(ctx, name)
	}
	asking := &call{Env: e, out: ui.Plain(io.Discard), talk: ui.Plain(io.Discard)}
	require.Equal(t, "in use by another echowright", asking.identify(t.Context(), ports.Device{Port: "far:side"}, nil).Problem)
	require.Zero(t, opened)

	require.NoError(t, unlock())
	require.NotContains(t, e.run(t, "listen", "--port", "far:side").talk, warning)
	require.NotContains(t, asking.identify(t.Context(), ports.Device{Port: "far:side"}, nil).Problem, "in use")
	require.Equal(t, 2, opened)
}
