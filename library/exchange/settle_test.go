package exchange

import (
	"context"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"echowright/midi/transfer"
	"echowright/profiles/emulator"
)

// openIntents are the names of what the journal has.
func (b *bench) openIntents(t *testing.T) []string {
	t.Helper()
	entries, err := b.Shelf.Intents()
	require.NoError(t, err)
	names := []string{}
	for _, e := range entries {
		require.NoError(t, e.Err)
		names = append(names, e.Name)
	}
	return names
}

func TestAfterAFailureTheOldContentIsBack(t *testing.T) {
	for name, f := range map[string]emulator.Faults{
		"a parameter stays as it was":         {Keep: []int{0x01}},
		"the store is acknowledged, not made": {FalseStore: emulator.Every},
		"the values are refused":              {RefuseValues: 1},
	} {
		t.Run(name, func(t *testing.T) {
			onTheBench(t, emulator.Options{Faults: f}, func(t *testing.T, ctx context.Context, b *bench) {
				before := b.memory(t, 5)
				done, err := b.Push(ctx, 5, b.written(), PushOptions{})
				var unwritten *UnwrittenError
				require.ErrorAs(t, err, &unwritten)
				require.Equal(t, HoldsBefore, unwritten.Holds)
				require.Equal(t, HoldsBefore, done.Holds)
				require.Equal(t, VerifiedNo, done.Verified)
				require.Equal(t, before, b.memory(t, 5))
				require.Empty(t, b.openIntents(t), "all is settled")
				require.ErrorContains(t, err, "holds what it held before: read back and verified")
			})
		})
	}
}

func TestADeadDeviceLeavesTheJournalOpen(t *testing.T) {
	// It dies on its fourth message: identity, slot, write, and then the read-back.
	onTheBench(t, emulator.Options{Faults: emulator.Faults{DieAfter: 3}}, func(t *testing.T, ctx context.Context, b *bench) {
		began := time.Now()
		done, err := b.Push(ctx, 5, b.written(), PushOptions{})
		var silent *transfer.NoAnswerError
		require.ErrorAs(t, err, &silent)
		require.Equal(t, HoldsUnknown, done.Holds)
		require.Less(t, time.Since(began), settleTime+10*time.Second)
		require.Len(t, b.openIntents(t), 1)
		require.ErrorContains(t, err, "`echowright resume` finishes it")

		_, err = b.Push(ctx, 6, b.written(), PushOptions{})
		var open *OpenError
		require.ErrorAs(t, err, &open)
		require.Equal(t, []int{5}, open.Slots)
	})
}

// A push takes 2+5 ms for the identity, 43 ms for the old content, 290 ms to write
// and 43 ms to read it back.
func TestCtrlCAnywhereInAPush(t *testing.T) {
	for after := time.Duration(0); after < 390*time.Millisecond; after += 5 * time.Millisecond {
		t.Run(after.String(), func(t *testing.T) {
			t.Parallel()
			onTheBench(t, emulator.Options{}, func(t *testing.T, ctx context.Context, b *bench) {
				before, asked := b.memory(t, 5), b.Device.AppendSlot(nil, b.written())
				interrupted, cancel := context.WithTimeout(ctx, after)
				defer cancel()
				done, err := b.Push(interrupted, 5, b.written(), PushOptions{})
				if err == nil {
					require.Equal(t, HoldsAsked, done.Holds, "it came too late")
				}
				want := map[Holds][]byte{HoldsBefore: before, HoldsAsked: asked}[done.Holds]
				require.NotNil(t, want, "a healthy device is never left in doubt")
				require.Equal(t, want, b.memory(t, 5), "it holds what it is said to hold: %s", done.Holds)
				require.Empty(t, b.openIntents(t))
			})
		})
	}
}

