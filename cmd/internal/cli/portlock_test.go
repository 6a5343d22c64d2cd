package cli

import (
	"context"
	"errors"
	"testing"
	"testing/synctest"
	"time"

	"github.com/stretchr/testify/require"

	"echowright/library"
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
