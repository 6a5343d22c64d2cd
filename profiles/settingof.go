package profiles

import (
	"fmt"

	"echowright/midi"
)

// SettingOf reads the messages of one push, as PushSteps makes them, back into the
// setting and the slot that it is stored in: what a device that cannot be read was
// last told. The error says what is missing or too much: a parameter of which
// nothing is said, no slot, more than one, a message that did not arrive whole.
func (d *Device) SettingOf(messages []byte) (s Setting, slot int, err error) {
	p := pushed{device: d, setting: d.Rest(), said: make([]bool, len(d.Parameters)), selected: None, slot: None}
	decoder := d.Decoder(None)
	var framer midi.Framer
	hear := func(f midi.Frame) {
		if f.Fault != midi.Whole {
			p.fail("a message is %v: %s", f.Fault, midi.Hex(f.Bytes[:min(8, len(f.Bytes))]))
			return
		}
		for _, told := range decoder.Feed(f.Bytes) {
			p.hear(told)
		}
	}
	framer.Feed(messages, hear)
	framer.End(hear)
	if n := framer.Stray(); n > 0 {
		p.fail("%d bytes belong to no message", n)
	}
	if p.err == nil {
		p.finish()
	}
	if p.err != nil {
		return Setting{}, None, fmt.Errorf("device %q: the messages of a push: %w", d.Name, p.err)
	}
	return p.setting, p.slot, nil
}

// pushed is what messages have said so far.
type pushed struct {
	device   *Device
	setting  Setting
	said     []bool // of which parameters
	selected int    // the slot last selected
	slot     int    // that it is stored in
	err      error  // the first thing that is wrong
}

func (p *pushed) fail(format string, args ...any) {
	if p.err == nil {
		p.err = fmt.Errorf(format, args...)
	}
}

func (p *pushed) hear(told Told) {
	switch {
	case told.Kind == ToldDamaged:
		p.fail("%w: %s", ErrDamaged, told.Says)
	case told.Kind == ToldAnswer || p.slot != None && told.Kind == ToldLoad:
		// changes no slot
	case p.slot != None:
		p.fail("they go on after the setting is stored in slot %d", p.slot)
	case told.Kind == ToldSet:
		p.setting.Codes[told.Parameter], p.said[told.Parameter] = told.Code, true
	case told.Kind == ToldLoad:
		p.selected = told.Slot
	case told.Kind == ToldStore:
		p.store(told.Slot)
	case told.Kind == ToldSlot:
		p.whole(told)
	}
}

// store keeps what was set in the slot that is named, or else was selected.
func (p *pushed) store(slot int) {
	if slot == None {
		slot = p.selected
	}
	if slot == None {
		p.fail("the setting is stored in the slot last selected, but none was")
	}
	p.slot = slot
}

// whole is a slot that is written in one go.
func (p *pushed) whole(told Told) {
	s, err := p.device.SlotSetting(told.Memory)
	if err != nil {
		p.fail("slot %d: %w", told.Slot, err)
		return
	}
	p.setting, p.slot = s, told.Slot
	for i := range p.said {
		p.said[i] = true
	}
}

func (p *pushed) finish() {
	if p.slot == None {
		p.fail("nothing is stored in a slot")
		return
	}
	for i, q := range p.device.Parameters {
		if !p.said[i] && p.device.Sendable(i) {
			p.fail("nothing is said of %s", q.Name)
			return
		}
	}
	if err := p.device.CheckSlot(p.slot); err != nil {
		p.fail("%w", err)
		return
	}
	if err := p.device.Check(p.setting); err != nil {
		p.fail("%w", err)
	}
}