// A restore of three slots takes 1.2 s.
func TestCtrlCAnywhereInARestore(t *testing.T) {
	for after := 25 * time.Millisecond; after < 1300*time.Millisecond; after += 25 * time.Millisecond {
		t.Run(after.String(), func(t *testing.T) {
			t.Parallel()
			onTheBench(t, emulator.Options{}, func(t *testing.T, ctx context.Context, b *bench) {
				before := map[int][]byte{}
				for _, n := range []int{5, 6, 7} {
					before[n] = b.memory(t, n)
				}
				backup, err := b.Backup(ctx, []int{1, 2, 3}, BackupOptions{})
				require.NoError(t, err)
				c, err := b.Compare(ctx, backup.Snapshot, []Placed{{1, 5}, {2, 6}, {3, 7}}, RestoreOptions{})
				require.NoError(t, err)
				interrupted, cancel := context.WithTimeout(ctx, after)
				defer cancel()
				_, err = b.Restore(interrupted, c)
				if err == nil {
					return
				}
				var unwritten *UnwrittenError
				require.ErrorAs(t, err, &unwritten)
				require.NotEqual(t, HoldsUnknown, unwritten.Holds, "a healthy device is never left in doubt")
				for _, n := range unwritten.Done {
					require.Equal(t, b.memory(t, n-4), b.memory(t, n))
				}
				if unwritten.Holds == HoldsBefore {
					require.Equal(t, before[unwritten.Slot], b.memory(t, unwritten.Slot))
				}
				for _, n := range unwritten.Untouched {
					require.Equal(t, before[n], b.memory(t, n))
				}
				for _, name := range b.openIntents(t) {
					intent, err := b.Shelf.Intent(name)
					require.NoError(t, err)
					_, err = b.Resume(ctx, intent, ResumeOptions{PutBack: after%2 == 0})
					require.NoError(t, err)
				}
				require.Empty(t, b.openIntents(t))
			})
		})
	}
}

func TestASlotThatHoldsItAlreadyIsNotWritten(t *testing.T) {
	onTheBench(t, emulator.Options{}, func(t *testing.T, ctx context.Context, b *bench) {
		_, err := b.Push(ctx, 5, b.written(), PushOptions{})
		require.NoError(t, err)
		again, err := b.Push(ctx, 5, b.written(), PushOptions{})
		require.NoError(t, err)
		require.Equal(t, 2, again.Messages, "who it is, and what the slot holds")
		require.Equal(t, VerifiedYes, again.Verified)
		require.Empty(t, again.Snapshot)
		all, err := b.Push(ctx, 5, b.written(), PushOptions{All: true})
		require.NoError(t, err)
		require.Equal(t, 4, all.Messages)
	})
}

func TestALoopThatGrowsIsRefused(t *testing.T) {
	onABench(t, "tap-loop", emulator.Options{}, func(t *testing.T, ctx context.Context, b *bench) {
		s := b.Device.Rest()
		s.Codes[b.Device.Parameter("tap-0-time")] = 2000
		s.Codes[b.Device.Parameter("tap-0-level")] = 100
		s.Codes[b.Device.Parameter("feedback")] = 120 // 1.10 · 120/127 = 1.039 (tap-loop.md)
		done, err := b.Push(ctx, 5, s, PushOptions{})
		var runaway *RunawayError
		require.ErrorAs(t, err, &runaway)
		require.InDelta(t, 0.34, float64(runaway.Gain), 0.01, "20·lg 1.039")
		require.Zero(t, done.Messages)

		s.Codes[b.Device.Parameter("feedback")] = 110 // 0.953, −0.42 dB
		_, err = b.Push(ctx, 5, s, PushOptions{})
		require.NoError(t, err)
		require.Contains(t, b.warnings[0], "close to running away")
	})
}

func TestWhatIsUnderWayIsToldBeforeAnythingIsRead(t *testing.T) {
	onTheBench(t, emulator.Options{}, func(t *testing.T, ctx context.Context, b *bench) {
		intent := b.leftOpen(t, ctx, func([]byte) {})
		c, err := b.Compare(ctx, intent.Snapshot, []Placed{{5, 5}}, RestoreOptions{})
		var open *OpenError
		require.ErrorAs(t, err, &open)
		require.Zero(t, c.Spent.Messages)
	})
}

func TestASlotThatHeldItAllAlongHoldsWhatWasAsked(t *testing.T) {
	onTheBench(t, emulator.Options{}, func(t *testing.T, ctx context.Context, b *bench) {
		_, err := b.Push(ctx, 5, b.written(), PushOptions{})
		require.NoError(t, err)
		// In the middle of the write to memory.
		interrupted, cancel := context.WithTimeout(ctx, 200*time.Millisecond)
		defer cancel()
		done, err := b.Push(interrupted, 5, b.written(), PushOptions{All: true})
		require.Error(t, err)
		require.Equal(t, HoldsAsked, done.Holds)
	})
}
