package profiles

import (
	"errors"
	"fmt"
	"strings"
)

// ErrDamaged is what a message or a memory with a wrong checksum is: worth
// asking for again.
var ErrDamaged = errors.New("damaged on the way")

// memory is the layout of a slot: where each parameter, the name and the check
// stand in its bytes, and how those travel in 7 bits.
type memory struct {
	bytes    int // 0: not known
	packing  packing
	name     nameField
	fixed    []fixed
	check    *memoryCheck
	fileDump *fileDump // nil: slots do not travel as File Dumps
}

type nameField struct{ at, characters int }

// fixed is bytes that are always the same.
type fixed struct {
	at    int
	bytes []byte
}

// memoryCheck is a checksum over the bytes from … to (both included), kept in
// some bytes at at.
type memoryCheck struct {
	rule     *checksum
	from, to int
	at       int
	bytes    int
	mask     int
	low      bool
}

// AppendSlot appends the memory of a slot that holds the setting, checksum and
// all. The setting must pass Check.
func (d *Device) AppendSlot(dst []byte, s Setting) []byte {
	start := len(dst)
	for range d.memory.bytes {
		dst = append(dst, 0)
	}
	m := dst[start:]
	for i := range d.memory.fixed {
		f := &d.memory.fixed[i]
		copy(m[f.at:], f.bytes)
	}
	for i := range d.Parameters {
		if f := &d.Parameters[i].field; f.bytes > 0 {
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

func (c *memoryCheck) of(m []byte) int { return c.rule.of(m[c.from:c.to+1]) & c.mask }

func (c *memoryCheck) put(m []byte) { putNumber(m[c.at:c.at+c.bytes], c.of(m), c.low) }

func (c *memoryCheck) get(m []byte) int { return getNumber(m[c.at:c.at+c.bytes], c.low) }

// SlotSetting reads the memory of a slot. The error wraps ErrDamaged where the
// memory's own check does not hold; codes that the device does not have are an
// error too.
func (d *Device) SlotSetting(memory []byte) (Setting, error) {
	if d.memory.bytes == 0 {
		return Setting{}, fmt.Errorf("device %q: what a slot's bytes mean is not described: %w", d.Name, ErrCannot)
	}
	if len(memory) != d.memory.bytes {
		return Setting{}, fmt.Errorf("a slot's memory of %d bytes: device %q has %d", len(memory), d.Name, d.memory.bytes)
	}
	if c := d.memory.check; c != nil {
		if want, got := c.of(memory), c.get(memory); want != got {
			return Setting{}, fmt.Errorf("the memory's own check is %0*X, its bytes give %0*X: %w", 2*c.bytes, got, 2*c.bytes, want, ErrDamaged)
		}
	}
	s := d.Rest()
	for i := range d.Parameters {
		if f := &d.Parameters[i].field; f.bytes > 0 {
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
