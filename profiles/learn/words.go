package learn

import (
	"fmt"
	"strings"

	"echowright/midi"
)

// String says in words what moved.
func (f Finding) String() string {
	if f.Shape != nil {
		return f.exclusive()
	}
	what := map[Kind]string{
		Control:  fmt.Sprintf("control change %d", f.Number),
		Pair:     fmt.Sprintf("control changes %d (high half) and %d (low half)%s", f.Number, f.Low, halves(f.HighFirst)),
		NRPN:     fmt.Sprintf("NRPN %s%s", f.parameter(), halves(f.HighFirst)),
		RPN:      fmt.Sprintf("RPN %s%s", f.parameter(), halves(f.HighFirst)),
		Program:  "program change",
		Pressure: "channel pressure",
		Bend:     "pitch bend",
	}[f.Kind]
	if f.Kind == NRPN || f.Kind == RPN {
		what += map[bool]string{true: ", value of 14 bits", false: ", value of 7 bits"}[f.Fourteen]
		if f.Null {
			what += ", closed with the null parameter"
		}
	}
	return fmt.Sprintf("%s on channel %d, %s", what, f.Channel, f.span())
}

func halves(highFirst bool) string {
	if highFirst {
		return ", high half first"
	}
	return ", low half first"
}

// parameter is an (N)RPN's number as two bytes in hex, high half first.
func (f Finding) parameter() string {
	return midi.Hex([]byte{byte(f.Number >> 7), byte(f.Number & 0x7F)})
}

func (f Finding) span() string {
	if !f.Moved() {
		return fmt.Sprintf("always %d, %d times: it did not move", f.Least, f.Messages)
	}
	text := fmt.Sprintf("codes %d to %d, %d of them different", f.Least, f.Greatest, f.Distinct)
	if f.Switch() {
		text += ": a switch, or a knob that was not turned from end to end"
	}
	return text
}

func (f Finding) exclusive() string {
	s := f.Shape
	text := fmt.Sprintf("System Exclusive of %d bytes, such as %s", len(s.Example), midi.Hex(s.Example))
	if s.Count == 0 {
		return text + "; it did not move"
	}
	text += fmt.Sprintf("; bytes %d to %d move: a number of %d bits in each, %s bits first, %s",
		s.At, s.At+s.Count-1, s.Bits, map[bool]string{true: "low", false: "high"}[s.LowBits], f.span())
	if s.Count == 1 {
		text = strings.Replace(text, fmt.Sprintf("bytes %d to %d move: a number of %d bits in each, high bits first", s.At, s.At, s.Bits),
			fmt.Sprintf("byte %d moves", s.At), 1)
	}
	if s.Sum != nil {
		text += "; " + s.Sum.String()
	}
	if len(s.Apart) > 0 {
		text += fmt.Sprintf("; bytes %v moved too: was another knob touched?", s.Apart)
	}
	return text
}

// Template is the message as a device profile writes it, with places for the value
// and the checksum, and {address} for the bytes in places (from Places), which
// follow one another; "" where they do not.
func (s *Shape) Template(places []int) string {
	var words []string
	for i := 0; i < len(s.Example); i++ {
		if s.Sum != nil && i == s.Sum.From {
			words = append(words, "(")
		}
		switch {
		case len(places) > 0 && i == places[0]:
			if places[len(places)-1]-places[0] != len(places)-1 {
				return ""
			}
			words = append(words, place("address", 7, len(places), false))
			i += len(places) - 1
		case s.Count > 0 && i == s.At:
			words = append(words, place("value", s.Bits, s.Count, s.LowBits))
			i += s.Count - 1
		case s.Sum != nil && i == s.Sum.At:
			words = append(words, "{sum}")
		default:
			words = append(words, fmt.Sprintf("%02X", s.Example[i]))
		}
		if s.Sum != nil && i == s.Sum.To {
			words = append(words, ")")
		}
	}
	return strings.NewReplacer("( ", "(", " )", ")").Replace(strings.Join(words, " "))
}

func place(name string, bits, count int, low bool) string {
	if count == 1 && bits == 7 {
		return "{" + name + "}"
	}
	order := ""
	if low {
		order = "<"
	}
	return fmt.Sprintf("{%s:%dx%d%s}", name, bits, count, order)
}

// String says in words what differs.
func (l Layout) String() string {
	text := fmt.Sprintf("packing %q from byte %d: a memory of %d bytes", l.Packing, l.From, l.Bytes)
	if l.Check != "" {
		text += fmt.Sprintf("; its check at byte %d is %s of bytes %d to %d", l.CheckAt, l.Check, l.Covers, l.CheckAt-1)
	} else {
		text += "; no check at its end was recognised"
	}
	var parts []string
	for _, b := range l.Changed {
		if !b.InCheck {
			parts = append(parts, b.String())
		}
	}
	if len(parts) == 0 {
		return text + "; nothing else differs"
	}
	return text + "; what differs: " + strings.Join(parts, ", ")
}

func (b Bits) String() string {
	return fmt.Sprintf("byte %d from %d to %d (bits %s)", b.At, b.Was, b.Is, b.bits())
}

func (b Bits) bits() string {
	var which []string
	for i := range 8 {
		if b.Mask>>i&1 == 1 {
			which = append(which, fmt.Sprint(i))
		}
	}
	return strings.Join(which, " ")
}
