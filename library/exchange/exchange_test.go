package exchange

import (
	"context"
	"testing"
	"testing/synctest"
	"time"

	"github.com/stretchr/testify/require"

	"echowright/library"
	"echowright/midi/port"
	"echowright/midi/transfer"
	"echowright/profiles"
	"echowright/profiles/emulator"
)

// A bench is the five-line unit's firmware on the far end of a pipe, and a
// session with it. It runs in a synctest bubble, on a clock of its own.
type bench struct {
	*Session
	unit     *emulator.Unit
	warnings []string
}

func onTheBench(t *testing.T, o emulator.Options, work func(t *testing.T, ctx context.Context, b *bench)) {
	t.Helper()
	onABench(t, "five-line", o, work)
}

func onABench(t *testing.T, name string, o emulator.Options, work func(t *testing.T, ctx context.Context, b *bench)) {
	t.Helper()
	home := t.TempDir()
	synctest.Test(t, func(t *testing.T) {
		device, err := profiles.Shipped(name)
		require.NoError(t, err)
		unit, err := emulator.New(name, o)
		require.NoError(t, err)
		shelf, err := library.Open(home, time.Now)
		require.NoError(t, err)
		near, far := port.Pipe("the bench")
		ctx, stop := context.WithCancel(t.Context())
		served := make(chan error, 1)
		go func() { served <- emulator.Serve(ctx, far, unit) }()
		link := transfer.Open(near, transfer.Options{Name: "the bench", Retries: device.Manners.Retries, Piece: device.Manners.Buffer})
		b := &bench{unit: unit}
		b.Session = &Session{
			Device: device, Unit: device.Manners.FirstUnit, Port: "emulator:" + name, Link: link, Shelf: shelf, Now: time.Now,
			Warn: func(text string) { b.warnings = append(b.warnings, text) },
		}
		defer func() {
			require.NoError(t, link.Close())
			stop()
			<-served
		}()
		work(t, ctx, b)
	})
}

// written is a setting that no slot of the unit holds from the factory.
func (b *bench) written() profiles.Setting {
	s := b.Device.Rest()
	s.Codes[b.Device.Parameter("a-time")] = 1210
	s.Codes[b.Device.Parameter("a-level")] = 107
	s.Codes[b.Device.Parameter("dry-level")] = 121
	s.Name = "slack tide"
	return s
}

func (b *bench) memory(t *testing.T, slot int) []byte {
	t.Helper()
	m, err := b.unit.Memory(slot)
	require.NoError(t, err)
	return m[:]
}

func TestPushKeepsWritesAndReadsBack(t *testing.T) {
	onTheBench(t, emulator.Options{}, func(t *testing.T, ctx context.Context, b *bench) {
		before := b.memory(t, 5)
		done, err := b.Push(ctx, 5, b.written(), PushOptions{})
		require.NoError(t, err)
		require.Equal(t, VerifiedYes, done.Verified)
		require.Empty(t, done.Differences)
		// Identity 6 bytes, two questions of 8, one slot of 118 (five-line.md).
		require.Equal(t, 4, done.Messages)
		require.Equal(t, 6+8+118+8, done.Bytes)
		require.Equal(t, b.Device.AppendSlot(nil, b.written()), b.memory(t, 5))

		snapshot, err := b.Shelf.Snapshot(done.Snapshot)
		require.NoError(t, err)
		require.True(t, snapshot.Complete)
		require.Equal(t, "five-line", snapshot.Device)
		require.Equal(t, b.Device.SHA256(), snapshot.ProfileSHA256)
		require.Len(t, snapshot.Slots, 1)
		_, kept, err := b.Device.SlotMemory(snapshot.Slots[0].Messages)
		require.NoError(t, err)
		require.Equal(t, before, kept, "what the slot held before")
		require.NotEmpty(t, snapshot.Identity)
	})
}

