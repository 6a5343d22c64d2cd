package profiles

import (
	"fmt"
	"slices"

	"echowright/midi"
)

// count puts the number of bytes in brackets where {count} stands.
func (t *template) count() error {
	from, to := t.counted[0], t.counted[1]
	at := slices.IndexFunc(t.parts, func(p part) bool { return p.name == fieldCount })
	switch {
	case (from < 0) != (to < 0) || from > to:
		return fmt.Errorf("%q: [ and ] go together", t.text)
	case (at < 0) != (from < 0):
		return fmt.Errorf("%q: {count} and the range in [ ] go together", t.text)
	case at < 0:
		return nil
	}
	n := 0
	for _, p := range t.parts[from:to] {
		n += p.count
	}
	p := t.parts[at]
	if err := p.fit(n); err != nil {
		return fmt.Errorf("%q: %w", t.text, err)
	}
	t.parts[at] = part{fixed: p.appendNumber(nil, n), count: p.count}
	return nil
}

// check refuses a checksum that cannot be: without a range, inside its own
// range, wider or narrower than its place.
func (t *template) check() error {
	sumAt := slices.IndexFunc(t.parts, func(p part) bool { return p.name == fieldSum })
	switch {
	case (t.from < 0) != (t.to < 0) || t.from > t.to:
		return fmt.Errorf("%q: ( and ) go together", t.text)
	case (sumAt < 0) != (t.from < 0):
		return fmt.Errorf("%q: {sum} and the range in ( ) go together", t.text)
	case sumAt < 0:
		return nil
	case sumAt < t.to:
		return fmt.Errorf("%q: {sum} must come after its range", t.text)
	case t.sum == nil:
		return fmt.Errorf("%q has a {sum}, but the profile no checksum", t.text)
	}
	if p := t.parts[sumAt]; p.base == 0 && p.bits*p.count < t.sum.bits {
		return fmt.Errorf("%q: {sum} has room for %d bits, a %s has %d: write {sum:7x3} or {sum:4x4}", t.text, p.bits*p.count, t.sum.kind, t.sum.bits)
	}
	return nil
}

// status is the status byte that the part makes, its channel 0 where that is a place.
func (p part) status() (byte, bool) {
	switch {
	case len(p.fixed) > 0 && p.fixed[0] > midi.MaxValue7:
		return p.fixed[0], true
	case p.halved && p.half > midi.MaxValue7:
		return p.half, true
	}
	return 0, false
}

// dataBytes says how many data bytes follow a status, for those that a device can
// be told something with: channel messages, and the short system ones (M1 tables
// I and V).
func dataBytes(status byte) (int, bool) {
	if status < 0xF0 {
		return int("\x02\x02\x02\x02\x01\x01\x02"[status>>4-8]), true
	}
	n, ok := map[byte]int{midi.QuarterFrames: 1, midi.SongPointer: 2, midi.SongSelector: 1, midi.TuneRequest: 0}[status]
	return n, ok
}

// frame refuses what would be no whole messages, and bytes over 7 bits where data
// stand. It works out how many messages there are, and what they are with each
// status written out.
func (t *template) frame(running bool) error {
	f := framing{t: t, running: running}
	for i, p := range t.parts {
		if err := f.next(i, p); err != nil {
			return fmt.Errorf("%q: %w", t.text, err)
		}
	}
	if err := f.end(); err != nil {
		return fmt.Errorf("%q: %w", t.text, err)
	}
	t.expanded = t
	if f.left {
		if t.from >= 0 {
			return fmt.Errorf("%q: write every status where there is a checksum", t.text)
		}
		t.expanded = &template{text: t.text, parts: f.whole, from: -1, to: -1, messages: t.messages}
		t.expanded.expanded = t.expanded
		t.expanded.findSources()
	}
	return nil
}

// A framing goes through the parts of a template as a receiver through bytes.
type framing struct {
	t         *template
	running   bool
	whole     []part // with every status
	left      bool   // a status was left out
	status    part
	has       bool // a status that data may follow
	exclusive bool
	need      int
}

