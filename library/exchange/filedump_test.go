package exchange

import (
	"context"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"echowright/profiles/emulator"
)

// A device whose slots travel as File Dumps is pushed to, read, backed up and
// restored like any other, also over a line that has its days.
func TestSlotsThatTravelAsFileDumps(t *testing.T) {
	for name, f := range map[string]emulator.Faults{
		"in health":                  {},
		"answers one byte at a time": {SingleBytes: true},
		"every answer doubled":       {DoubleAnswer: emulator.Every},
		"it asks to wait":            {LongWrite: 700 * time.Millisecond},
		"the packet comes damaged":   {CorruptAnswer: emulator.Nth(3)},
		"the header lost":            {LoseAnswer: emulator.Nth(2)},
		"an acknowledge lost":        {LoseAnswer: emulator.Nth(6)},
	} {
		t.Run(name, func(t *testing.T) {
			onABench(t, "open-parameter", emulator.Options{Faults: f}, func(t *testing.T, ctx context.Context, b *bench) {
				before := b.memory(t, 7)
				want := b.Device.Rest()
				want.Codes[b.Device.Parameter("tap-2-time")] = 2500
				want.Codes[b.Device.Parameter("feedback")] = 600
				done, err := b.Push(ctx, 7, want, PushOptions{})
				require.NoError(t, err)
				require.Equal(t, VerifiedYes, done.Verified)
				require.Equal(t, b.Device.AppendSlot(nil, want), b.memory(t, 7))

				snapshot, err := b.Shelf.Snapshot(done.Snapshot)
				require.NoError(t, err)
				_, kept, err := b.Device.SlotMemory(snapshot.Slots[0].Messages)
				require.NoError(t, err)
				require.Equal(t, before, kept, "what the slot held before")

				c, err := b.Compare(ctx, done.Snapshot, []Placed{{From: 7, To: 7}}, RestoreOptions{})
				require.NoError(t, err)
				require.Empty(t, c.Same)
				_, err = b.Restore(ctx, c)
				require.NoError(t, err)
				require.Equal(t, before, b.memory(t, 7))
			})
		})
	}
}

func TestABackupOfAllFileDumps(t *testing.T) {
	onABench(t, "open-parameter", emulator.Options{}, func(t *testing.T, ctx context.Context, b *bench) {
		done, err := b.Backup(ctx, b.AllSlots(), BackupOptions{})
		require.NoError(t, err)
		require.Equal(t, 16, done.Slots)
		// A header of 20 bytes and a packet of 46: 32 bytes are 37 packed (M1 page 43).
		require.Equal(t, 16*(20+46), done.Bytes)
	})
}
