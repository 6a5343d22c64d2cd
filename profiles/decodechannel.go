package profiles

import (
	"fmt"

	"echowright/midi"
)

// channelState is what the messages of one channel have left behind.
type channelState struct {
	values [128]byte // of the controllers; 0 until told
	// The parameter number that data entry is for: 0x7F 0x7F is none.
	high, low  int
	registered bool
	chosen     bool // a number has begun to be told
}

func (c *Decoder) channelMessage(message []byte) []Told {
	channel := int(message[0] & 0x0F)
	if c.unit != None && channel != c.device.channel(c.unit) {
		return nil
	}
	if message[0]&0xF0 != 0xB0 {
		return c.shared(message)
	}
	s, n, v := &c.channels[channel], int(message[1]&0x7F), message[2]&0x7F
	s.values[n] = v
	if i, ok := c.controls[n]; ok {
		return c.highByte(s, i, v)
	}
	if i, ok := c.lows[n]; ok {
		return c.lowByte(s, i, v)
	}
	if all := c.numbered(s, n, int(v)); all != nil {
		return all
	}
	return c.shared(message)
}

// highByte is a controller of one byte, or the high one of two: by the standard
// it sets the low one to 0 (M1 page 12), unless the device has that first.
func (c *Decoder) highByte(s *channelState, i int, v byte) []Told {
	w := c.device.Parameters[i].way
	if len(w.controls) == 1 {
		return c.set(i, int(v))
	}
	if !c.device.lowFirst {
		s.values[w.controls[1]] = 0
	}
	return c.set(i, int(v)<<7|int(s.values[w.controls[1]]))
}

func (c *Decoder) lowByte(s *channelState, i int, v byte) []Told {
	if c.device.lowFirst {
		return nil // what it means is known when the high one comes
	}
	return c.set(i, int(s.values[c.device.Parameters[i].way.controls[0]])<<7|int(v))
}

// numbered hears the controllers that tell parameter numbers and their values.
// The halves of a number may come in either order.
func (c *Decoder) numbered(s *channelState, n, v int) []Told {
	switch n {
	case ccNRPNHigh, ccRPNHigh:
		s.choose(n == ccRPNHigh)
		s.high = v
	case ccNRPNLow, ccRPNLow:
		s.choose(n == ccRPNLow)
		s.low = v
	case ccDataHigh, ccDataLow:
		return c.dataEntry(s, n)
	}
	return nil
}

// choose begins another number: halves of one kind do not go with those of the
// other.
func (s *channelState) choose(registered bool) {
	if !s.chosen || s.registered != registered {
		s.high, s.low = midi.MaxValue7, midi.MaxValue7
	}
	s.chosen, s.registered = true, registered
}

// dataEntry is half a value, or a whole one of 7 bits. Of two halves it counts
// which comes last by the device's order.
func (c *Decoder) dataEntry(s *channelState, n int) []Told {
	if !s.chosen {
		return nil
	}
	i, ok := c.numbers[parameterKey{s.registered, s.high<<7 | s.low}]
	if !ok {
		return nil
	}
	form := c.device.nrpn
	if s.registered {
		form = c.device.rpn
	}
	high, low := int(s.values[ccDataHigh]), int(s.values[ccDataLow])
	switch {
	case form.bits == 7 && n == ccDataHigh:
		return c.set(i, high)
	case form.bits == 14 && (n == ccDataHigh) == form.lowFirst:
		return c.set(i, high<<7|low)
	case form.bits == 14 && n == ccDataHigh:
		s.values[ccDataLow] = 0
	}
	return nil
}

// shared reads a message as the last of those that load, store or set a parameter
// by a template of its own. Controllers before it, such as banks, count with the
// value that they had last.
func (c *Decoder) shared(message []byte) []Told {
	m := &c.device.messages
	if f, ok := c.ends(m.load.sent(), m.load.number(), message); ok {
		return []Told{{Kind: ToldLoad, Parameter: None, Slot: f.slot}}
	}
	if f, ok := c.ends(m.store.sent(), m.store.number(), message); ok {
		return []Told{{Kind: ToldStore, Parameter: None, Slot: f.slot}}
	}
	for _, i := range c.own {
		p := c.device.Parameters[i]
		if f, ok := c.ends(p.way.send, anyNumber, message); ok && (p.Address == None || !p.way.send.has(fieldAddress) || f.address == p.Address) {
			if all := c.set(i, f.value); all != nil {
				return all
			}
		}
	}
	return nil
}

// ends reads a message as the last of a template's.
func (c *Decoder) ends(t *template, command int, message []byte) (fields, bool) {
	if t == nil {
		return fields{}, false
	}
	t = t.expanded
	whole := message
	if t.messages > 1 {
		before, ok := c.before(t, message)
		if !ok {
			return fields{}, false
		}
		whole = append(before, message...)
	}
	f, ok, _ := c.fits(t, command, whole)
	return f, ok
}

// before puts together what would have come before the last message: control
// changes on its channel with the values they had last. Templates that begin
// with anything else are not followed.
func (c *Decoder) before(t *template, message []byte) ([]byte, bool) {
	if message[0] < 0x80 || message[0] >= midi.StartOfSysEx {
		return nil, false
	}
	channel := message[0] & 0x0F
	var out []byte
	for i, left := 0, t.messages-1; left > 0; i, left = i+3, left-1 {
		status, is := t.parts[i].status()
		number := t.parts[i+1].fixed
		if !is || status&0xF0 != 0xB0 || len(number) != 1 {
			return nil, false
		}
		out = append(out, 0xB0|channel, number[0], c.channels[channel].values[number[0]&0x7F])
	}
	return out, true
}

// globalKey is a slot path and a parameter number as the key of a map.
func globalKey(slot []byte, number int) string { return fmt.Sprintf("%s:%d", slot, number) }

func (g *gpcPlace) number() int {
	n := 0
	for _, b := range g.parameter {
		n = n<<7 | int(b)
	}
	return n
}
