package exchange

import (
	"context"
	"errors"
	"fmt"
	"slices"
	"time"

	"echowright/library"
	"echowright/midi"
	"echowright/midi/transfer"
	"echowright/profiles"
)

// Runner runs steps on a device: a *[transfer.Link].
type Runner interface {
	Run(ctx context.Context, steps []midi.Step) (transfer.Result, error)
}

// A Session is a device on a port, and the library that keeps what was in it.
type Session struct {
	Device *profiles.Device
	Unit   int    // the number that is set on the device
	Port   string // its name, kept in snapshots
	Link   Runner
	Shelf  *library.Library
	Now    func() time.Time

	Progress func(done, of int) // slots done, may be nil
	Warn     func(text string)  // may be nil
}

// Spent is what a conversation took.
type Spent struct {
	Messages int     `json:"messages"`
	Bytes    int     `json:"bytes"`
	Seconds  float64 `json:"seconds"`
}

func (s *Spent) add(r transfer.Result) {
	s.Messages += r.Messages
	s.Bytes += r.Bytes
	s.Seconds += r.Elapsed.Seconds()
}

// A Slot is what a slot of the device holds.
type Slot struct {
	Number  int
	Memory  []byte           // as the device keeps it
	Message []byte           // as the device sent it
	Setting profiles.Setting // what it means; only where Fault is nil
	Fault   error            // why its memory is no setting of the device
}

// run is one step and its answer.
func (s *Session) run(ctx context.Context, spent *Spent, step midi.Step, err error) ([]byte, error) {
	if err != nil {
		return nil, err
	}
	r, err := s.Link.Run(ctx, []midi.Step{step})
	spent.add(r)
	if err != nil {
		return nil, err
	}
	return r.Replies[0].Message, nil
}

// identify makes sure that the device is the one that the profile describes. A
// profile without an identity is taken at its word.
func (s *Session) identify(ctx context.Context, spent *Spent) (identity []byte, err error) {
	if err := s.Device.CheckUnit(s.Unit); err != nil {
		return nil, err
	}
	if s.Device.Identity == nil {
		return nil, nil
	}
	step, err := s.Device.IdentityStep(s.Unit)
	reply, err := s.run(ctx, spent, step, err)
	if err != nil {
		return nil, err
	}
	if err := s.Device.CheckIdentity(reply); err != nil {
		return nil, fmt.Errorf("port %s: %w; nothing was written: choose the profile of the device that is there, or the port of the one that is meant", s.Port, err)
	}
	return slices.Clone(reply), nil
}

// ReadSlot asks for a slot; a message that was damaged on the way is asked for
// again. A memory that arrived whole but holds no setting is given with its Fault.
func (s *Session) ReadSlot(ctx context.Context, number int) (Slot, Spent, error) {
	var spent Spent
	slot, err := s.readSlot(ctx, &spent, number)
	return slot, spent, err
}

func (s *Session) readSlot(ctx context.Context, spent *Spent, number int) (Slot, error) {
	for try := 0; ; try++ {
		var slot Slot
		reply, err := s.ask(ctx, spent, number)
		if err == nil {
			slot, err = s.slotOf(reply, number)
		}
		// A memory whose own check fails may have been hurt on the way too, where
		// the message's checksum is too weak to show it.
		if !errors.Is(err, profiles.ErrDamaged) && !errors.Is(slot.Fault, profiles.ErrDamaged) || try == s.Device.Manners.Retries {
			if err != nil {
				return Slot{}, fmt.Errorf("reading slot %d: %w", number, err)
			}
			return slot, nil
		}
		s.warn("slot %d came damaged, asked for again", number)
	}
}

// ask has the conversation about a slot, and gives all that the device sent.
func (s *Session) ask(ctx context.Context, spent *Spent, number int) ([]byte, error) {
	reading, err := s.Device.ReadSlot(s.Unit, number)
	if err != nil {
		return nil, err
	}
	for {
		step, more := reading.Next()
		if !more {
			return reading.Messages(), nil
		}
		reply, err := s.run(ctx, spent, step, nil)
		if err != nil {
			return nil, err
		}
		if err := reading.Take(reply); err != nil {
			return nil, err
		}
	}
}

func (s *Session) slotOf(message []byte, asked int) (Slot, error) {
	number, memory, err := s.Device.SlotMemory(message)
	if err != nil {
		return Slot{}, err
	}
	if number != asked {
		return Slot{}, fmt.Errorf("slot %d was asked for, slot %d came", asked, number)
	}
	slot := Slot{Number: number, Memory: memory, Message: slices.Clone(message)}
	slot.Setting, slot.Fault = s.Device.SlotSetting(memory)
	return slot, nil
}

// keep files slots as a snapshot and returns its name.
func (s *Session) keep(ctx context.Context, slots []Slot, identity []byte, note string) (string, error) {
	snapshot := library.Snapshot{
		Device: s.Device.Name, Profile: s.Device.Source(), ProfileSHA256: s.Device.SHA256(),
		Port: s.Port, UnitNumber: s.Unit, Identity: identity, Taken: s.Now(), Note: note, Complete: true,
	}
	for _, slot := range slots {
		snapshot.Slots = append(snapshot.Slots, library.SnapshotSlot{Slot: slot.Number, Messages: slot.Message})
	}
	name, err := s.Shelf.WriteSnapshot(ctx, snapshot)
	if err != nil {
		return "", fmt.Errorf("keeping what the device holds: %w; nothing was written to the device", err)
	}
	return name, nil
}

func (s *Session) warn(format string, args ...any) {
	if s.Warn != nil {
		s.Warn(fmt.Sprintf(format, args...))
	}
}

func (s *Session) progress(done, of int) {
	if s.Progress != nil {
		s.Progress(done, of)
	}
}
