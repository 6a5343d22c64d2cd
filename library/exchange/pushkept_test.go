package exchange

import (
	"context"
	"testing"

	"github.com/stretchr/testify/require"

	"echowright/profiles/emulator"
)

// What is kept already is not kept again; what is not is, whatever the caller says.
func TestASlotThatIsKeptAlready(t *testing.T) {
	onTheBench(t, emulator.Options{}, func(t *testing.T, ctx context.Context, b *bench) {
		backup, err := b.Backup(ctx, []int{4, 5, 6}, BackupOptions{})
		require.NoError(t, err)
		other := b.written()
		other.Name = "neap"
		for _, c := range []struct {
			name, kept string
			slot       int
			own        bool // a snapshot of its own is made
		}{
			{"kept", backup.Snapshot, 5, false},
			{"changed since", backup.Snapshot, 5, true},
			{"another slot", backup.Snapshot, 7, true},
			{"no such snapshot", "tidewrack", 6, true},
			{"none named", "", 4, true},
		} {
			before := b.memory(t, c.slot)
			done, err := b.Push(ctx, c.slot, other, PushOptions{Kept: c.kept, All: true})
			require.NoError(t, err, c.name)
			require.Equal(t, c.own, done.Snapshot != backup.Snapshot, c.name)
			snapshot, err := b.Shelf.Snapshot(done.Snapshot)
			require.NoError(t, err, c.name)
			kept, err := b.memoryIn(snapshot, c.slot)
			require.NoError(t, err, c.name)
			require.Equal(t, before, kept, c.name)
		}
		all, err := b.Shelf.Snapshots()
		require.NoError(t, err)
		require.Len(t, all, 1+4)
	})
}

// A push that was killed behind its note is put back from the snapshot of several
// slots, and no other slot of it is touched.
func TestAPushIsPutBackFromASnapshotOfMore(t *testing.T) {
	onTheBench(t, emulator.Options{}, func(t *testing.T, ctx context.Context, b *bench) {
		before := b.memory(t, 5)
		backup, err := b.Backup(ctx, []int{4, 5, 6}, BackupOptions{})
		require.NoError(t, err)
		_, err = b.Push(ctx, 4, b.written(), PushOptions{Kept: backup.Snapshot})
		require.NoError(t, err)
		asked := content{slot: 5, memory: b.Device.AppendSlot(nil, b.written())}
		_, err = b.begin(ctx, doingPush, "", backup.Snapshot, []content{asked})
		require.NoError(t, err)
		require.NoError(t, b.writeAndVerify(ctx, &Spent{}, asked))

		intents, err := b.Shelf.Intents()
		require.NoError(t, err)
		require.Len(t, intents, 1)
		done, err := b.Resume(ctx, intents[0].Intent, ResumeOptions{PutBack: true})
		require.NoError(t, err)
		require.Equal(t, []int{5}, done.Written)
		require.Equal(t, before, b.memory(t, 5))
		require.Equal(t, asked.memory, b.memory(t, 4), "the song before it stays")
	})
}
