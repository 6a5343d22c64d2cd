package profiles

import (
	"fmt"
	"slices"

	"echowright/midi"
)

// wayFile says how a single parameter is set while the device sounds: at most
// one of these, or an address in [message.set].
type wayFile struct {
	Control controllers       `toml:"control"` // 16, or [12, 44]: high byte, low byte
	NRPN    *parameterNumber  `toml:"nrpn"`    // "01 08": high byte, low byte
	RPN     *parameterNumber  `toml:"rpn"`
	GPC     *gpcParameterFile `toml:"gpc"`
	Send    string            `toml:"send"` // a template of its own
}

// stepsFile says how far apart the same parameter stands in neighbouring lines
// or taps.
type stepsFile struct {
	AddressStep      int `toml:"address_step"`
	MemoryStep       int `toml:"memory_step"`
	ControlStep      int `toml:"control_step"` // both controllers of a pair
	NumberStep       int `toml:"number_step"`  // of NRPN and RPN
	GPCSlotStep      int `toml:"gpc_slot_step"`
	GPCParameterStep int `toml:"gpc_parameter_step"`

	bitStep int // of a parameter's own: see ownStepsFile
}

// pairsFile says in which order the halves of a controller pair come.
type pairsFile struct {
	Order string `toml:"order"` // "high-first" where it is not given
}

// numbersFile says how a registered or non-registered parameter number is told.
type numbersFile struct {
	Order      string `toml:"order"`       // of the number's halves
	Value      int    `toml:"value"`       // bits: 14 where it is not given, or 7
	ValueOrder string `toml:"value_order"` // of the value's halves
	Null       bool   `toml:"null"`        // 7F 7F after the value
}

// gpcFile says what the Global Parameter Control messages of the device have in
// common.
type gpcFile struct {
	ValueBytes int `toml:"value_bytes"` // 1 where it is not given
	Pairs      int `toml:"pairs"`       // most parameters in one message; 1 where it is not given
}

type gpcParameterFile struct {
	Slot      hexBytes `toml:"slot"` // the path, two bytes an entry; none is allowed
	Parameter hexBytes `toml:"parameter"`
}

// ownStepsFile are steps of a parameter's own, in place of those of its line or tap:
// for a memory in which all times stand first, then all levels.
type ownStepsFile struct {
	AddressStep *int `toml:"address_step"`
	MemoryStep  *int `toml:"memory_step"`
	ControlStep *int `toml:"control_step"`
	NumberStep  *int `toml:"number_step"`
	BitStep     int  `toml:"bit_step"` // within the memory, bits behind one another
}

// over is the steps with the parameter's own in their place.
func (o ownStepsFile) over(by stepsFile) stepsFile {
	for _, s := range []struct {
		own *int
		of  *int
	}{{o.AddressStep, &by.AddressStep}, {o.MemoryStep, &by.MemoryStep}, {o.ControlStep, &by.ControlStep}, {o.NumberStep, &by.NumberStep}} {
		if s.own != nil {
			*s.of = *s.own
		}
	}
	by.bitStep = o.BitStep
	return by
}

// moved is the parameter as it stands n lines or taps further on.
func (p parameterFile) moved(by stepsFile, n int) parameterFile {
	if p.Address != nil {
		address := *p.Address + n*by.AddressStep
		p.Address = &address
	}
	if p.Memory != nil {
		f := *p.Memory
		f.At += n * by.MemoryStep
		if bit := f.Bit + n*by.bitStep; by.bitStep > 0 {
			f.At, f.Bit = f.At+bit/8, bit%8
		}
		if f.LowAt != nil {
			low := *f.LowAt + n*by.MemoryStep
			f.LowAt = &low
		}
		p.Memory = &f
	}
	p.Control = slices.Clone(p.Control)
	for i := range p.Control {
		p.Control[i] += n * by.ControlStep
	}
	p.NRPN, p.RPN = p.NRPN.moved(n*by.NumberStep), p.RPN.moved(n*by.NumberStep)
	if g := p.GPC; g != nil {
		p.GPC = &gpcParameterFile{Slot: g.Slot.moved(n * by.GPCSlotStep), Parameter: g.Parameter.moved(n * by.GPCParameterStep)}
	}
	return p
}

// controllers are the numbers of a controller or of a pair.
type controllers []int

// UnmarshalTOML reads a number or a list of them.
func (c *controllers) UnmarshalTOML(tree any) error {
	list, ok := tree.([]any)
	if !ok {
		list = []any{tree}
	}
	*c = nil
	for _, item := range list {
		n, ok := item.(int64)
		if !ok || n < 0 || n > midi.MaxValue7 {
			return fmt.Errorf("is %v; write a controller's number, 0 to 119, or two of them: [high, low]", tree)
		}
		*c = append(*c, int(n))
	}
	return nil
}

// A parameterNumber is a registered or non-registered parameter number of 14 bits.
type parameterNumber int

// UnmarshalText reads it as manuals print it, two bytes in hex, high byte first.
func (p *parameterNumber) UnmarshalText(text []byte) error {
	b, err := midi.ParseHex(string(text))
	if err != nil || len(b) != 2 || b[0] > midi.MaxValue7 || b[1] > midi.MaxValue7 {
		return fmt.Errorf("is %q; write two bytes in hex, high byte first, such as \"01 08\"", text)
	}
	*p = parameterNumber(int(b[0])<<7 | int(b[1]))
	return nil
}

func (p *parameterNumber) moved(by int) *parameterNumber {
	if p == nil {
		return nil
	}
	n := *p + parameterNumber(by)
	return &n
}

func (p parameterNumber) String() string { return midi.Hex([]byte{byte(p >> 7), byte(p & 0x7F)}) }

// hexBytes are data bytes as manuals print them.
type hexBytes []byte

// UnmarshalText reads bytes in hex.
func (h *hexBytes) UnmarshalText(text []byte) error {
	b, err := midi.ParseHex(string(text))
	*h = b
	return err
}

// moved adds to the last byte; one that leaves 7 bits is refused where it is used.
func (h hexBytes) moved(by int) hexBytes {
	out := slices.Clone(h)
	if n := len(out); n > 0 {
		out[n-1] = byte(max(0, min(int(out[n-1])+by, 0xFF)))
	}
	return out
}
