package learn

import (
	"cmp"
	"slices"

	"echowright/midi"
)

// The controllers by which parameters are chosen and set (M1 table III).
const (
	dataHigh = 6
	dataLow  = 38
	nrpnLow  = 98
	nrpnHigh = 99
	rpnLow   = 100
	rpnHigh  = 101

	null = 1<<14 - 1 // closes a parameter: both halves 7F
)

// A key is one thing that channel messages can set.
type key struct {
	kind    Kind
	channel midi.Channel
	number  int
}

// A listener follows the channel messages of a device and keeps the codes that
// each thing was set to.
type listener struct {
	codes    map[key][]int
	order    []key // as they first came
	channels [17]chosen
	facts    map[key]*Finding // what is known of (N)RPNs beside their codes
}

// chosen is the parameter that is chosen on a channel.
type chosen struct {
	kind      Kind
	high, low int
	highFirst bool
	halves    int      // how many halves have come since the last value
	value     int      // its high half, as it came last
	set       *Finding // what is known of the parameter that was set last
}

// controls finds what moved among channel messages.
func controls(messages [][]byte) []Finding {
	l := listener{codes: map[key][]int{}, facts: map[key]*Finding{}}
	for _, m := range messages {
		l.hear(m)
	}
	l.pair()
	var all []Finding
	for _, k := range l.order {
		codes, ok := l.codes[k]
		if !ok {
			continue // became half of a pair
		}
		f := Finding{Kind: k.kind, Channel: k.channel, Number: k.number}
		if known := l.facts[k]; known != nil {
			f.Low, f.HighFirst, f.Fourteen, f.Null = known.Low, known.HighFirst, known.Fourteen, known.Null
		}
		f.see(codes)
		all = append(all, f)
	}
	return all
}

func (l *listener) keep(k key, code int) {
	if _, ok := l.codes[k]; !ok {
		l.order = append(l.order, k)
	}
	l.codes[k] = append(l.codes[k], code)
}

func (l *listener) fact(k key) *Finding {
	if l.facts[k] == nil {
		l.facts[k] = &Finding{}
	}
	return l.facts[k]
}

func (l *listener) hear(m []byte) {
	ch := midi.Channel(m[0]&0x0F) + 1
	switch m[0] >> 4 {
	case 0xB:
		if len(m) == 3 {
			l.control(ch, int(m[1]), int(m[2]))
		}
	case 0xC:
		if len(m) == 2 {
			l.keep(key{kind: Program, channel: ch}, int(m[1]))
		}
	case 0xD:
		if len(m) == 2 {
			l.keep(key{kind: Pressure, channel: ch}, int(m[1]))
		}
	case 0xE:
		if len(m) == 3 {
			l.keep(key{kind: Bend, channel: ch}, int(m[1])|int(m[2])<<7)
		}
	}
}

func (l *listener) control(ch midi.Channel, number, value int) {
	c := &l.channels[ch]
	switch number {
	case nrpnHigh, nrpnLow:
		l.choose(ch, NRPN, number == nrpnHigh, value)
	case rpnHigh, rpnLow:
		l.choose(ch, RPN, number == rpnHigh, value)
	case dataHigh, dataLow:
		if c.kind == "" || c.high<<7|c.low == null {
			l.keep(key{kind: Control, channel: ch, number: number}, value)
			return
		}
		l.data(ch, number == dataLow, value)
	default:
		l.keep(key{kind: Control, channel: ch, number: number}, value)
	}
}

// choose takes one half of a parameter's number. Both halves 7F close the
// parameter that was set before.
func (l *listener) choose(ch midi.Channel, kind Kind, high bool, value int) {
	c := &l.channels[ch]
	if c.kind != kind || c.halves == 0 {
		c.kind, c.highFirst = kind, high
	}
	c.halves++
	if high {
		c.high = value
	} else {
		c.low = value
	}
	if c.high<<7|c.low == null && c.set != nil {
		c.set.Null = true
	}
}

// data takes one half of the chosen parameter's value.
func (l *listener) data(ch midi.Channel, low bool, value int) {
	c := &l.channels[ch]
	k := key{kind: c.kind, channel: ch, number: c.high<<7 | c.low}
	f := l.fact(k)
	if c.halves > 0 {
		f.HighFirst = c.highFirst
	}
	c.halves, c.set = 0, f
	if !low {
		c.value = value
		l.keep(k, value<<7)
		return
	}
	f.Fourteen = true
	if codes := l.codes[k]; len(codes) > 0 && codes[len(codes)-1] == c.value<<7 {
		codes[len(codes)-1] |= value
		return
	}
	l.keep(k, c.value<<7|value)
}

// pair joins controllers n and n+32 of a channel that both moved into numbers of
// 14 bits, and takes the value of an (N)RPN without a low half for one of 7 bits.
func (l *listener) pair() {
	for k, codes := range l.codes {
		if (k.kind == NRPN || k.kind == RPN) && !l.fact(k).Fourteen {
			for i := range codes {
				codes[i] >>= 7
			}
		}
	}
	for _, high := range slices.Clone(l.order) {
		low := high
		low.number += 32
		highs, lows := l.codes[high], l.codes[low]
		if high.kind != Control || high.number >= 32 || len(highs) == 0 || len(lows) < 2 || slices.Min(lows) == slices.Max(lows) {
			continue
		}
		joined := key{kind: Pair, channel: high.channel, number: high.number}
		first := cmp.Compare(slices.Index(l.order, high), slices.Index(l.order, low)) < 0
		*l.fact(joined) = Finding{Low: low.number, HighFirst: first, Fourteen: true}
		l.codes[joined] = joinHalves(highs, lows)
		l.order = append(l.order, joined)
		delete(l.codes, high)
		delete(l.codes, low)
	}
}

// joinHalves puts the halves of a pair together. Where each value came with both,
// they belong together one by one; else only the ends of the range are known.
func joinHalves(highs, lows []int) []int {
	var codes []int
	if len(highs) == len(lows) {
		for i := range highs {
			codes = append(codes, highs[i]<<7|lows[i])
		}
		return codes
	}
	for _, h := range highs {
		codes = append(codes, h<<7)
	}
	for _, low := range lows {
		codes = append(codes, slices.Max(highs)<<7|low)
	}
	return codes
}
