package exchange

import (
	"context"
	"errors"
	"fmt"

	"echowright/midi/transfer"
	"echowright/profiles"
)

// Pushed is what came of writing a slot.
type Pushed struct {
	Slot int `json:"slot"`
	Spent
	Verified    string                `json:"verified"` // "yes" or "no"
	Snapshot    string                `json:"snapshot"` // the name under which the old content is kept
	Differences []profiles.Difference `json:"differences"`
}

// The words of Pushed.Verified.
const (
	VerifiedYes = "yes"
	VerifiedNo  = "no"
)

// A DiffersError says that a slot, read back, holds something else than was
// written to it.
type DiffersError struct {
	Slot        int
	Snapshot    string
	Differences []profiles.Difference
}

func (e *DiffersError) Error() string {
	text := fmt.Sprintf("slot %d holds something else than was written", e.Slot)
	for i, d := range e.Differences {
		if i == 3 {
			text += fmt.Sprintf(", and %d more", len(e.Differences)-i)
			break
		}
		text += fmt.Sprintf("; %s: wanted %v, got %v", d.Parameter, d.Was, d.Is)
	}
	return text + fmt.Sprintf("; what the slot held before is kept: `echowright restore %s` puts it back", e.Snapshot)
}

// Push writes a setting into a slot: it makes sure of the device, keeps what the
// slot holds, writes, reads back and compares. Where the device holds something
// else in the end the error is a *DiffersError, and Pushed tells the differences.
func (s *Session) Push(ctx context.Context, number int, setting profiles.Setting) (Pushed, error) {
	done := Pushed{Slot: number, Verified: VerifiedNo, Differences: []profiles.Difference{}}
	if err := s.Device.Check(setting); err != nil {
		return done, err
	}
	if err := s.Device.CheckSlot(number); err != nil {
		return done, err
	}
	identity, err := s.identify(ctx, &done.Spent)
	if err != nil {
		return done, err
	}
	old, err := s.readSlot(ctx, &done.Spent, number)
	if err != nil {
		return done, fmt.Errorf("%w; nothing was written", err)
	}
	if done.Snapshot, err = s.keep(ctx, []Slot{old}, identity, fmt.Sprintf("slot %d before a push", number)); err != nil {
		return done, err
	}
	if err := s.write(ctx, &done.Spent, number, s.Device.AppendSlot(nil, setting), done.Snapshot); err != nil {
		return done, err
	}
	return s.verify(ctx, done, setting)
}

// write overwrites a slot; the error says whether it was, and where its old content
// is kept.
func (s *Session) write(ctx context.Context, spent *Spent, number int, memory []byte, snapshot string) error {
	steps, err := s.Device.WriteSlotSteps(s.Unit, number, memory)
	for _, step := range steps {
		if _, err = s.run(ctx, spent, step, nil); err != nil {
			break
		}
	}
	var refused *transfer.RefusedError
	switch {
	case errors.As(err, &refused):
		return fmt.Errorf("writing slot %d: %w; the slot was not overwritten", number, err)
	case err != nil:
		return fmt.Errorf("writing slot %d: %w; whether it was overwritten is not known: what it held is kept, `echowright restore %s` puts it back",
			number, err, snapshot)
	}
	return nil
}

func (s *Session) verify(ctx context.Context, done Pushed, setting profiles.Setting) (Pushed, error) {
	now, err := s.readSlot(ctx, &done.Spent, done.Slot)
	if err != nil {
		return done, fmt.Errorf("slot %d was written, but could not be read back: %w; what it held before is kept as %s", done.Slot, err, done.Snapshot)
	}
	if now.Fault != nil {
		return done, fmt.Errorf("slot %d was written, but holds no setting now: %w; `echowright restore %s` puts back what it held",
			done.Slot, now.Fault, done.Snapshot)
	}
	done.Differences = append(done.Differences, s.Device.Differences(setting, now.Setting)...)
	if len(done.Differences) > 0 {
		return done, &DiffersError{Slot: done.Slot, Snapshot: done.Snapshot, Differences: done.Differences}
	}
	done.Verified = VerifiedYes
	return done, nil
}

// Load makes a slot sound.
func (s *Session) Load(ctx context.Context, number int) (Spent, error) {
	var spent Spent
	step, err := s.Device.LoadStep(s.Unit, number)
	_, err = s.run(ctx, &spent, step, err)
	return spent, err
}
