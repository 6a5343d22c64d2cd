package emulator

// maxMessage is how many bytes between F0 and F7 the firmware keeps.
const maxMessage = 256

// sysex picks System Exclusive messages out of the bytes that come in.
type sysex struct {
	body   []byte
	inside bool
}

// next takes one byte. With the F7 of a message it gives the bytes between F0
// and F7, valid until the following call. Real-time bytes are passed over
// wherever they stand; any other status byte ends a message unfinished.
func (s *sysex) next(b byte) (body []byte, whole bool) {
	switch {
	case b >= 0xF8:
	case b == 0xF0:
		s.body, s.inside = s.body[:0], true
	case b == 0xF7:
		whole = s.inside
		s.inside = false
	case b >= 0x80 || len(s.body) == maxMessage:
		s.inside = false
	case s.inside:
		s.body = append(s.body, b)
	}
	return s.body, whole
}

// deafen drops the message that has begun.
func (s *sysex) deafen() { s.inside = false }