func TestASlotThatKeepsSomethingElse(t *testing.T) {
	onTheBench(t, emulator.Options{Faults: emulator.Faults{Keep: []int{0x01}}}, func(t *testing.T, ctx context.Context, b *bench) {
		done, err := b.Push(ctx, 5, b.written(), PushOptions{})
		var differs *DiffersError
		require.ErrorAs(t, err, &differs)
		require.Equal(t, VerifiedNo, done.Verified)
		require.Len(t, done.Differences, 1)
		require.Equal(t, "a-level", done.Differences[0].Parameter)
		require.ErrorContains(t, err, "kept as "+done.Snapshot)
	})
}

func TestNothingIsWrittenToAnotherModel(t *testing.T) {
	onTheBench(t, emulator.Options{Faults: emulator.Faults{WrongIdentity: true}}, func(t *testing.T, ctx context.Context, b *bench) {
		before := b.memory(t, 5)
		_, err := b.Push(ctx, 5, b.written(), PushOptions{})
		require.ErrorContains(t, err, "nothing was written")
		require.Equal(t, before, b.memory(t, 5))
		_, err = b.Backup(ctx, b.AllSlots(), BackupOptions{})
		require.Error(t, err)
		snapshots, err := b.Shelf.Snapshots()
		require.NoError(t, err)
		require.Empty(t, snapshots)
	})
}

func TestFaultsOfTheLine(t *testing.T) {
	for name, f := range map[string]emulator.Faults{
		"the first answer lost":        {LoseAnswer: emulator.Nth(1)},
		"the second answer lost":       {LoseAnswer: emulator.Nth(2)},
		"the acknowledge lost":         {LoseAnswer: emulator.Nth(3)},
		"the read-back lost":           {LoseAnswer: emulator.Nth(4)},
		"the slot corrupted":           {CorruptAnswer: emulator.Nth(2)},
		"the read-back corrupted":      {CorruptAnswer: emulator.Nth(4)},
		"every answer doubled":         {DoubleAnswer: emulator.Every},
		"rubbish before every answer":  {Rubbish: emulator.Every},
		"answers one byte at a time":   {SingleBytes: true},
		"the second answer comes late": {LateAnswer: emulator.Nth(2), LateBy: 600 * time.Millisecond},
	} {
		t.Run(name, func(t *testing.T) {
			onTheBench(t, emulator.Options{Faults: f}, func(t *testing.T, ctx context.Context, b *bench) {
				done, err := b.Push(ctx, 7, b.written(), PushOptions{})
				require.NoError(t, err)
				require.Equal(t, VerifiedYes, done.Verified)
				require.Equal(t, b.Device.AppendSlot(nil, b.written()), b.memory(t, 7))
			})
		})
	}
}

func TestADeviceThatNeverAnswers(t *testing.T) {
	onTheBench(t, emulator.Options{Faults: emulator.Faults{Mute: true}}, func(t *testing.T, ctx context.Context, b *bench) {
		began := time.Now()
		_, err := b.Push(ctx, 5, b.written(), PushOptions{})
		var silent *transfer.NoAnswerError
		require.ErrorAs(t, err, &silent)
		require.Less(t, time.Since(began), 5*time.Second)
	})
}

func TestAWriteProtectedDevice(t *testing.T) {
	onTheBench(t, emulator.Options{WriteProtected: true}, func(t *testing.T, ctx context.Context, b *bench) {
		before := b.memory(t, 5)
		done, err := b.Push(ctx, 5, b.written(), PushOptions{})
		var refused *transfer.RefusedError
		require.ErrorAs(t, err, &refused)
		require.ErrorContains(t, err, "write-protected")
		require.ErrorContains(t, err, "holds what it held before: read back and verified")
		require.NotEmpty(t, done.Snapshot)
		require.Equal(t, before, b.memory(t, 5))
	})
}

