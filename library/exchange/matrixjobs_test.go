package exchange

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"slices"
	"strings"
	"testing"

	"echowright/library"
	"echowright/midi/transfer"
)

// A job is one of the conversations that are tried under each fault.
type job struct {
	name   string
	device string
	asked  func(g *ground) map[int][]byte // what slots are to hold; none for a backup
	do     func(ctx context.Context, s *Session, g *ground) account
}

func (j job) title() string { return j.device + " " + j.name }

// An account is what a job said when it ended.
type account struct {
	err      error
	holds    map[int]Holds // of the slots that it was to write
	intent   string        // that was said to stay in the journal
	snapshot string        // that was said to be kept of what was there before
	backup   *BackedUp
}

func matrixJobs() []job {
	var all []job
	for _, device := range []string{"five-line", "open-parameter"} {
		all = append(all,
			job{"push", device, func(g *ground) map[int][]byte { return map[int][]byte{g.slots[0]: g.pushed} }, pushJob},
			job{"backup", device, func(*ground) map[int][]byte { return nil }, backupJob},
			job{"restore", device, restoreAsks, restoreJob},
			job{resumed, device, restoreAsks, resumeJob},
		)
	}
	return all
}

// resumed is the job of finishing a restore that was broken off.
const resumed = "resume"

func restoreAsks(g *ground) map[int][]byte {
	asked := map[int][]byte{}
	for _, n := range g.slots[1:] {
		asked[n] = g.factory[n]
	}
	return asked
}

func pushJob(ctx context.Context, s *Session, g *ground) account {
	n := g.slots[0]
	done, err := s.Push(ctx, n, g.setting, PushOptions{})
	a := account{err: err, holds: map[int]Holds{n: done.Holds}, snapshot: done.Snapshot}
	var unwritten *UnwrittenError
	if errors.As(err, &unwritten) {
		a.intent = unwritten.Intent
	}
	return a
}

func backupJob(ctx context.Context, s *Session, g *ground) account {
	done, err := s.Backup(ctx, g.slots, BackupOptions{})
	return account{err: err, backup: &done}
}

func restoreJob(ctx context.Context, s *Session, g *ground) account {
	a := account{holds: map[int]Holds{}}
	for n := range restoreAsks(g) {
		a.holds[n] = HoldsBefore
	}
	var places []Placed
	for _, n := range g.slots {
		places = append(places, Placed{From: n, To: n})
	}
	c, err := s.Compare(ctx, g.snapshot, places, RestoreOptions{})
	if err != nil {
		a.err = err
		return a
	}
	done, err := s.Restore(ctx, c)
	a.err, a.snapshot = err, done.Snapshot
	for _, n := range done.Written {
		a.holds[n] = HoldsAsked
	}
	var unwritten *UnwrittenError
	if errors.As(err, &unwritten) {
		a.holds[unwritten.Slot] = unwritten.Holds
		a.intent = unwritten.Intent
	}
	return a
}

// resumeJob: where it ends with an error it says no more than that the journal
// has what there is to do.
func resumeJob(ctx context.Context, s *Session, g *ground) account {
	a := account{holds: map[int]Holds{}}
	intent, err := s.Shelf.Intent(g.intent)
	if err == nil {
		_, err = s.Resume(ctx, intent, ResumeOptions{})
	}
	for n := range restoreAsks(g) {
		a.holds[n] = HoldsAsked
		if err != nil {
			a.holds[n] = HoldsUnknown
			a.intent = g.intent
		}
	}
	a.err = err
	return a
}

// code is the exit code that the commands make of an error.
func (a account) code() int {
	var (
		differs *DiffersError
		silent  *transfer.NoAnswerError
	)
	switch {
	case a.err == nil:
		return 0
	case errors.As(a.err, &differs):
		return 3
	case errors.As(a.err, &silent):
		return 4
	}
	return 1
}

// end is how a cell is counted.
type end string

const (
	endAsked   end = "asked"  // all slots hold what was asked for; the backup is complete
	endBefore  end = "before" // all slots hold what they held; of the backup there is nothing
	endPartial end = "partial"
	endOpen    end = "journal" // has it: from there it goes both ways
)

