package profiles

import (
	"fmt"
	"strings"

	"echowright/midi"
)

// A way is how a single parameter is set while the device sounds, other than by
// an address in [message.set].
type way struct {
	send *template
	name string // for people: "CC 16", "NRPN 01 08"

	// What the decoder knows it by; none of them for a template of its own.
	controls   []int // one, or high byte and low byte
	number     *parameterNumber
	registered bool
	gpc        *gpcPlace
}

// A gpcPlace is where a parameter stands in Global Parameter Control.
type gpcPlace struct {
	slot, parameter []byte
	valueBytes      int
	head            int // bytes before the first pair
	most            int // pairs in one message
}

// way reads how a parameter is set alone: nil where the profile does not say.
func (b *builder) way(path string, f wayFile, address bool, s *Scale) *way {
	var ways []string
	for _, w := range []struct {
		key   string
		given bool
	}{{"address", address && f.Send == ""}, {"control", f.Control != nil}, {"nrpn", f.NRPN != nil}, {"rpn", f.RPN != nil}, {"gpc", f.GPC != nil}, {"send", f.Send != ""}} {
		if w.given {
			ways = append(ways, w.key)
		}
	}
	if len(ways) > 1 {
		b.add(path, "is set in %d ways, %s: give one", len(ways), strings.Join(ways, " and "))
		return nil
	}
	if len(ways) == 0 || ways[0] == "address" {
		return nil
	}
	w, text := b.shorthand(path, f)
	if text == "" {
		return nil
	}
	key := path + "." + ways[0]
	if w.send = b.template(key, text); w.send == nil {
		return nil
	}
	if !w.send.has(fieldValue) {
		b.add(key, "%q has no {value}", text)
		return nil
	}
	b.comesBack(key, w.send, s)
	return w
}

// shorthand is the text of the template that a way stands for; "" after a mistake.
func (b *builder) shorthand(path string, f wayFile) (*way, string) {
	switch {
	case f.Control != nil:
		return b.controlWay(path+".control", f.Control)
	case f.NRPN != nil:
		return b.numberWay(path+".nrpn", "nrpn", *f.NRPN, b.file.NRPN)
	case f.RPN != nil:
		return b.numberWay(path+".rpn", "rpn", *f.RPN, b.file.RPN)
	case f.GPC != nil:
		return b.gpcWay(path+".gpc", *f.GPC)
	}
	return &way{name: "a message of its own"}, f.Send
}

func (b *builder) controller(path string, n int) bool {
	if n < 0 || n > 119 {
		b.add(path, "%d: controllers are 0 to 119; 120 to 127 are the channel mode messages", n)
		return false
	}
	return true
}

func (b *builder) controlWay(path string, c controllers) (*way, string) {
	for _, n := range c {
		if !b.controller(path, n) {
			return nil, ""
		}
	}
	w := &way{controls: c}
	switch {
	case len(c) == 1:
		w.name = fmt.Sprintf("CC %d", c[0])
		return w, fmt.Sprintf("B{channel} %02X {value}", c[0])
	case len(c) == 2 && c[0] != c[1]:
		w.name = fmt.Sprintf("CC %d, %d", c[0], c[1])
		b.device.lowFirst = b.lowFirst("control.order", b.pairsOrder())
		return w, b.changes(halves(b.device.lowFirst, c[0], c[1], "{value/128}", "{value%128}")...)
	}
	b.add(path, "%v: one controller, or two of them: [high, low]", []int(c))
	return nil, ""
}

func (b *builder) pairsOrder() string {
	if b.file.Control == nil {
		return ""
	}
	return b.file.Control.Order
}

func (b *builder) lowFirst(path, order string) bool {
	switch order {
	case "", "high-first":
		return false
	case "low-first":
		return true
	}
	b.add(path, "%q: high-first or low-first", order)
	return false
}

// A change is a controller and what it is set to.
type change struct {
	control int
	value   string
}

func halves(lowFirst bool, high, low int, highValue, lowValue string) []change {
	if lowFirst {
		return []change{{low, lowValue}, {high, highValue}}
	}
	return []change{{high, highValue}, {low, lowValue}}
}

// changes is the text of control changes, with running status where the device
// understands it.
func (b *builder) changes(all ...change) string {
	var words []string
	for i, c := range all {
		if i == 0 || !b.rules.running {
			words = append(words, "B{channel}")
		}
		words = append(words, fmt.Sprintf("%02X %s", c.control, c.value))
	}
	return strings.Join(words, " ")
}