func TestBackupChangeRestore(t *testing.T) {
	onTheBench(t, emulator.Options{}, func(t *testing.T, ctx context.Context, b *bench) {
		var factory [64][]byte
		for n := range factory {
			factory[n] = b.memory(t, n)
		}
		backup, err := b.Backup(ctx, b.AllSlots(), BackupOptions{})
		require.NoError(t, err)
		require.Equal(t, 64, backup.Slots)
		require.Equal(t, 64*118, backup.Bytes)
		for _, slot := range []int{0, 5, 63} {
			_, err := b.Push(ctx, slot, b.written(), PushOptions{})
			require.NoError(t, err)
		}

		var places []Placed
		for n := range 64 {
			places = append(places, Placed{From: n, To: n})
		}
		c, err := b.Compare(ctx, backup.Snapshot, places, RestoreOptions{})
		require.NoError(t, err)
		require.Len(t, c.Same, 61)
		require.Len(t, c.Changes, 3)
		require.NotEmpty(t, c.Changes[0].Differences)

		done, err := b.Restore(ctx, c)
		require.NoError(t, err)
		require.Equal(t, []int{0, 5, 63}, done.Written)
		for n := range factory {
			require.Equal(t, factory[n], b.memory(t, n), "slot %d", n)
		}
		kept, err := b.Shelf.Snapshot(done.Snapshot)
		require.NoError(t, err)
		require.Len(t, kept.Slots, 3, "what the restore overwrote is kept in its turn")
	})
}

func TestRestoreIntoAnotherSlot(t *testing.T) {
	onTheBench(t, emulator.Options{}, func(t *testing.T, ctx context.Context, b *bench) {
		backup, err := b.Backup(ctx, []int{3}, BackupOptions{})
		require.NoError(t, err)
		c, err := b.Compare(ctx, backup.Snapshot, []Placed{{From: 3, To: 40}}, RestoreOptions{})
		require.NoError(t, err)
		_, err = b.Restore(ctx, c)
		require.NoError(t, err)
		require.Equal(t, b.memory(t, 3), b.memory(t, 40))
	})
}

func TestWhatIsRefusedBeforeAnythingIsSent(t *testing.T) {
	onTheBench(t, emulator.Options{}, func(t *testing.T, ctx context.Context, b *bench) {
		_, err := b.Push(ctx, 64, b.written(), PushOptions{})
		require.ErrorContains(t, err, "slots 0 to 63")
		bad := b.written()
		bad.Codes[0] = 99999
		_, err = b.Push(ctx, 5, bad, PushOptions{})
		require.ErrorContains(t, err, "a-time")
		_, err = b.Backup(ctx, nil, BackupOptions{})
		require.ErrorContains(t, err, "no slot is named")
		_, err = b.Backup(ctx, []int{0, 99}, BackupOptions{})
		require.ErrorContains(t, err, "slot 99")
		_, err = b.Compare(ctx, "none", []Placed{{}}, RestoreOptions{})
		require.ErrorContains(t, err, "none")
		b.Session.Unit = 16
		_, err = b.Push(ctx, 5, b.written(), PushOptions{})
		require.ErrorContains(t, err, "unit number 16")
	})
}

func TestASnapshotOfAnotherProfile(t *testing.T) {
	onTheBench(t, emulator.Options{}, func(t *testing.T, ctx context.Context, b *bench) {
		backup, err := b.Backup(ctx, []int{1}, BackupOptions{})
		require.NoError(t, err)
		text := append(b.Device.Source(), []byte("\n# a note of the owner's\n")...)
		b.Device, err = profiles.Parse("five-line.toml", text)
		require.NoError(t, err)
		_, err = b.Compare(ctx, backup.Snapshot, []Placed{{From: 1, To: 1}}, RestoreOptions{})
		require.ErrorContains(t, err, "another version of the profile")
		_, err = b.Compare(ctx, backup.Snapshot, []Placed{{From: 2, To: 1}}, RestoreOptions{})
		require.Error(t, err)
	})
}

