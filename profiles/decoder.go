package profiles

import (
	"errors"

	"echowright/midi"
)

// A Told is what a message means to the device, or says of it.
type Told struct {
	Kind      ToldKind
	Parameter int          // ToldSet: its index
	Code      int          // ToldSet
	Slot      int          // ToldLoad, ToldStore, ToldSlot; None where the one last selected is meant
	Memory    []byte       // ToldSlot: for SlotSetting
	Means     midi.Meaning // ToldAnswer
	Says      string       // ToldAnswer, ToldDamaged
}

// A ToldKind says what was told.
type ToldKind int

// The kinds.
const (
	ToldSet     ToldKind = iota + 1 // a parameter is set, or is told to be
	ToldLoad                        // a slot is to sound
	ToldStore                       // what sounds is to be kept in a slot
	ToldSlot                        // what a slot holds
	ToldAnswer                      // one of the device's [[answer]]s
	ToldDamaged                     // a message of the device that did not arrive whole
)

// A Decoder turns the messages on a line back into parameters and codes, in
// whichever direction they go: what is sent to the device, and what it sends
// when its knobs are turned. It remembers what messages before have selected:
// parameter numbers, the high byte of a value, banks.
type Decoder struct {
	device    *Device
	unit      int // None: any
	controls  map[int]int
	lows      map[int]int // parameters by the controller of their low byte
	numbers   map[parameterKey]int
	global    map[string]int
	addresses map[int]int
	own       []int // parameters with a template of their own
	channels  [16]channelState
	dump      []byte // messages of a File Dump so far
}

type parameterKey struct {
	registered bool
	number     int
}

// Decoder begins to listen; unit is the unit number, or channel, that counts,
// None for any.
func (d *Device) Decoder(unit int) *Decoder {
	out := &Decoder{
		device: d, unit: unit, controls: map[int]int{}, lows: map[int]int{}, numbers: map[parameterKey]int{},
		global: map[string]int{}, addresses: map[int]int{},
	}
	for i, p := range d.Parameters {
		w := p.way
		switch {
		case w == nil && p.Address != None:
			out.addresses[p.Address] = i
		case w == nil:
		case w.controls != nil:
			out.controls[w.controls[0]] = i
			if len(w.controls) == 2 {
				out.lows[w.controls[1]] = i
			}
		case w.number != nil:
			out.numbers[parameterKey{w.registered, int(*w.number)}] = i
		case w.gpc != nil:
			out.global[globalKey(w.gpc.slot, w.gpc.number())] = i
		default:
			out.own = append(out.own, i)
		}
	}
	return out
}

// Feed hears one whole message, with its status, and tells what it says; nothing
// where it says nothing of this device. A message that only selects, such as the
// number of a parameter, says nothing yet.
func (c *Decoder) Feed(message []byte) []Told {
	if len(message) == 0 {
		return nil
	}
	switch status := message[0]; {
	case status == midi.StartOfSysEx:
		return c.exclusive(message)
	case status >= 0x80 && status < midi.StartOfSysEx:
		if n, _ := dataBytes(status); len(message) != 1+n {
			return nil
		}
		return c.channelMessage(message)
	}
	return c.shared(message)
}

// here reports whether what was read of a message is for this unit.
func (c *Decoder) here(t *template, f fields) bool {
	if c.unit == None {
		return true
	}
	unit := f.unit == anyNumber || f.unit == c.unit || f.unit == midi.AllUnits
	return unit && (f.channel == anyNumber || f.channel == c.device.channel(c.unit))
}

// fits reads a message by a template of the device: whole, or damaged.
func (c *Decoder) fits(t *template, command int, message []byte) (f fields, ok, damaged bool) {
	f = fields{command: command, unit: anyNumber, channel: anyNumber, address: anyNumber, slot: None}
	err := t.parse(message, &f)
	if !c.here(t, f) {
		return f, false, false
	}
	return f, err == nil && (command == anyNumber || f.command == command), errors.Is(err, ErrDamaged)
}

// exclusive reads a System Exclusive message by everything that the device knows
// of that kind.
func (c *Decoder) exclusive(message []byte) []Told {
	if g, err := midi.ParseGlobalParameters(message); err == nil {
		return c.globalParameters(g)
	}
	if all := c.fileDump(message); all != nil {
		return all
	}
	var hurt []Told
	m := &c.device.messages
	for _, try := range []struct {
		t       *template
		command int
		tell    func(fields) []Told
	}{
		{m.set.sent(), m.set.number(), c.address},
		{m.ask.replied(), anyNumber, c.address},
		{m.writeSlot.sent(), m.writeSlot.number(), c.slot},
		{m.askSlot.replied(), anyNumber, c.slot},
	} {
		if try.t == nil {
			continue
		}
		f, ok, damaged := c.fits(try.t, try.command, message)
		if ok {
			return try.tell(f)
		}
		if damaged {
			hurt = []Told{{Kind: ToldDamaged, Parameter: None, Slot: None, Says: "its checksum does not hold"}}
		}
	}
	if all := c.shared(message); all != nil {
		return all
	}
	for _, a := range m.answers {
		if _, ok, _ := c.fits(a.match, anyNumber, message); ok {
			return []Told{{Kind: ToldAnswer, Parameter: None, Slot: None, Means: a.means, Says: a.says}}
		}
	}
	return hurt
}

// number is the command of a message, anyNumber where it names none.
func (m *message) number() int {
	if m == nil || m.send == nil || !m.send.has(fieldCommand) {
		return anyNumber
	}
	return m.command
}

func (c *Decoder) address(f fields) []Told {
	i, ok := c.addresses[f.address]
	if !ok {
		return nil
	}
	return c.set(i, f.value)
}

// set tells of a code that the parameter has; others mean nothing.
func (c *Decoder) set(parameter, code int) []Told {
	if !c.device.Parameters[parameter].Scale.Holds(code) {
		return nil
	}
	return []Told{{Kind: ToldSet, Parameter: parameter, Code: code, Slot: None}}
}

func (c *Decoder) slot(f fields) []Told {
	memory, err := c.device.memory.packing.unpack(nil, f.dump)
	if err != nil {
		return []Told{{Kind: ToldDamaged, Parameter: None, Slot: f.slot, Says: err.Error()}}
	}
	return []Told{{Kind: ToldSlot, Parameter: None, Slot: f.slot, Memory: memory}}
}

func (c *Decoder) globalParameters(g midi.GlobalParameters) []Told {
	if c.unit != None && g.Device != c.unit && g.Device != midi.AllUnits {
		return nil
	}
	var all []Told
	for _, p := range g.Pairs {
		if i, ok := c.global[globalKey(g.Slot, p.Number)]; ok {
			all = append(all, c.set(i, p.Value)...)
		}
	}
	return all
}

// fileDump collects the messages of a dump, and tells when a memory is whole.
func (c *Decoder) fileDump(message []byte) []Told {
	if c.device.memory.fileDump == nil {
		return nil
	}
	if _, err := midi.ParseFileDumpHeader(message); err == nil {
		c.dump = append(c.dump[:0], message...)
		return nil
	}
	if _, _, err := midi.ParseFilePacket(message); err != nil || len(c.dump) == 0 || len(c.dump) > 4*c.device.memory.bytes+1024 {
		return nil
	}
	c.dump = append(c.dump, message...)
	slot, memory, err := c.device.fileDumpMemory(c.dump)
	if err != nil {
		return nil
	}
	c.dump = c.dump[:0]
	return []Told{{Kind: ToldSlot, Parameter: None, Slot: slot, Memory: memory}}
}
