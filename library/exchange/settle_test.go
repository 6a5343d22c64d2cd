package exchange

import (
	"bytes"
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

func TestCtrlCInTheMiddleOfAPush(t *testing.T) {
	// The wire takes 2 ms for the identity, 45 ms for the old content, 38 ms for the
	// new one; the write to memory takes 250 ms more.
	for _, after := range []time.Duration{0, time.Millisecond, 30 * time.Millisecond, 70 * time.Millisecond, 100 * time.Millisecond, 200 * time.Millisecond, 300 * time.Millisecond} {
		t.Run(after.String(), func(t *testing.T) {
			onTheBench(t, emulator.Options{}, func(t *testing.T, ctx context.Context, b *bench) {
				before, asked := b.memory(t, 5), b.Device.AppendSlot(nil, b.written())
				ctx, cancel := context.WithTimeout(ctx, after)
				defer cancel()
				done, err := b.Push(ctx, 5, b.written(), PushOptions{})
				require.Error(t, err)
				want := map[Holds][]byte{HoldsBefore: before, HoldsAsked: asked}[done.Holds]
				require.NotNil(t, want, "a healthy device is never left in doubt")
				require.True(t, bytes.Equal(want, b.memory(t, 5)), "it holds what it is said to hold: %s", done.Holds)
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