func (f *framing) next(i int, p part) error {
	status, is := p.status()
	switch {
	case i == 0 && !is:
		return fmt.Errorf("a message begins with a status: F0 for System Exclusive, which ends with F7, or one such as B{channel}")
	case f.exclusive && status == midi.EndOfSysEx:
		f.exclusive = false
	case f.exclusive && is:
		return fmt.Errorf("%02X has more than 7 bits", status)
	case is:
		if err := f.begin(p, status); err != nil {
			return err
		}
	case !f.exclusive:
		if err := f.data(p); err != nil {
			return err
		}
	}
	f.whole = append(f.whole, p)
	return nil
}

func (f *framing) begin(p part, status byte) error {
	if f.need > 0 {
		return fmt.Errorf("%02X begins a message before the one before it has all its bytes", status)
	}
	f.status, f.has = p, false
	f.t.messages++
	if status == midi.StartOfSysEx {
		f.exclusive = true
		return nil
	}
	n, ok := dataBytes(status)
	if !ok {
		return fmt.Errorf("%02X is no status that can be used here", status)
	}
	f.need, f.has = n, status < 0xF0
	return nil
}

// data takes the bytes of a part that is no status: each message has as many as
// its status asks for.
func (f *framing) data(p part) error {
	for range p.count {
		if f.need == 0 {
			if !f.has {
				return fmt.Errorf("a byte stands behind the end of a message")
			}
			if !f.running {
				return fmt.Errorf("a message has no status of its own: write it, or running_status = true in [manners] if the device understands that")
			}
			if p.count > 1 {
				return fmt.Errorf("{%s} runs from one message into the next: write the status between its bytes", p.name)
			}
			status, _ := f.status.status()
			f.need, _ = dataBytes(status)
			f.left = true
			f.t.messages++
			f.whole = append(f.whole, f.status)
		}
		f.need--
	}
	return nil
}

func (f *framing) end() error {
	switch {
	case len(f.t.parts) == 0:
		return fmt.Errorf("a message begins with F0 and ends with F7, or begins with a status such as B{channel}")
	case f.exclusive:
		return fmt.Errorf("a System Exclusive message begins with F0 and ends with F7")
	case f.need > 0:
		status, _ := f.status.status()
		return fmt.Errorf("ends before the message %02X has its bytes: %d missing", status, f.need)
	}
	return nil
}

// A source is the parts from which a field is read: the one that holds all of
// it, or those that hold it together.
type source struct {
	name  fieldName
	parts []int
}

func (t *template) findSources() {
	for i, p := range t.parts {
		if p.name == "" || p.name == fieldDump || p.name == fieldSum {
			continue
		}
		k := slices.IndexFunc(t.sources, func(s source) bool { return s.name == p.name })
		if k < 0 {
			t.sources = append(t.sources, source{name: p.name})
			k = len(t.sources) - 1
		}
		s := &t.sources[k]
		if p.div == 1 && p.mod == 0 && !t.exact(*s) {
			s.parts = []int{i}
		} else if !t.exact(*s) && !slices.ContainsFunc(s.parts, func(j int) bool { return t.parts[j].div == p.div && t.parts[j].mod == p.mod }) {
			s.parts = append(s.parts, i)
		}
	}
}

func (t *template) exact(s source) bool {
	return len(s.parts) == 1 && t.parts[s.parts[0]].div == 1 && t.parts[s.parts[0]].mod == 0
}

// has reports whether the template has a place for the field.
func (t *template) has(name fieldName) bool {
	return slices.ContainsFunc(t.parts, func(p part) bool { return p.name == name })
}

// controllers are those that the template names outright.
func (t *template) controllers() []int {
	if t == nil {
		return nil
	}
	var all []int
	for i, p := range t.expanded.parts {
		status, is := p.status()
		if is && status&0xF0 == 0xB0 && len(t.expanded.parts[i+1].fixed) > 0 {
			all = append(all, int(t.expanded.parts[i+1].fixed[0]))
		}
	}
	return all
}

// exclusive reports whether the template is a System Exclusive message.
func (t *template) exclusive() bool {
	return len(t.parts) > 0 && len(t.parts[0].fixed) > 0 && t.parts[0].fixed[0] == midi.StartOfSysEx
}