// The controllers of parameter numbers (M1 table III).
const (
	ccDataHigh = 6
	ccDataLow  = 38
	ccNRPNLow  = 98
	ccNRPNHigh = 99
	ccRPNLow   = 100
	ccRPNHigh  = 101
)

// A numberForm is how the value of a parameter number comes.
type numberForm struct {
	bits     int // 7 or 14
	lowFirst bool
}

// numberWay is a registered or non-registered parameter number, then data entry.
func (b *builder) numberWay(path, table string, n parameterNumber, f *numbersFile) (*way, string) {
	if n < 0 || n > 1<<14-2 {
		b.add(path, "number %d: from 00 00 to 7F 7E, with all steps", n)
		return nil, ""
	}
	if f == nil {
		f = &numbersFile{}
	}
	w := &way{name: strings.ToUpper(table) + " " + n.String(), number: &n, registered: table == "rpn"}
	high, low := ccNRPNHigh, ccNRPNLow
	if w.registered {
		high, low = ccRPNHigh, ccRPNLow
	}
	lowFirst := b.lowFirst(table+".order", f.Order)
	all := halves(lowFirst, high, low, fmt.Sprintf("%02X", int(n)>>7), fmt.Sprintf("%02X", int(n)&0x7F))
	form := numberForm{bits: f.Value, lowFirst: b.lowFirst(table+".value_order", f.ValueOrder)}
	switch f.Value {
	case 7:
		all = append(all, change{ccDataHigh, "{value}"})
	case 0, 14:
		form.bits = 14
		all = append(all, halves(form.lowFirst, ccDataHigh, ccDataLow, "{value/128}", "{value%128}")...)
	default:
		b.add(table+".value", "%d: bits, 7 or 14", f.Value)
		return nil, ""
	}
	if w.registered {
		b.device.rpn = form
	} else {
		b.device.nrpn = form
	}
	if f.Null {
		all = append(all, halves(lowFirst, ccRPNHigh, ccRPNLow, "7F", "7F")...)
	}
	return w, b.changes(all...)
}

// gpcWay is Global Parameter Control (CA-024): the lengths of slot path, number
// and value, the path, then pairs of number, high byte first, and value, low byte
// first.
func (b *builder) gpcWay(path string, f gpcParameterFile) (*way, string) {
	g := &gpcPlace{slot: f.Slot, parameter: f.Parameter, valueBytes: 1, most: 1}
	if all := b.file.GPC; all != nil {
		g.valueBytes, g.most = max(1, all.ValueBytes), max(1, all.Pairs)
		b.inRange("gpc.value_bytes", g.valueBytes, 1, 4)
		b.inRange("gpc.pairs", g.most, 1, 32)
	}
	g.head = 8 + len(g.slot)
	switch {
	case len(g.slot)%2 != 0 || len(g.slot) > 8:
		b.add(path+".slot", "%q: two bytes an entry, four entries at most", midi.Hex(g.slot))
		return nil, ""
	case len(g.parameter) < 1 || len(g.parameter) > 4:
		b.add(path+".parameter", "%q: 1 to 4 bytes in hex", midi.Hex(g.parameter))
		return nil, ""
	}
	w := &way{name: strings.Join(strings.Fields("GPC "+midi.Hex(g.slot)+" : "+midi.Hex(g.parameter)), " "), gpc: g}
	return w, fmt.Sprintf("F0 7F {unit} 04 05 %02X %02X %02X %s %s {value:7x%d<} F7",
		len(g.slot)/2, len(g.parameter), g.valueBytes, midi.Hex(g.slot), midi.Hex(g.parameter), g.valueBytes)
}

// comesBack refuses a message that does not hold every code, or from which the
// code could not be read again.
func (b *builder) comesBack(path string, t *template, s *Scale) {
	for _, code := range []int{s.Low, s.High()} {
		got, err := t.again(fields{value: code})
		if err != nil {
			b.add(path, "code %d of scale %q cannot be sent: %v", code, s.Name, err)
			return
		}
		if got.value != code {
			b.add(path, "%q does not hold all of the value: code %d of scale %q is lost", t.text, code, s.Name)
			return
		}
	}
}
