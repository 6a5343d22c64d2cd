package exchange

import (
	"context"
	"fmt"
	"time"

	"echowright/library"
	"echowright/midi"
	"echowright/profiles"
)

// pushUnread writes to a device that says nothing: each parameter is set, then
// all is stored. What was sent is kept as the last that is known of the slot.
func (s *Session) pushUnread(ctx context.Context, done Pushed, setting profiles.Setting, note string) (Pushed, error) {
	steps, err := s.Device.PushSteps(s.Unit, done.Slot, setting)
	if err != nil {
		return done, err
	}
	if done.Snapshot, err = s.lastKnown(done.Slot); err != nil {
		return done, err
	}
	intent := s.intent(doingPush, note, done.Snapshot)
	intent.Slots = []library.IntentSlot{{Slot: done.Slot, Content: sent(steps)}}
	name, err := s.beginIntent(ctx, intent)
	if err != nil {
		return done, err
	}
	done.Holds, err = s.sendUnread(ctx, &done.Spent, steps)
	if done.Holds == HoldsAsked {
		done.Verified = VerifiedUnreadable
		if keeping := s.keepSent(ctx, done.Slot, steps); keeping != nil && err == nil {
			err = keeping
		}
	}
	if done.Holds != HoldsUnknown {
		name, err = s.finished(ctx, name, err)
	}
	if err == nil {
		return done, nil
	}
	return done, &UnwrittenError{Slot: done.Slot, Holds: done.Holds, Snapshot: done.Snapshot, Intent: s.open(name), Err: err}
}

// lastKnown is the snapshot of what was last sent to a slot, "" where there is
// none.
func (s *Session) lastKnown(slot int) (string, error) {
	last, known, err := s.Shelf.LastSent(s.Device.Name, s.Port, s.Unit, s.Channel, slot)
	if err != nil {
		return "", err
	}
	if known {
		return last.Name, nil
	}
	s.warn("slot %d: device %q cannot be asked what it holds, and nothing was sent to it over %s from here yet: what it holds now cannot be put back", slot, s.Device.Name, s.Port)
	if other, known, err := s.Shelf.LastSent(s.Device.Name, library.AnyPort, s.Unit, s.Channel, slot); err == nil && known {
		s.warn("over %s something was sent to slot %d of such a device on %s: if it is this one, `echowright restore %s` sends it again",
			other.Port, slot, other.Taken.Format(time.DateTime), other.Name)
	}
	return "", nil
}

// sendUnread runs the steps. A slot that is written as a whole is overwritten
// from the first byte on, else by the last step, which stores: until then it
// holds what it held.
func (s *Session) sendUnread(ctx context.Context, spent *Spent, steps []midi.Step) (Holds, error) {
	last := len(steps) - 1
	for i, step := range steps {
		before := spent.Bytes
		_, err := s.run(ctx, spent, step, nil)
		went := spent.Bytes - before
		overwriting := i == last || s.Device.WritesSlots()
		switch {
		case err == nil:
		case !overwriting || i == 0 && went == 0:
			return HoldsBefore, fmt.Errorf("%w; nothing was stored, but what sounds may have changed", err)
		case i == last && went == 0 && !s.Device.WritesSlots():
			return HoldsBefore, fmt.Errorf("%w; nothing was stored, but what sounds has changed", err)
		case i == last && went == len(step.Send):
			return HoldsAsked, err
		default:
			return HoldsUnknown, err
		}
	}
	return HoldsAsked, nil
}

// keepSent files what was sent as the last that is known.
func (s *Session) keepSent(ctx context.Context, slot int, steps []midi.Step) error {
	snapshot := s.snapshot([]library.SnapshotSlot{{Slot: slot, Messages: sent(steps)}}, nil, fmt.Sprintf("slot %d as it was last sent", slot))
	snapshot.Sent = true
	if _, err := s.keeper().WriteSnapshot(context.WithoutCancel(ctx), snapshot); err != nil {
		return fmt.Errorf("the slot was written, but that cannot be kept as what is last known of it: %w", err)
	}
	return nil
}

func sent(steps []midi.Step) []byte {
	var all []byte
	for _, step := range steps {
		all = append(all, step.Send...)
	}
	return all
}
