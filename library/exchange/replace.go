package exchange

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"strings"
	"time"

	"echowright/midi"
	"echowright/midi/transfer"
)

// settleTime is how long a slot is cared for after something went wrong, also
// after Ctrl-C: a box that starts again is back within it.
const settleTime = 12 * time.Second

// A content is what a slot is to hold.
type content struct {
	slot   int
	memory []byte
	// exact: to the last byte. A setting that was worked out is there as soon as
	// every parameter is; a memory that was kept is put back as it was.
	exact bool
}

// replace makes a slot hold something else than it does. Where that fails, what
// it held before is put back, and where the line may have been the reason, all is
// tried once more. It says what the slot holds in the end, and why it failed if it
// did. Near are slots that must not come to harm.
func (s *Session) replace(ctx context.Context, spent *Spent, asked, before content, near []bystander) (Holds, error) {
	holds, err := s.replaceOnce(ctx, spent, asked, before, near)
	if holds == HoldsBefore && ctx.Err() == nil && s.worthAgain(err) {
		s.warn("slot %d: %v; tried once more", asked.slot, err)
		holds, err = s.replaceOnce(ctx, spent, asked, before, near)
	}
	return holds, err
}

// worthAgain reports whether a second try may end otherwise. A refusal is final,
// but for that of a dump of many messages: one damaged byte makes a device
// cancel it.
func (s *Session) worthAgain(err error) bool {
	var refused *transfer.RefusedError
	var stray *StrayError
	_, many := s.Device.CancelStep(s.Unit)
	return !errors.As(err, &stray) && (many || !errors.As(err, &refused))
}

func (s *Session) replaceOnce(ctx context.Context, spent *Spent, asked, before content, near []bystander) (Holds, error) {
	failed := s.naming(s.writeAndVerify(ctx, spent, asked), asked, before)
	if failed == nil && !bytes.Equal(asked.memory, before.memory) { // else it could have gone anywhere
		return HoldsAsked, nil
	}
	settling, cancel := context.WithTimeout(context.WithoutCancel(ctx), settleTime)
	defer cancel()
	if ctx.Err() != nil {
		s.warn("interrupted: slot %d is brought to a known state first, which takes %v at the most; Ctrl-C again ends at once", asked.slot, settleTime)
	}
	if failed == nil {
		return HoldsAsked, s.lookAfter(settling, spent, near)
	}
	holds, err := s.settle(settling, spent, asked, before)
	if holds == HoldsBefore || bytes.Equal(asked.memory, before.memory) { // it may have gone elsewhere
		if err := s.lookAfter(settling, spent, near); err != nil {
			return holds, fmt.Errorf("%w; and %w", failed, err)
		}
	}
	if holds == HoldsAsked && ctx.Err() == nil {
		s.warn("slot %d: %v; it holds what was asked for all the same", asked.slot, failed)
		return holds, nil
	}
	if err != nil {
		failed = fmt.Errorf("%w; and putting back what it held: %w", failed, err)
	}
	return holds, failed
}

// naming adds to the refusal of a slot that is written as a whole, which names no
// parameter, those that were to change.
func (s *Session) naming(err error, asked, before content) error {
	var refused *transfer.RefusedError
	if !errors.As(err, &refused) {
		return err
	}
	was, fault1 := s.Device.SlotSetting(before.memory)
	is, fault2 := s.Device.SlotSetting(asked.memory)
	if fault1 != nil || fault2 != nil {
		return err
	}
	var names []string
	for _, d := range s.Device.Differences(was, is) {
		names = append(names, d.Parameter)
	}
	if len(names) == 0 {
		return err
	}
	const shown = 6
	if more := len(names) - shown; more > 0 {
		names = append(names[:shown], fmt.Sprintf("and %d more", more))
	}
	return fmt.Errorf("%w (it names no parameter; those that were to change: %s)", err, strings.Join(names, ", "))
}

// settle finds out what a slot holds, and puts back what it held before unless
// it holds the one or the other already. A device that is busy, or says nothing at
// all, is given time to come back.
func (s *Session) settle(ctx context.Context, spent *Spent, asked, before content) (Holds, error) {
	var silence error
	for {
		holds, err := s.settleOnce(ctx, spent, asked, before)
		var silent *transfer.NoAnswerError
		var busy *transfer.GaveUpError
		comesBack := errors.As(err, &silent) || errors.As(err, &busy) && busy.Means == midi.Busy
		switch {
		case holds == HoldsUnknown && ctx.Err() != nil && silence != nil:
			return holds, silence // that its time is over says less
		case holds != HoldsUnknown || !comesBack:
			return holds, err
		}
		silence = err
	}
}

func (s *Session) settleOnce(ctx context.Context, spent *Spent, asked, before content) (Holds, error) {
	now, err := s.readSlot(ctx, spent, asked.slot)
	switch {
	case err != nil:
		return HoldsUnknown, err
	case s.differs(now, asked) == nil: // also where it held that before
		return HoldsAsked, nil
	case bytes.Equal(now.Memory, before.memory):
		return HoldsBefore, nil
	}
	if err := s.writeAndVerify(ctx, spent, before); err != nil {
		return HoldsUnknown, err
	}
	return HoldsBefore, nil
}

// writeAndVerify overwrites a slot and reads it back.
func (s *Session) writeAndVerify(ctx context.Context, spent *Spent, c content) error {
	steps, err := s.Device.WriteSlotSteps(s.Unit, c.slot, c.memory)
	for _, step := range steps {
		if _, err = s.run(ctx, spent, step, nil); err != nil {
			s.breakOff(ctx, spent)
			break
		}
	}
	if err != nil {
		return err
	}
	now, err := s.readSlot(ctx, spent, c.slot)
	if err != nil {
		return err
	}
	return s.differs(now, c)
}

// differs is a *DiffersError where a slot does not hold what it should.
func (s *Session) differs(now Slot, c content) error {
	if bytes.Equal(now.Memory, c.memory) {
		return nil
	}
	e := &DiffersError{Slot: c.slot, Fault: now.Fault}
	want, err := s.Device.SlotSetting(c.memory)
	if err == nil && now.Fault == nil {
		e.Differences = s.Device.Differences(want, now.Setting)
		if len(e.Differences) == 0 && !c.exact {
			return nil
		}
	}
	return e
}