// told is how a job says that it ended.
func (a account) told() end {
	switch {
	case a.backup != nil && a.err == nil:
		return endAsked
	case a.backup != nil && a.backup.Snapshot != "":
		return endPartial
	case a.backup != nil:
		return endBefore
	case a.intent != "":
		return endOpen
	}
	for _, holds := range a.holds {
		if holds == HoldsBefore {
			return endBefore
		}
	}
	return endAsked
}

// lies lists what an account says that is not so.
func (a account) lies(t *testing.T, g *ground, j job, b *connected) (lies []string) {
	lie := func(format string, args ...any) { lies = append(lies, fmt.Sprintf(format, args...)) }
	asked := j.asked(g)
	for n := range b.unit.Slots() {
		now := b.memory(t, n)
		before := g.now[n]
		if !bytes.Equal(now, before) && a.snapshot == "" && j.name != resumed {
			lie("slot %d was written, and no snapshot told of", n)
		}
		switch holds, meant := a.holds[n]; {
		case !meant && !bytes.Equal(now, before):
			lie("slot %d was not meant, but written", n)
		case holds == HoldsAsked && !bytes.Equal(now, asked[n]), holds == HoldsBefore && !bytes.Equal(now, before):
			lie("slot %d does not hold what was there %s", n, holds)
		case holds == HoldsUnknown && a.intent == "":
			lie("slot %d is not known, and not in the journal", n)
		case meant && holds != HoldsAsked && a.err == nil:
			lie("slot %d holds %s, and there is no error", n, holds)
		}
	}
	return append(lies, slices.Concat(a.journalLies(b.Shelf), a.backupLies(g, b.Shelf), a.snapshotLies(g, b))...)
}

func (a account) journalLies(shelf *library.Library) []string {
	open, err := shelf.Intents()
	switch {
	case err != nil:
		return []string{err.Error()}
	case a.intent == "" && len(open) > 0:
		return []string{"something is left in the journal, without a word"}
	case a.intent != "" && (len(open) != 1 || open[0].Name != a.intent || open[0].Err != nil):
		return []string{fmt.Sprintf("%s is not what the journal has: %v", a.intent, open)}
	}
	return nil
}

// backupLies: a backup without an error is complete; with one it is partial, or
// not there.
func (a account) backupLies(g *ground, shelf *library.Library) []string {
	if a.backup == nil || a.backup.Snapshot == "" {
		return nil
	}
	kept, err := shelf.Snapshot(a.backup.Snapshot)
	var partial *PartialError
	switch {
	case err != nil:
		return []string{err.Error()}
	case kept.Complete != (a.err == nil) || kept.Complete != a.backup.Complete || kept.Complete != (len(kept.Slots) == len(g.slots)):
		return []string{"the backup is not what it was said to be"}
	case a.err != nil && !errors.As(a.err, &partial):
		return []string{"the backup is partial, without a word"}
	case !kept.Complete && !slices.Equal(kept.Asked, g.slots):
		return []string{"the backup does not know what it was to hold"}
	}
	return nil
}

// snapshotLies: every snapshot is sound, and those that are new hold what was there
// before, or what resume found.
func (a account) snapshotLies(g *ground, b *connected) (lies []string) {
	all, err := b.Shelf.Snapshots()
	if err != nil {
		return []string{err.Error()}
	}
	named := a.snapshot == ""
	for _, e := range all {
		named = named || e.Name == a.snapshot
		if err := b.Shelf.CheckSnapshot(e.Name); err != nil {
			lies = append(lies, err.Error())
			continue
		}
		if g.kept[e.Name] || strings.HasPrefix(e.Snapshot.Note, "as found by resume") {
			continue
		}
		s, err := b.Shelf.Snapshot(e.Name)
		if err != nil {
			return append(lies, err.Error())
		}
		for _, slot := range s.Slots {
			_, memory, err := b.Device.SlotMemory(slot.Messages)
			if err != nil || !bytes.Equal(memory, g.now[slot.Slot]) {
				lies = append(lies, fmt.Sprintf("snapshot %s: slot %d is not what was there before: %v", e.Name, slot.Slot, err))
			}
		}
	}
	if !named {
		lies = append(lies, "there is no snapshot "+a.snapshot)
	}
	return lies
}
