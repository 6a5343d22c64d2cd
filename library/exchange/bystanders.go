package exchange

import (
	"bytes"
	"context"
	"fmt"
	"slices"

	"echowright/library"
)

// A bystander is a slot that lies so near to one that is written that a wrong bit
// on the way leads to it: see [profiles.Device.NearSlots]. Its content is what it
// is to go on holding.
type bystander struct {
	content
	message []byte // as the device sent it; nil where that is kept already
}

// A StrayError says that slots may have been overwritten which were not meant, and
// could not be put back.
type StrayError struct {
	Slots    []int
	Snapshot string // what they held, "" where it was kept before
	Err      error
}

func (e *StrayError) Error() string {
	text := fmt.Sprintf("a wrong bit may have led to %s what was meant for another, and it could not be put back: %v", library.SlotWords(e.Slots), e.Err)
	if e.Snapshot != "" {
		text += fmt.Sprintf("; what was there is kept: `echowright restore %s` puts it back", e.Snapshot)
	}
	return text
}

func (e *StrayError) Unwrap() error { return e.Err }

// bystanders reads the slots near to those that are going to be written.
func (s *Session) bystanders(ctx context.Context, spent *Spent, written []int) ([]bystander, error) {
	var all []bystander
	for _, w := range written {
		for _, n := range s.Device.NearSlots(w) {
			known := slices.ContainsFunc(all, func(b bystander) bool { return b.slot == n })
			if known || slices.Contains(written, n) {
				continue
			}
			slot, err := s.readSlot(ctx, spent, n)
			if err != nil {
				return nil, fmt.Errorf("%w; nothing was written", err)
			}
			all = append(all, bystander{content{n, slot.Memory, true}, slot.Message})
		}
	}
	return all, nil
}

// near leaves those that lie near to a slot.
func (s *Session) near(slot int, all []bystander) []bystander {
	slots := s.Device.NearSlots(slot)
	return slices.DeleteFunc(slices.Clone(all), func(b bystander) bool { return !slices.Contains(slots, b.slot) })
}

// lookAfter makes sure that bystanders hold what they held, after a write that did
// not do what it should. What was overwritten is put back, with its old content on
// the disk first. The error is a *[StrayError].
func (s *Session) lookAfter(ctx context.Context, spent *Spent, all []bystander) error {
	snapshot := ""
	for round := 0; ; round++ {
		hurt, why := s.harmed(ctx, spent, all)
		if len(hurt) == 0 {
			return nil
		}
		if snapshot == "" {
			snapshot = s.keepBystanders(ctx, hurt)
		}
		var slots []int
		for _, b := range hurt {
			slots = append(slots, b.slot)
		}
		if round > s.Device.Manners.Retries || ctx.Err() != nil || why != nil {
			return &StrayError{Slots: slots, Snapshot: snapshot, Err: why}
		}
		s.warn("%s: a wrong bit led there what was meant for another; put back", library.SlotWords(slots))
		for _, b := range hurt {
			_ = s.writeAndVerify(ctx, spent, b.content) // the next round looks
		}
	}
}

// harmed are those that hold something else, or cannot be read: then it says why.
func (s *Session) harmed(ctx context.Context, spent *Spent, all []bystander) (hurt []bystander, why error) {
	for _, b := range all {
		now, err := s.readSlot(ctx, spent, b.slot)
		if err != nil || !bytes.Equal(now.Memory, b.memory) {
			hurt = append(hurt, b)
		}
		if err != nil {
			why = err
		}
	}
	return hurt, why
}

// keepBystanders puts on the disk what is not there yet; "" where all is.
func (s *Session) keepBystanders(ctx context.Context, all []bystander) string {
	var slots []Slot
	for _, b := range all {
		if b.message != nil {
			slots = append(slots, Slot{Number: b.slot, Message: b.message})
		}
	}
	if len(slots) == 0 {
		return ""
	}
	name, err := s.keep(context.WithoutCancel(ctx), slots, nil, "before a wrong bit overwrote it")
	if err != nil {
		s.warn("%v", err)
	}
	return name
}
