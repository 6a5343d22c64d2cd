package songfile

import "echowright/midi"

// trackParser is a track on its way into events.
type trackParser struct {
	*parser
	number  int // from 1, for errors
	from    int // the byte of the file at which the track's first one stands
	b       []byte
	at      int // the next byte of b
	tick    Tick
	running byte // the status that data bytes belong to; 0 for none
	events  []Event
	store   []byte
}

// track reads the events of a track chunk.
//
// All bytes of all events go into one store of the length of the chunk. They fit:
// what is added to an event is a status that was left out, and what is taken away
// is the delta time, a byte at least.
func (p *parser) track(number int, body []byte) (Track, error) {
	t := &trackParser{parser: p, number: number, from: p.at - len(body), b: body, store: make([]byte, 0, len(body))}
	for {
		if t.at == len(t.b) {
			return Track{}, t.wrong(t.at, "no end of track (FF 2F 00): the file is cut or its length lies")
		}
		end, err := t.event()
		if err != nil {
			return Track{}, err
		}
		if end {
			break
		}
	}
	if left := len(t.b) - t.at; left > 0 {
		return Track{}, t.wrong(t.at, "%d bytes behind the end of track: the length of the chunk lies", left)
	}
	return Track{Events: t.events, End: t.tick}, nil
}

// wrong takes a place in the track, not in the file.
func (t *trackParser) wrong(at int, format string, args ...any) error {
	return t.parser.wrong(t.from+at, "track %d: "+format, append([]any{t.number}, args...)...)
}

// event reads one event with its delta time; end says that it ended the track.
func (t *trackParser) event() (end bool, err error) {
	delta, err := t.quantity("delta time")
	if err != nil {
		return false, err
	}
	if t.tick += Tick(delta); t.tick > MaxTick {
		return false, t.unsupported(t.from+t.at, "track %d: tick %d: places up to %d are read", t.number, t.tick, MaxTick)
	}
	if t.at == len(t.b) {
		return false, t.wrong(t.at, "ends behind a delta time: the file is cut or its length lies")
	}
	switch status := t.b[t.at]; {
	case status == isMeta:
		return t.meta()
	case status == midi.StartOfSysEx || status == midi.EndOfSysEx:
		return false, t.exclusive(status)
	case status < midi.StartOfSysEx:
		return false, t.channel()
	default:
		return false, t.wrong(t.at, "status %02X: a file holds channel messages (80 to EF), F0, F7 and FF", status)
	}
}

// quantity reads a number, which for a length is not more than bytes are left.
func (t *trackParser) quantity(what string) (int, error) {
	n, took := quantity(t.b[t.at:])
	switch {
	case took < 0:
		return 0, t.wrong(t.at, "%s: a number of more than four bytes", what)
	case took == 0:
		return 0, t.wrong(t.at, "ends inside a %s: the file is cut or its length lies", what)
	}
	t.at += took
	return n, nil
}

// data reads a length and as many bytes.
func (t *trackParser) data(what string) ([]byte, error) {
	start := t.at
	n, err := t.quantity("length")
	if err != nil {
		return nil, err
	}
	if left := len(t.b) - t.at; n > left {
		return nil, t.wrong(start, "%s of %d bytes where %d are left in the track: the file is cut or a length lies", what, n, left)
	}
	t.at += n
	return t.b[t.at-n : t.at], nil
}

// add puts an event together from its first bytes and the others.
func (t *trackParser) add(data []byte, first ...byte) {
	start := len(t.store)
	t.store = append(append(t.store, first...), data...)
	t.events = append(t.events, Event{t.tick, t.store[start:len(t.store):len(t.store)]})
}

func (t *trackParser) meta() (end bool, err error) {
	start := t.at
	t.running = 0
	if t.at+1 == len(t.b) {
		return false, t.wrong(start, "ends inside a meta event: the file is cut or its length lies")
	}
	kind := t.b[t.at+1]
	t.at += 2
	data, err := t.data("a meta event")
	if err != nil {
		return false, err
	}
	if MetaType(kind) == metaEndOfTrack {
		if len(data) > 0 {
			return false, t.wrong(start, "end of track with %d bytes: wanted none", len(data))
		}
		return true, nil
	}
	t.add(data, isMeta, kind)
	if err := checkMeta(t.events[len(t.events)-1].Bytes[1:]); err != nil {
		return false, t.wrong(start, "%v", err)
	}
	return false, nil
}

func (t *trackParser) exclusive(status byte) error {
	start := t.at
	t.running = 0
	t.at++
	data, err := t.data("System Exclusive")
	if err != nil {
		return err
	}
	t.add(data, status)
	if err := checkBytes(t.events[len(t.events)-1].Bytes); err != nil {
		return t.wrong(start, "%v", err)
	}
	return nil
}

func (t *trackParser) channel() error {
	start := t.at
	if status := t.b[t.at]; status >= 0x80 {
		t.running = status
		t.at++
	}
	n := dataBytes(t.running)
	switch {
	case n == 0:
		return t.wrong(start, "data byte %02X without a status: System Exclusive and meta events end running status", t.b[start])
	case len(t.b)-t.at < n:
		return t.wrong(start, "ends inside message %02X: the file is cut or its length lies", t.running)
	}
	data := t.b[t.at : t.at+n]
	if err := checkData("message", data); err != nil {
		return t.wrong(start, "%v", err)
	}
	t.at += n
	t.add(data, t.running)
	return nil
}
