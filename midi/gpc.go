package midi

import (
	"errors"
	"fmt"
)

// GlobalParameters is a Global Parameter Control message (CA-024, 1999): values
// for parameters of one slot of a device, such as one of its effects.
type GlobalParameters struct {
	Device         int    // 0 to 127; [AllUnits] for all
	Slot           []byte // the path: two bytes an entry, high one first
	ParameterBytes int    // of each parameter number, 1 to 127
	ValueBytes     int    // of each value, 1 to 127
	Pairs          []GlobalParameter
}

// A GlobalParameter is a parameter of a slot with its value.
type GlobalParameter struct {
	Number int // on the wire high 7 bits first
	Value  int // on the wire low 7 bits first
}

// ErrNoGlobalParameters is wrapped where a message is no Global Parameter Control.
var ErrNoGlobalParameters = errors.New("no Global Parameter Control")

// Numbers of more bytes than these do not fit an int.
const mostNumberBytes = 8

// Message is the message that ParseGlobalParameters reads.
func (g GlobalParameters) Message() ([]byte, error) {
	for _, f := range []field{{"device", g.Device, MaxValue7}, {"slot path", len(g.Slot) / 2, MaxValue7}} {
		if err := f.check("global parameter control"); err != nil {
			return nil, err
		}
	}
	if len(g.Slot)%2 != 0 || g.ParameterBytes < 1 || g.ValueBytes < 1 || g.ParameterBytes > mostNumberBytes || g.ValueBytes > mostNumberBytes {
		return nil, fmt.Errorf("global parameter control: slot path of %d bytes, parameters of %d, values of %d: wanted an even number, 1 to %d, 1 to %d",
			len(g.Slot), g.ParameterBytes, g.ValueBytes, mostNumberBytes, mostNumberBytes)
	}
	body := []byte{0x7F, byte(g.Device), 0x04, 0x05, byte(len(g.Slot) / 2), byte(g.ParameterBytes), byte(g.ValueBytes)}
	body = append(body, g.Slot...)
	for _, p := range g.Pairs {
		for _, f := range []field{{"parameter", p.Number, 1<<(7*g.ParameterBytes) - 1}, {"value", p.Value, 1<<(7*g.ValueBytes) - 1}} {
			if err := f.check("global parameter control"); err != nil {
				return nil, err
			}
		}
		for i := g.ParameterBytes - 1; i >= 0; i-- {
			body = append(body, byte(p.Number>>(7*i)&0x7F))
		}
		for i := range g.ValueBytes {
			body = append(body, byte(p.Value>>(7*i)&0x7F))
		}
	}
	return SysEx(body)
}

// ParseGlobalParameters reads a Global Parameter Control message.
func ParseGlobalParameters(message []byte) (GlobalParameters, error) {
	const slotAt = 8
	n := len(message)
	if n < slotAt+1 || message[0] != StartOfSysEx || message[n-1] != EndOfSysEx || message[1] != 0x7F || message[3] != 0x04 || message[4] != 0x05 {
		return GlobalParameters{}, fmt.Errorf("%s: %w", Hex(message[:min(n, 8)]), ErrNoGlobalParameters)
	}
	g := GlobalParameters{Device: int(message[2]), ParameterBytes: int(message[6]), ValueBytes: int(message[7])}
	rest := message[slotAt : n-1]
	path, pair := 2*int(message[5]), g.ParameterBytes+g.ValueBytes
	switch {
	case g.ParameterBytes < 1 || g.ValueBytes < 1 || g.ParameterBytes > mostNumberBytes || g.ValueBytes > mostNumberBytes:
		return g, fmt.Errorf("global parameter control: parameters of %d bytes and values of %d: 1 to %d can be read", g.ParameterBytes, g.ValueBytes, mostNumberBytes)
	case len(rest) < path:
		return g, fmt.Errorf("global parameter control: ends inside the slot path of %d bytes", path)
	case (len(rest)-path)%pair != 0:
		return g, fmt.Errorf("global parameter control: %d bytes of parameters and values: wanted %d for each pair", len(rest)-path, pair)
	}
	g.Slot, rest = rest[:path:path], rest[path:]
	for ; len(rest) > 0; rest = rest[pair:] {
		var p GlobalParameter
		for _, b := range rest[:g.ParameterBytes] {
			p.Number = p.Number<<7 | int(b&0x7F)
		}
		for i, b := range rest[g.ParameterBytes:pair] {
			p.Value |= int(b&0x7F) << (7 * i)
		}
		g.Pairs = append(g.Pairs, p)
	}
	return g, nil
}
