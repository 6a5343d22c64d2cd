package profiles

import (
	"errors"
	"fmt"
	"strings"

	"echowright/midi"
)

// ErrDamaged is what a message or a memory with a wrong checksum is: worth
// asking for again.
var ErrDamaged = errors.New("damaged on the way")

// memory is the layout of a slot: where each parameter, the name and the check
// stand in its bytes, and how those travel in 7 bits.
type memory struct {
	bytes   int
	packing midi.BitOrder
	name    nameField
	check   *memoryCheck
}

type nameField struct{ at, characters int }

// memoryCheck is a CRC over the bytes from … to (both included), kept high byte
// first at at.
type memoryCheck struct {
	crc      func([]byte) uint16
	from, to int
	at       int
	low      bool
}

// A field is where a parameter's code stands in the memory: whole bytes, or
// some bits of one.
type field struct {
	at    int
	bytes int // 0: not in the memory
	low   bool
	shift int
	bits  int // 0: whole bytes
}

func (f field) put(memory []byte, code int) {
	if f.bits > 0 {
		mask := byte(1<<f.bits-1) << f.shift
		memory[f.at] = memory[f.at]&^mask | byte(code<<f.shift)&mask
		return
	}
	for i := range f.bytes {
		shift := 8 * i
		if !f.low {
			shift = 8 * (f.bytes - 1 - i)
		}
		memory[f.at+i] = byte(code >> shift)
	}
}

func (f field) get(memory []byte) int {
	if f.bits > 0 {
		return int(memory[f.at]>>f.shift) & (1<<f.bits - 1)
	}
	code := 0
	for i := range f.bytes {
		k := i
		if f.low {
			k = f.bytes - 1 - i
		}
		code = code<<8 | int(memory[f.at+k])
	}
	return code
}

// AppendSlot appends the memory of a slot that holds the setting, checksum and
// all. The setting must pass Check.
func (d *Device) AppendSlot(dst []byte, s Setting) []byte {
	start := len(dst)
	for range d.memory.bytes {
		dst = append(dst, 0)
	}
	m := dst[start:]
	for i := range d.Parameters {
		if f := d.Parameters[i].field; f.bytes > 0 {
			f.put(m, s.Codes[i])
		}
	}
	n := d.memory.name
	for i := range n.characters {
		c := byte(' ')
		if i < len(s.Name) {
			c = s.Name[i]
		}
		m[n.at+i] = c
	}
	if c := d.memory.check; c != nil {
		c.put(m)
	}
	return dst
}

func (c *memoryCheck) put(m []byte) { c.field().put(m, int(c.crc(m[c.from:c.to+1]))) }

func (c *memoryCheck) field() field { return field{at: c.at, bytes: 2, low: c.low} }

// SlotSetting reads the memory of a slot. The error wraps ErrDamaged where the
// memory's own check does not hold; codes that the device does not have are an
// error too.
func (d *Device) SlotSetting(memory []byte) (Setting, error) {
	if len(memory) != d.memory.bytes {
		return Setting{}, fmt.Errorf("a slot's memory of %d bytes: device %q has %d", len(memory), d.Name, d.memory.bytes)
	}
	if c := d.memory.check; c != nil {
		want, got := int(c.crc(memory[c.from:c.to+1])), c.field().get(memory)
		if want != got {
			return Setting{}, fmt.Errorf("the memory's own check is %04X, its bytes give %04X: %w", got, want, ErrDamaged)
		}
	}
	s := d.Rest()
	for i := range d.Parameters {
		if f := d.Parameters[i].field; f.bytes > 0 {
			s.Codes[i] = f.get(memory)
		}
	}
	n := d.memory.name
	s.Name = strings.TrimRight(string(memory[n.at:n.at+n.characters]), " ")
	if err := d.Check(s); err != nil {
		return s, fmt.Errorf("what the slot holds is no setting of device %q: %w", d.Name, err)
	}
	return s, nil
}
