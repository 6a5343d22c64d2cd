package profiles

import (
	"errors"
	"fmt"
	"time"

	"echowright/midi"
)

// messages are what can be said to the device, nil where it has no such message.
type messages struct {
	set, ask, askSlot, writeSlot, store, load *message

	answers []answer
}

// A message is a command with the reply that brings what was asked for; without
// a reply it is acknowledged.
type message struct {
	command int
	send    *template
	reply   *template
	flash   bool          // writes to memory
	pause   time.Duration // the silence after it, if longer than the gap
	mute    bool          // never answered, whatever the device answers otherwise
}

func (m *message) sent() *template {
	if m == nil {
		return nil
	}
	return m.send
}

func (m *message) replied() *template {
	if m == nil {
		return nil
	}
	return m.reply
}

// An answer is what may come back to any command.
type answer struct {
	match *template
	means midi.Meaning
	says  string
}

// ErrCannot is what asking for a message gives that the device does not have.
var ErrCannot = errors.New("the device has no message for it")

// step fills a message and works out what may come back.
func (d *Device) step(m *message, what string, f fields) (midi.Step, error) {
	if m == nil {
		return midi.Step{}, fmt.Errorf("device %q: %s: %w", d.Name, what, ErrCannot)
	}
	f.command, f.channel = m.command, d.channel(f.unit)
	send, err := m.send.append(nil, &f)
	if err != nil {
		return midi.Step{}, fmt.Errorf("device %q: %s: %w", d.Name, what, err)
	}
	s := midi.Step{What: what, Send: send, Gap: max(d.Manners.Gap, m.pause)}
	if s.Answers, err = d.answersTo(m, f); err != nil {
		return midi.Step{}, fmt.Errorf("device %q: answers to %s: %w", d.Name, what, err)
	}
	// A device that says nothing when it is ready is given the time it may need,
	// and then the silence that it wants between any two messages.
	switch {
	case len(s.Answers) == 0 && m.flash:
		s.Gap = max(s.Gap, d.Manners.Flash+d.Manners.Gap)
	case m.flash:
		s.Timeout = d.Manners.Answer + d.Manners.Flash
	case len(s.Answers) > 0:
		s.Timeout = d.Manners.Answer
	}
	return s, nil
}

// answersTo lists the reply, if the message has one, and then whatever may come
// back to any command; a message with a reply is not acknowledged beside it.
// Nothing acknowledges a channel message.
func (d *Device) answersTo(m *message, f fields) ([]midi.Answer, error) {
	var all []midi.Answer
	if m.mute || !m.send.exclusive() {
		return nil, nil
	}
	if m.reply != nil {
		f.value, f.dump = anyNumber, nil
		match, err := m.reply.match(&f)
		if err != nil {
			return nil, err
		}
		all = append(all, midi.Answer{Match: match, Means: midi.Data})
	}
	for _, a := range d.messages.answers {
		if m.reply != nil && a.means == midi.Done {
			continue
		}
		match, err := a.match.match(&f)
		if err != nil {
			return nil, err
		}
		all = append(all, midi.Answer{Match: match, Means: a.means, Says: a.says})
	}
	return all, nil
}

// Sendable reports whether the parameter (by its index) can be set alone.
func (d *Device) Sendable(parameter int) bool {
	p := d.Parameters[parameter]
	return p.way != nil || p.Address != None && d.messages.set != nil
}

// Way says for people how the parameter is set alone: "CC 16", "NRPN 01 08",
// "address 23h"; "" where it cannot be.
func (d *Device) Way(parameter int) string {
	switch p := d.Parameters[parameter]; {
	case p.way != nil:
		return p.way.name
	case d.Sendable(parameter):
		return fmt.Sprintf("address %02Xh", p.Address)
	}
	return ""
}

// SetStep sets one parameter (by its index) of what sounds now to a code.
func (d *Device) SetStep(unit, parameter, code int) (midi.Step, error) {
	p := d.Parameters[parameter]
	if !p.Scale.Holds(code) {
		return midi.Step{}, fmt.Errorf("device %q: set %s to code %d: it takes %d to %d", d.Name, p.Name, code, p.Scale.Low, p.Scale.High())
	}
	what := fmt.Sprintf("set %s = %s", p.Name, p.Scale.tell(code))
	m := d.messages.set
	if p.way != nil {
		m = &message{command: anyNumber, send: p.way.send, mute: p.way.gpc != nil}
	} else if p.Address == None {
		return midi.Step{}, fmt.Errorf("device %q: %s: %w", d.Name, what, ErrCannot)
	}
	return d.step(m, what, fields{unit: unit, address: p.Address, value: code})
}

// AskStep asks for one parameter (by its index) of what sounds now.
func (d *Device) AskStep(unit, parameter int) (midi.Step, error) {
	p := d.Parameters[parameter]
	if p.Address == None {
		return midi.Step{}, fmt.Errorf("device %q: ask for %s: %w", d.Name, p.Name, ErrCannot)
	}
	return d.step(d.messages.ask, "ask for "+p.Name, fields{unit: unit, address: p.Address})
}

// Code reads the answer to AskStep.
func (d *Device) Code(message []byte) (code int, err error) {
	var f fields
	if d.messages.ask == nil {
		return 0, fmt.Errorf("device %q: %w", d.Name, ErrCannot)
	}
	err = d.messages.ask.reply.parse(message, &f)
	return f.value, err
}
