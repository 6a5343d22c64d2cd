package exchange

import (
	"bytes"
	"context"
	"fmt"
	"testing"

	"echowright/profiles/emulator"
)

// A way is one in which what was broken off goes on, once the device is in health.
type way struct {
	name string
	back bool // the slots are to hold what they held before, not what was asked for
	walk func(ctx context.Context, b *connected) error
}

// ways are those that an account leaves open.
func (a account) ways() []way {
	resume := func(putBack bool) func(context.Context, *connected) error {
		return func(ctx context.Context, b *connected) error {
			intent, err := b.Shelf.Intent(a.intent)
			if err == nil {
				_, err = b.Resume(ctx, intent, ResumeOptions{PutBack: putBack})
			}
			return err
		}
	}
	switch a.told() {
	case endOpen:
		return []way{{"resume", false, resume(false)}, {"put back", true, resume(true)}}
	case endPartial:
		return []way{{"backup --resume", false, func(ctx context.Context, b *connected) error {
			done, err := b.Backup(ctx, nil, BackupOptions{Resume: a.backup.Snapshot})
			if err == nil && !done.Complete {
				return fmt.Errorf("%s is still partial", done.Snapshot)
			}
			return err
		}}}
	}
	return nil
}

// healed goes one way, with the same memory in a device that is in health. It
// lists what is not as it should be in the end.
func (a account) healed(t *testing.T, g *ground, j job, home string, image []byte, w way) (lies []string) {
	b := connect(t, g, home, image, emulator.Options{}, &tap{})
	err := w.walk(t.Context(), b)
	b.end(t)
	if err != nil {
		return []string{err.Error()}
	}
	asked := j.asked(g)
	for n := range b.unit.Slots() {
		want, meant := asked[n]
		if !meant || w.back {
			want = g.before[n]
		}
		if !bytes.Equal(want, b.memory(t, n)) {
			lies = append(lies, fmt.Sprintf("slot %d holds neither what it held nor what was asked for, or the wrong one", n))
		}
	}
	if open := b.openIntents(t); len(open) > 0 {
		lies = append(lies, fmt.Sprintf("the journal still has %v", open))
	}
	return append(lies, account{snapshot: a.snapshot, backup: a.backup}.snapshotLies(g, b)...)
}
