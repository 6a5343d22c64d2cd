package traceport

import (
	"errors"
	"fmt"
	"strconv"
	"strings"
	"time"
)

// errTorn is a line that ends too early because the file does.
var errTorn = errors.New("the line has no end")

// A scanner reads one line.
type scanner struct {
	line  int
	text  string
	torn  bool // there was no end of line
	at    int  // byte that is looked at
	begin int  // of the word read last
}

// fault is an error at a byte of the line; where the line is torn and nothing
// stands behind, it is that.
func (s *scanner) fault(at int, problem string) error {
	if s.torn && s.at == len(s.text) {
		return errTorn
	}
	return &SyntaxError{Line: s.line, Column: at + 1, Problem: problem}
}

// word is what stands between spaces, "" if nothing is left but a remark.
func (s *scanner) word() string {
	for s.at < len(s.text) && s.text[s.at] == ' ' {
		s.at++
	}
	s.begin = s.at
	if s.at < len(s.text) && s.text[s.at] == '#' {
		return ""
	}
	for s.at < len(s.text) && s.text[s.at] != ' ' && s.text[s.at] != '#' {
		s.at++
	}
	return s.text[s.begin:s.at]
}

// over reports whether nothing but a remark is left.
func (s *scanner) over() bool {
	rest := strings.TrimLeft(s.text[s.at:], " ")
	s.at = len(s.text) - len(rest)
	return rest == "" || rest[0] == '#'
}

// head reads the first line.
func (s *scanner) head() error {
	if word := s.word(); word != format {
		return s.fault(s.begin, fmt.Sprintf("it begins with %q: the first line of a trace begins with %s", word, format))
	}
	if word := s.word(); word != beganWord {
		return s.fault(s.begin, fmt.Sprintf("%q: wanted the word %s and the time at which the trace was begun", word, beganWord))
	}
	word := s.word()
	if _, err := time.Parse(time.RFC3339Nano, word); err != nil {
		return s.fault(s.begin, fmt.Sprintf("%q is no time: wanted one such as 2026-03-14T20:15:03Z", word))
	}
	if !s.over() {
		return s.fault(s.at, "the first line ends with the time")
	}
	return nil
}

// time reads seconds with six digits behind the point.
func (s *scanner) time() (time.Duration, error) {
	word := s.word()
	whole, part, _ := strings.Cut(word, ".")
	n, err := strconv.ParseUint(whole, 10, 32)
	us, err2 := strconv.ParseUint(part, 10, 32)
	if err != nil || err2 != nil || len(part) != 6 {
		return 0, s.fault(s.begin, fmt.Sprintf("%q: a line begins with seconds since the beginning, six digits behind the point, such as 0.250000; a remark begins with #", word))
	}
	return time.Duration(n)*time.Second + time.Duration(us)*time.Microsecond, nil
}

// bytes reads all that is left: two digits each.
func (s *scanner) bytes() ([]byte, error) {
	var out []byte
	for {
		word := s.word()
		if word == "" {
			break
		}
		high, low := digit(word, 0), digit(word, 1)
		if len(word) != 2 || high < 0 || low < 0 {
			return out, s.fault(s.begin, fmt.Sprintf("%q: write each byte as two digits 0 to 9 or A to F, such as F0 7D, and what is for people behind #", word))
		}
		out = append(out, byte(high<<4|low))
	}
	if len(out) == 0 {
		return nil, s.fault(s.at, "no bytes: leave the line out, or write them as two digits each, such as F0 7D")
	}
	return out, nil
}

// digit is the value of the hexadecimal digit at a place, −1 if there is none.
func digit(word string, at int) int {
	if at >= len(word) {
		return -1
	}
	return strings.IndexByte(hexDigits, word[at])
}
