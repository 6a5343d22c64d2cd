package exchange

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"slices"

	"echowright/library"
	"echowright/midi"
)

// Resumed is what came of bringing something to its end.
type Resumed struct {
	Intent   string `json:"intent"`
	Doing    string `json:"doing"`
	Port     string `json:"port"` // over which it was brought to its end
	PutBack  bool   `json:"put_back"`
	Written  []int  `json:"written"`
	Same     []int  `json:"same"`     // slots that held it already
	Verified string `json:"verified"` // "yes", "no" or "unreadable"
	Found    string `json:"found"`    // snapshot of slots that held neither the old nor the new, "" if there were none
	Spent
}

// ResumeOptions say how to bring something to its end.
type ResumeOptions struct {
	PutBack bool // put back what the slots held before, in place of finishing it
	Force   bool // also where not one slot holds the old or the new, over another port than then
}

// A StrangerError refuses to go on over another port, with a device none of whose
// slots holds what it should, or what it held: it may be another one.
type StrangerError struct {
	Intent, Port, Then string
}

func (e *StrangerError) Error() string {
	return fmt.Sprintf("not one of the slots on %s holds what it held or was to hold when %s was begun on %s: is it another device? Nothing was written; if it is the same, give --force", e.Port, e.Intent, e.Then)
}

// Resume brings to its end what the journal has: it finishes it, or puts back
// what the slots held before. Slots that hold neither, because something was
// broken off in the middle or somebody has been at the device since, are kept as
// a snapshot first. Each slot is read back; on an error the journal keeps what
// there is to do.
func (s *Session) Resume(ctx context.Context, i library.Intent, o ResumeOptions) (Resumed, error) {
	done := Resumed{Intent: i.Name, Doing: i.Doing, Port: s.Port, PutBack: o.PutBack, Written: []int{}, Same: []int{}, Verified: VerifiedNo}
	if s.Device.SHA256() != i.ProfileSHA256 {
		return done, fmt.Errorf("%s was begun with another version of the profile of %q: use the one that is kept with it", i.Name, i.Device)
	}
	identity, err := s.identify(ctx, &done.Spent)
	if err != nil {
		return done, err
	}
	if !i.ReadBack {
		err = s.resumeUnread(ctx, &done, i)
	} else {
		err = s.resumeRead(ctx, &done, i, identity, o.Force)
	}
	if err != nil {
		return done, fmt.Errorf("%s stays in the journal: %w", i.Name, err)
	}
	if s.Aside == nil {
		_, err = s.finished(ctx, i.Name, nil)
	}
	return done, err
}

// A standing is a slot of an intent: what it is to hold, what else it may hold,
// and what it holds.
type standing struct {
	target content
	other  []byte
	now    Slot
}

func (s *Session) resumeRead(ctx context.Context, done *Resumed, i library.Intent, identity []byte, force bool) error {
	all, err := s.targets(i, done.PutBack)
	if err != nil {
		return err
	}
	var strange []Slot
	for n := range all {
		st := &all[n]
		if st.now, err = s.readSlot(ctx, &done.Spent, st.target.slot); err != nil {
			return err
		}
		if s.differs(st.now, st.target) != nil && !bytes.Equal(st.now.Memory, st.other) {
			strange = append(strange, st.now)
		}
	}
	if len(strange) == len(all) && s.Port != i.Port && !force {
		return &StrangerError{Intent: i.Name, Port: s.Port, Then: i.Port}
	}
	if len(strange) > 0 {
		if done.Found, err = s.keep(ctx, strange, identity, "as found by resume of "+i.Name); err != nil {
			return err
		}
	}
	return s.resumeWriting(ctx, done, all)
}

func (s *Session) resumeWriting(ctx context.Context, done *Resumed, all []standing) error {
	var slots []int
	for _, st := range all {
		slots = append(slots, st.target.slot)
	}
	near, err := s.bystanders(ctx, &done.Spent, slots)
	if err != nil {
		return err
	}
	first := len(near) // of the slots that are written; they stand by for each other
	for _, st := range all {
		near = append(near, bystander{content: content{st.target.slot, st.now.Memory, true}})
	}
	for n, st := range all {
		if s.differs(st.now, st.target) == nil {
			done.Same = append(done.Same, st.target.slot)
		} else if err := s.writeStubbornly(ctx, &done.Spent, st.target, s.near(st.target.slot, near)); err != nil {
			return err
		} else {
			done.Written = append(done.Written, st.target.slot)
			near[first+n].content = st.target
		}
		s.progress(n+1, len(all))
	}
	done.Verified = VerifiedYes
	return nil
}

