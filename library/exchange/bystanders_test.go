package exchange

import (
	"bytes"
	"context"
	"testing"

	"github.com/stretchr/testify/require"

	"echowright/midi"
	"echowright/midi/port"
	"echowright/midi/transfer"
	"echowright/profiles/emulator"
)

// A crooked line turns over one bit of the header of the next dumps to the unit: the
// name of the memory ends in 4 where it ended in 5 (30h is '0').
type crooked struct {
	port.Port
	times int
}

func (p *crooked) Send(ctx context.Context, b []byte) error {
	// F0 7E, device, 07 01, source, type and length (8 bytes), MEM05, F7.
	const digitAt = 18
	if p.times > 0 && len(b) == 20 && b[4] == 0x01 && b[digitAt] == '5' {
		p.times--
		b = bytes.Clone(b)
		b[digitAt] ^= 1
	}
	return p.Port.Send(ctx, b)
}

// over lets the bench speak over a crooked line from now on.
func (b *bench) over(t *testing.T, times int) {
	t.Helper()
	near, far := port.Pipe("a crooked line")
	ctx, stop := context.WithCancel(t.Context())
	served := make(chan error, 1)
	go func() { served <- emulator.Serve(ctx, far, b.unit) }()
	link := transfer.Open(&crooked{near, times}, transfer.Options{Name: "a crooked line", Retries: b.Device.Manners.Retries, Piece: b.Device.Manners.Buffer})
	b.Link = link
	t.Cleanup(func() {
		require.NoError(t, link.Close())
		stop()
		<-served
	})
}

func TestAWrongBitInTheNameOfAMemory(t *testing.T) {
	onABench(t, "open-parameter", emulator.Options{}, func(t *testing.T, ctx context.Context, b *bench) {
		_, err := b.Push(ctx, 4, settingFor(b.Device, 1), PushOptions{})
		require.NoError(t, err)
		four := b.memory(t, 4)
		b.over(t, 1)
		done, err := b.Push(ctx, 5, settingFor(b.Device, 2), PushOptions{})
		require.NoError(t, err)
		require.Equal(t, HoldsAsked, done.Holds, "tried once more")
		require.Equal(t, b.Device.AppendSlot(nil, settingFor(b.Device, 2)), b.memory(t, 5))
		require.Equal(t, four, b.memory(t, 4), "what was overwritten is put back")
		require.Contains(t, b.warnings, "slot 4: a wrong bit led there what was meant for another; put back")

		all, err := b.Shelf.Snapshots()
		require.NoError(t, err)
		kept, err := b.Shelf.Snapshot(all[len(all)-1].Name)
		require.NoError(t, err)
		require.Equal(t, "before a wrong bit overwrote it", kept.Note)
		_, memory, err := b.Device.SlotMemory(kept.Slots[0].Messages)
		require.NoError(t, err)
		require.Equal(t, four, memory)
	})
}

// Slots 4 and 5 are both put back, 4 first: a wrong bit lets the content of 5
// overwrite it although it was done already.
func TestAWrongBitWithinARestore(t *testing.T) {
	onABench(t, "open-parameter", emulator.Options{}, func(t *testing.T, ctx context.Context, b *bench) {
		four, five := b.memory(t, 4), b.memory(t, 5)
		backup, err := b.Backup(ctx, []int{4, 5}, BackupOptions{})
		require.NoError(t, err)
		for i, n := range []int{4, 5} {
			_, err := b.Push(ctx, n, settingFor(b.Device, i), PushOptions{})
			require.NoError(t, err)
		}
		b.over(t, 1)
		c, err := b.Compare(ctx, backup.Snapshot, []Placed{{4, 4}, {5, 5}}, RestoreOptions{})
		require.NoError(t, err)
		done, err := b.Restore(ctx, c)
		require.NoError(t, err)
		require.Equal(t, []int{4, 5}, done.Written)
		require.Equal(t, four, b.memory(t, 4))
		require.Equal(t, five, b.memory(t, 5))
	})
}

func TestAWrongBitWithinAResume(t *testing.T) {
	onABench(t, "open-parameter", emulator.Options{}, func(t *testing.T, ctx context.Context, b *bench) {
		four := b.memory(t, 4)
		intent := b.leftOpen(t, ctx, func([]byte) {}) // slots 5 and 6
		b.over(t, 1)
		done, err := b.Resume(ctx, intent, ResumeOptions{})
		require.NoError(t, err)
		require.Equal(t, []int{5, 6}, done.Written)
		require.Equal(t, four, b.memory(t, 4))
	})
}

// Written again with what it holds already, a slot cannot show whether the dump
// reached it.
func TestAWrongBitThatNoReadingBackShows(t *testing.T) {
	onABench(t, "open-parameter", emulator.Options{}, func(t *testing.T, ctx context.Context, b *bench) {
		_, err := b.Push(ctx, 5, settingFor(b.Device, 2), PushOptions{})
		require.NoError(t, err)
		four := b.memory(t, 4)
		b.over(t, 1)
		_, err = b.Push(ctx, 5, settingFor(b.Device, 2), PushOptions{All: true})
		require.NoError(t, err)
		require.Equal(t, four, b.memory(t, 4))
	})
}

// A slot that cannot be put back is told of, with where its content is kept.
func TestAWrongBitThatCannotBeMended(t *testing.T) {
	onABench(t, "open-parameter", emulator.Options{}, func(t *testing.T, ctx context.Context, b *bench) {
		near, err := b.bystanders(ctx, &Spent{}, []int{5})
		require.NoError(t, err)
		b.Link = silent{}
		err = b.lookAfter(ctx, &Spent{}, near)
		var stray *StrayError
		require.ErrorAs(t, err, &stray)
		require.Equal(t, []int{1, 4, 7, 15}, stray.Slots)
		kept, err := b.Shelf.Snapshot(stray.Snapshot)
		require.NoError(t, err)
		require.Len(t, kept.Slots, 4)
		require.ErrorContains(t, stray, "`echowright restore "+stray.Snapshot+"` puts it back")
	})
}

// silent is a device that never answers.
type silent struct{}

func (silent) Run(context.Context, []midi.Step) (transfer.Result, error) {
	return transfer.Result{}, &transfer.NoAnswerError{}
}