func TestABackupThatWasBrokenOffGoesOn(t *testing.T) {
	onTheBench(t, emulator.Options{}, func(t *testing.T, ctx context.Context, b *bench) {
		// A slot takes 48 ms: 8 bytes out, 118 back, the silence meanwhile.
		broken, cancel := context.WithTimeout(ctx, 700*time.Millisecond)
		defer cancel()
		_, err := b.Backup(broken, b.AllSlots(), BackupOptions{})
		require.ErrorIs(t, err, context.DeadlineExceeded)
		var partial *PartialError
		require.ErrorAs(t, err, &partial)
		kept, err := b.Shelf.Snapshot(partial.Snapshot)
		require.NoError(t, err)
		require.False(t, kept.Complete)
		require.Len(t, kept.Slots, partial.Slots)
		require.InDelta(t, 17, partial.Slots, 2, "what 700 ms are enough for")

		name, err := b.PartialBackup()
		require.NoError(t, err)
		done, err := b.Backup(ctx, nil, BackupOptions{Resume: name})
		require.NoError(t, err)
		require.True(t, done.Complete)
		require.Equal(t, 64, done.Slots)
		require.Equal(t, 64*118, done.Bytes)
		require.Less(t, done.Messages, 64-partial.Slots+3, "what is there is not asked for again")
		whole, err := b.Shelf.Snapshot(name)
		require.NoError(t, err)
		require.True(t, whole.Complete)
		for n, slot := range whole.Slots {
			_, memory, err := b.Device.SlotMemory(slot.Messages)
			require.NoError(t, err)
			require.Equal(t, b.memory(t, n), memory)
		}
		_, err = b.PartialBackup()
		require.ErrorContains(t, err, "without --resume")
		_, err = b.Backup(ctx, nil, BackupOptions{Resume: name})
		require.ErrorContains(t, err, "is complete")
	})
}

func TestABackupGoesOnOnlyWithTheSameBox(t *testing.T) {
	onTheBench(t, emulator.Options{}, func(t *testing.T, ctx context.Context, b *bench) {
		broken, cancel := context.WithTimeout(ctx, 700*time.Millisecond)
		defer cancel()
		_, err := b.Backup(broken, b.AllSlots(), BackupOptions{})
		var partial *PartialError
		require.ErrorAs(t, err, &partial)

		other := *b.Session
		other.Port = "unix:elsewhere"
		_, err = other.PartialBackup()
		require.ErrorContains(t, err, "if that is the same box, give --resume="+partial.Snapshot)
		other.Unit = 3
		_, err = other.PartialBackup()
		require.NotContains(t, err.Error(), partial.Snapshot)
		_, err = other.Backup(ctx, nil, BackupOptions{Resume: partial.Snapshot})
		require.ErrorContains(t, err, "unit 0")

		kept, err := b.Shelf.Snapshot(partial.Snapshot)
		require.NoError(t, err)
		kept.Identity[len(kept.Identity)-2]++ // another version of the firmware
		another, err := b.Shelf.WriteSnapshot(ctx, kept)
		require.NoError(t, err)
		_, err = b.Backup(ctx, nil, BackupOptions{Resume: another})
		require.ErrorContains(t, err, "begin a new backup")
	})
}

func TestAReplayLeavesNothingInTheLibrary(t *testing.T) {
	aside, err := library.Open(t.TempDir(), time.Now)
	require.NoError(t, err)
	onTheBench(t, emulator.Options{Faults: emulator.Faults{DieAfter: 3}}, func(t *testing.T, ctx context.Context, b *bench) {
		b.Aside = aside
		_, err := b.Push(ctx, 5, b.written(), PushOptions{})
		require.Error(t, err)
		require.NotContains(t, err.Error(), "echowright resume", "there is nothing to resume")
		require.Empty(t, b.openIntents(t))
		snapshots, err := b.Shelf.Snapshots()
		require.NoError(t, err)
		require.Empty(t, snapshots)
		aside, err := aside.Intents()
		require.NoError(t, err)
		require.Len(t, aside, 1)
	})
}

func TestLoadMakesASlotSound(t *testing.T) {
	onTheBench(t, emulator.Options{}, func(t *testing.T, ctx context.Context, b *bench) {
		_, err := b.Push(ctx, 9, b.written(), PushOptions{})
		require.NoError(t, err)
		require.NotEqual(t, b.memory(t, 9)[:60], b.memory(t, emulator.EditBuffer)[:60], "a slot just written does not sound yet")
		_, err = b.Load(ctx, 9)
		require.NoError(t, err)
		require.Equal(t, b.memory(t, 9)[:60], b.memory(t, emulator.EditBuffer)[:60])
	})
}