// writeStubbornly writes a slot, once more where the line may have been the reason
// that it failed. After each failure it looks after the slots near to it.
func (s *Session) writeStubbornly(ctx context.Context, spent *Spent, c content, near []bystander) error {
	for again := false; ; again = true {
		err := s.writeAndVerify(ctx, spent, c)
		if err == nil {
			return nil
		}
		settling, cancel := context.WithTimeout(context.WithoutCancel(ctx), settleTime)
		if stray := s.lookAfter(settling, spent, near); stray != nil {
			err = fmt.Errorf("%w; and %w", err, stray)
		}
		cancel()
		if again || ctx.Err() != nil || !s.worthAgain(err) {
			return err
		}
		s.warn("slot %d: %v; tried once more", c.slot, err)
	}
}

// targets are the slots of an intent with what each is to hold, and the other
// thing that it may hold. To finish it what they held before is of use, but need
// not be known.
func (s *Session) targets(i library.Intent, putBack bool) ([]standing, error) {
	before, err := s.Shelf.Snapshot(i.Snapshot)
	if err != nil && putBack {
		return nil, fmt.Errorf("what the slots held before is lost: %w; without --put-back it can be finished, with --forget it is forgotten", err)
	}
	if err != nil {
		s.warn("what the slots held before is lost: %v; what they hold now is kept before it is overwritten", err)
	}
	var all []standing
	for _, slot := range i.Slots {
		st := standing{target: content{slot.Slot, slot.Content, i.Doing != doingPush}}
		if err == nil {
			if st.other, err = s.memoryIn(before, slot.Slot); err != nil {
				return nil, err
			}
		}
		if putBack {
			st.target, st.other = content{slot.Slot, st.other, true}, slot.Content
		}
		all = append(all, st)
	}
	return all, nil
}

// memoryIn is what a slot of a snapshot held.
func (s *Session) memoryIn(k library.Snapshot, slot int) ([]byte, error) {
	n := slices.IndexFunc(k.Slots, func(kept library.SnapshotSlot) bool { return kept.Slot == slot })
	if n < 0 {
		return nil, fmt.Errorf("snapshot %s does not hold slot %d", k.Name, slot)
	}
	old, err := s.slotOf(k.Slots[n].Messages, slot)
	if err != nil {
		return nil, fmt.Errorf("snapshot %s: slot %d: %w", k.Name, slot, err)
	}
	return old.Memory, nil
}

// resumeUnread sends everything again to a device that says nothing, or what had
// been sent to it before.
func (s *Session) resumeUnread(ctx context.Context, done *Resumed, i library.Intent) error {
	for n, slot := range i.Slots {
		messages := slot.Content
		if done.PutBack {
			var err error
			if messages, err = s.lastSent(i, slot.Slot); err != nil {
				return err
			}
		}
		steps, err := s.stepsAgain(slot.Slot, messages)
		if err != nil {
			return err
		}
		if holds, err := s.sendUnread(ctx, &done.Spent, steps); err != nil {
			return &UnwrittenError{Slot: slot.Slot, Holds: holds, Intent: i.Name, Err: err}
		}
		if err := s.keepSent(ctx, slot.Slot, steps); err != nil {
			return err
		}
		done.Written = append(done.Written, slot.Slot)
		s.progress(n+1, len(i.Slots))
	}
	done.Verified = VerifiedUnreadable
	return nil
}

// stepsAgain are the steps whose messages were kept.
func (s *Session) stepsAgain(slot int, messages []byte) ([]midi.Step, error) {
	setting, _, err := s.Device.SettingOf(messages)
	if err != nil {
		return nil, fmt.Errorf("slot %d: %w", slot, err)
	}
	return s.Device.PushSteps(s.Unit, slot, setting)
}

func (s *Session) lastSent(i library.Intent, slot int) ([]byte, error) {
	if i.Snapshot == "" {
		return nil, errors.New("what the slot held before was never known, so it cannot be put back: finish it, or `echowright resume --forget`")
	}
	before, err := s.Shelf.Snapshot(i.Snapshot)
	if err != nil {
		return nil, err
	}
	n := slices.IndexFunc(before.Slots, func(k library.SnapshotSlot) bool { return k.Slot == slot })
	if n < 0 {
		return nil, fmt.Errorf("snapshot %s does not hold slot %d", i.Snapshot, slot)
	}
	return before.Slots[n].Messages, nil
}
