package exchange

import (
	"context"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"echowright/library"
	"echowright/midi/port"
	"echowright/midi/transfer"
	"echowright/profiles"
	"echowright/profiles/emulator"
)

const (
	byteTime = 320 * time.Microsecond // 31,250 baud with 10 bits a byte (MIDI 1.0, page 1)
	flash    = 250 * time.Millisecond // what the emulator is told to take
)

// The least that the wire and the five-line unit's stated times allow. Every
// message to it is followed by an answer longer than the silence that it wants,
// so the silences cost nothing (five-line.md: messages of 6, 15, 8 and 118 bytes).
var (
	leastIdentity = (6 + 15) * byteTime
	leastRead     = (8 + 118) * byteTime
	leastWrite    = (118+8)*byteTime + flash
)

// asked is how much longer than the least it may take.
const asked = 1.05

func TestConversationsTakeNoLongerThanTheWireAndTheDevice(t *testing.T) {
	const slots = 64
	onTheBench(t, emulator.Options{FlashWrite: flash}, func(t *testing.T, ctx context.Context, b *bench) {
		pushed, err := b.Push(ctx, 5, b.written(), PushOptions{})
		require.NoError(t, err)
		requireRatio(t, "push", pushed.Spent, leastIdentity+2*leastRead+leastWrite)

		backup, err := b.Backup(ctx, b.AllSlots(), BackupOptions{})
		require.NoError(t, err)
		requireRatio(t, "backup", backup.Spent, leastIdentity+slots*leastRead)

		var places []Placed
		for n := range slots {
			places = append(places, Placed{From: n, To: n})
		}
		c, err := b.Compare(ctx, backup.Snapshot, places, RestoreOptions{All: true})
		require.NoError(t, err)
		restored, err := b.Restore(ctx, c)
		require.NoError(t, err)
		requireRatio(t, "restore", restored.Spent, leastIdentity+slots*(2*leastRead+leastWrite))
	})
}

func requireRatio(t *testing.T, what string, spent Spent, least time.Duration) {
	t.Helper()
	ratio := float64(spent.Seconds) / least.Seconds()
	t.Logf("%s: %.3f times the least", what, ratio)
	require.LessOrEqual(t, ratio, asked, what)
	// The pipe hands a message over at once, so its first byte is read 0.32 ms too early.
	require.GreaterOrEqual(t, ratio, 0.99, "%s: nothing is faster than the wire", what)
}

// In real time, with the scheduler of the machine in between; the limit stands
// beside it as times_the_least, which is 1 at best.
func BenchmarkBackupOfAllSlots(b *testing.B) {
	device, err := profiles.Shipped("five-line")
	require.NoError(b, err)
	unit, err := emulator.New("five-line", emulator.Options{FlashWrite: flash, RealTime: true})
	require.NoError(b, err)
	shelf, err := library.Open(b.TempDir(), time.Now)
	require.NoError(b, err)
	near, far := port.Pipe("the bench")
	go emulator.Serve(b.Context(), far, unit) // it ends with the benchmark
	link := transfer.Open(near, transfer.Options{Name: "the bench", Piece: device.Manners.Buffer})
	defer link.Close()
	s := Session{Device: device, Port: "the bench", Link: link, Shelf: shelf, Now: time.Now}
	var seconds float64
	for b.Loop() {
		done, err := s.Backup(b.Context(), s.AllSlots(), BackupOptions{})
		require.NoError(b, err)
		seconds += float64(done.Seconds)
	}
	b.ReportMetric(seconds/float64(b.N)/(leastIdentity+64*leastRead).Seconds(), "times_the_least")
}
