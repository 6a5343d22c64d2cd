package exchange

import (
	"context"
)

// Restored is what came of putting a snapshot back.
type Restored struct {
	Snapshot string `json:"snapshot"` // what was overwritten, "" if nothing differed or it is not known
	Written  []int  `json:"written"`
	Same     []int  `json:"same"`     // slots that held it already
	Verified string `json:"verified"` // "yes", "no" or "unreadable"
	Spent
}

// Restore writes the changes that Compare told. What they overwrite is kept as a
// snapshot first, what is going to be done is noted in the journal, and each slot
// is read back. Where one cannot be written it is put back as it was, those
// before it stay written, and the error is an *[UnwrittenError]; then the journal
// keeps what there is to do, for Resume.
func (s *Session) Restore(ctx context.Context, c Comparison) (Restored, error) {
	done := Restored{Written: []int{}, Same: append([]int{}, c.Same...), Verified: VerifiedYes, Spent: c.Spent}
	if len(c.Changes) == 0 {
		return done, nil
	}
	if err := s.checkOpen(); err != nil {
		return done, err
	}
	if !s.Device.Readable() {
		return s.restoreUnread(ctx, done, c)
	}
	done.Verified = VerifiedNo
	var old []Slot
	var asked []content
	for _, change := range c.Changes {
		old = append(old, change.Now)
		asked = append(asked, content{slot: change.To, memory: change.Memory, exact: true})
	}
	near, err := s.bystanders(ctx, &done.Spent, slotsIn(asked))
	if err != nil {
		return done, err
	}
	if done.Snapshot, err = s.keep(ctx, old, c.identity, "before putting back "+c.Snapshot); err != nil {
		return done, err
	}
	intent, err := s.begin(ctx, doingRestore, "of "+c.Snapshot, done.Snapshot, asked)
	if err != nil {
		return done, err
	}
	return s.restoreAll(ctx, done, intent, asked, old, near)
}

func slotsIn(all []content) []int {
	var slots []int
	for _, c := range all {
		slots = append(slots, c.slot)
	}
	return slots
}

func (s *Session) restoreAll(ctx context.Context, done Restored, intent string, asked []content, old []Slot, near []bystander) (Restored, error) {
	first := len(near) // of the slots that are written; they stand by for each other
	for _, slot := range old {
		near = append(near, bystander{content: content{slot.Number, slot.Memory, true}})
	}
	for i, a := range asked {
		before := content{slot: a.slot, memory: old[i].Memory, exact: true}
		holds, err := HoldsBefore, ctx.Err()
		if err == nil {
			holds, err = s.replace(ctx, &done.Spent, a, before, s.near(a.slot, near))
		}
		if err != nil {
			err = s.brokenOff(ctx, done, intent, asked[i:], holds, err)
			if holds == HoldsAsked {
				done.Written = append(done.Written, a.slot)
			}
			return done, err
		}
		near[first+i].content = a
		done.Written = append(done.Written, a.slot)
		s.progress(i+1, len(asked))
	}
	_, err := s.finished(ctx, intent, nil)
	done.Verified = VerifiedYes
	return done, err
}

// brokenOff tells how far a restore has come. Where nothing has changed there is
// nothing to go on with.
func (s *Session) brokenOff(ctx context.Context, done Restored, intent string, left []content, holds Holds, err error) error {
	if len(done.Written) == 0 && holds == HoldsBefore {
		intent, err = s.finished(ctx, intent, err)
	}
	e := &UnwrittenError{
		Slot: left[0].slot, Holds: holds, Readable: true, Done: done.Written, Snapshot: done.Snapshot, Intent: s.open(intent), Err: err,
	}
	for _, c := range left[1:] {
		e.Untouched = append(e.Untouched, c.slot)
	}
	return e
}

// restoreUnread sends again what was last sent to a device that says nothing.
func (s *Session) restoreUnread(ctx context.Context, done Restored, c Comparison) (Restored, error) {
	done.Verified = VerifiedUnreadable
	for i, change := range c.Changes {
		pushed := Pushed{Slot: change.To, Holds: HoldsBefore, Verified: VerifiedNo}
		pushed, err := s.pushUnread(ctx, pushed, change.Setting, "of "+c.Snapshot)
		done.Messages, done.Bytes, done.Seconds = done.Messages+pushed.Messages, done.Bytes+pushed.Bytes, done.Seconds+pushed.Seconds
		if err != nil {
			return done, err
		}
		done.Written = append(done.Written, change.To)
		s.progress(i+1, len(c.Changes))
	}
	return done, nil
}
