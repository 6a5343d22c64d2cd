package exchange

import (
	"context"
	"errors"
	"fmt"

	"echowright/library"
	"echowright/profiles"
)

// What is done, as the journal has it.
const (
	doingPush    = "push"
	doingRestore = "restore"
)

// begin notes what is going to be written; without the note nothing is.
func (s *Session) begin(ctx context.Context, doing, note, snapshot string, all []content) (intent string, err error) {
	i := s.intent(doing, note, snapshot)
	i.ReadBack = true
	for _, c := range all {
		i.Slots = append(i.Slots, library.IntentSlot{Slot: c.slot, Content: c.memory})
	}
	return s.beginIntent(ctx, i)
}

func (s *Session) beginIntent(ctx context.Context, i library.Intent) (string, error) {
	name, err := s.keeper().Begin(ctx, i)
	if err != nil {
		return "", fmt.Errorf("noting in the journal what is going to be written: %w; nothing was written to the device", err)
	}
	return name, nil
}

func (s *Session) intent(doing, note, snapshot string) library.Intent {
	return library.Intent{
		Doing: doing, Note: note, Snapshot: snapshot,
		Device: s.Device.Name, Profile: s.Device.Source(), ProfileSHA256: s.Device.SHA256(),
		Port: s.Port, Rig: s.Rig, UnitNumber: s.Unit, Channel: s.Channel, Began: s.Now(),
	}
}

// finished closes what was begun, also after Ctrl-C. Where the journal cannot be
// closed the intent stays in it, and that is told with the error there was.
func (s *Session) finished(ctx context.Context, intent string, failed error) (left string, err error) {
	err = s.keeper().Finish(context.WithoutCancel(ctx), intent)
	if err == nil {
		return "", failed
	}
	err = fmt.Errorf("the journal cannot be closed: %w", err)
	if failed != nil {
		err = fmt.Errorf("%w; and %w", failed, err)
	}
	return intent, err
}

// open is an intent that somebody has to bring to its end: one of a replay is gone
// with it.
func (s *Session) open(intent string) string {
	if s.Aside != nil {
		return ""
	}
	return intent
}

// checkOpen refuses to begin anything while something else on the same port has
// not come to its end.
func (s *Session) checkOpen() error {
	open, err := s.keeper().Intents()
	if err != nil {
		return err
	}
	for _, e := range open {
		if e.Err != nil {
			s.warn("the journal's entry %s cannot be read: %v", e.Name, e.Err)
			continue
		}
		if i := e.Intent; i.Port == s.Port && i.Device == s.Device.Name && i.UnitNumber == s.Unit && i.Channel == s.Channel {
			return &OpenError{Intent: e.Name, Doing: i.Doing, Port: i.Port, Slots: slotsOf(i)}
		}
	}
	return nil
}

func slotsOf(i library.Intent) []int {
	var all []int
	for _, slot := range i.Slots {
		all = append(all, slot.Slot)
	}
	return all
}

// differences are those that an error tells of.
func differences(err error) []profiles.Difference {
	var differs *DiffersError
	if errors.As(err, &differs) {
		return differs.Differences
	}
	return nil
}
