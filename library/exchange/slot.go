package exchange

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"slices"
	"time"

	"echowright/midi/transfer"
	"echowright/profiles"
)

// A Slot is what a slot of the device holds.
type Slot struct {
	Number  int
	Memory  []byte           // as the device keeps it
	Message []byte           // as the device sent it
	Setting profiles.Setting // what it means; only where Fault is nil
	Fault   error            // why its memory is no setting of the device
}

// ReadSlot asks for a slot; a message that was damaged on the way is asked for
// again, and one that carries no checksum is asked for until it comes twice the
// same, as is one whose own check fails: a device can keep such a memory, and then
// sends it so each time. A memory that arrived whole but holds no setting is given
// with its Fault.
func (s *Session) ReadSlot(ctx context.Context, number int) (Slot, Spent, error) {
	var spent Spent
	slot, err := s.readSlot(ctx, &spent, number)
	return slot, spent, err
}

func (s *Session) readSlot(ctx context.Context, spent *Spent, number int) (Slot, error) {
	slot, err := s.readWhole(ctx, spent, number)
	for range s.Device.Manners.Retries + 1 {
		if err != nil || s.Device.ProvesSlots() && !errors.Is(slot.Fault, profiles.ErrDamaged) {
			return slot, err
		}
		last := slot.Memory
		slot, err = s.readWhole(ctx, spent, number)
		if err == nil && bytes.Equal(slot.Memory, last) {
			return slot, nil
		}
		s.warn("slot %d came differently the second time, asked for again", number)
	}
	return Slot{}, fmt.Errorf("reading slot %d: it came differently each time, and nothing in it tells which is right: look at the cable", number)
}

// readWhole asks until a slot comes without damage that shows.
func (s *Session) readWhole(ctx context.Context, spent *Spent, number int) (Slot, error) {
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
			s.breakOff(ctx, spent)
			return nil, s.hurt(reading, err)
		}
		if err := reading.Take(reply); err != nil {
			return nil, err
		}
	}
}

// hurt is why a conversation about a slot ended. A device that began to send and
// then fell silent has lost a message, or we one of its, and one that cancels a
// dump may have heard something else than was sent: that is worth beginning anew.
func (s *Session) hurt(reading *profiles.SlotReading, err error) error {
	var silent *transfer.NoAnswerError
	var refused *transfer.RefusedError
	fellSilent := len(reading.Messages()) > 0 && errors.As(err, &silent)
	if _, many := s.Device.CancelStep(s.Unit); fellSilent || many && errors.As(err, &refused) {
		return fmt.Errorf("%w: %w", profiles.ErrDamaged, err)
	}
	return err
}

// breakOff tells a device that has begun with a slot of many messages that no
// more of them will come, also after Ctrl-C. Where that does not reach it either,
// its own patience ends.
func (s *Session) breakOff(ctx context.Context, spent *Spent) {
	step, many := s.Device.CancelStep(s.Unit)
	if !many {
		return
	}
	ctx, cancel := context.WithTimeout(context.WithoutCancel(ctx), time.Second)
	defer cancel()
	_, _ = s.run(ctx, spent, step, nil)
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

// AllSlots lists every slot of the device.
func (s *Session) AllSlots() []int {
	var all []int
	for n := s.Device.FirstSlot; n <= s.Device.LastSlot; n++ {
		all = append(all, n)
	}
	return all
}

func (s *Session) checkSlots(numbers []int) error {
	if len(numbers) == 0 {
		return errors.New("no slot is named: give --slots 0-7, or none for all of them")
	}
	for _, n := range numbers {
		if err := s.Device.CheckSlot(n); err != nil {
			return err
		}
	}
	return nil
}
