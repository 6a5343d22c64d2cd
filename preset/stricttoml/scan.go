package stricttoml

import (
	"fmt"
	"strings"

	"github.com/BurntSushi/toml"
)

// deepest is how many lists and inline tables may stand in one another, and how
// many parts a dotted key may have. Our files need three; the parser's time
// grows with the square of it.
const deepest = 16

// A scanner follows a TOML text from key to key. It looks only as closely as it
// must to know where keys and values end, so it is right about every valid text
// and about every valid beginning of a broken one; at the break it is lost, and
// what is wrong there the parser says.
type scanner struct {
	text  string
	pos   int
	line  int
	depth int
	bad   *mistake
}

// outline draws the keys of text. A mistake is a key or table that stands twice,
// too deep a nesting, or the place where the scanner is lost.
func outline(text string) (*node, *mistake) {
	if before, _, found := strings.Cut(text, "\r"); found { // TOML knows it before \n only, where plain took it away
		return nil, &mistake{line: 1 + strings.Count(before, "\n"), barred: true, problem: "holds a carriage return within a line; take it out"}
	}
	s := &scanner{text: text, line: 1}
	root := &node{kind: header}
	for table := root; ; {
		s.skipBlank()
		if s.pos == len(s.text) {
			return root, nil
		}
		table = s.statement(root, table)
		if table == nil && s.bad == nil {
			s.bad = &mistake{line: s.line, lost: true, problem: "not valid TOML; mend this line"}
		}
		if table == nil {
			return root, s.bad
		}
	}
}

// statement reads a header or a key with its value, and gives the table that the
// following keys belong to; nil when lost.
func (s *scanner) statement(root, table *node) *node {
	if s.peek() == '[' {
		table = s.header(root)
	} else if !s.assignment(table) {
		table = nil
	}
	s.skipSpace()
	if c := s.peek(); c != 0 && c != '\n' && c != '#' {
		return nil
	}
	return table
}

func (s *scanner) header(root *node) *node {
	open, end := root.openTable, "]"
	if strings.HasPrefix(s.text[s.pos:], "[[") {
		open, end = root.openElement, "]]"
	}
	s.pos += len(end)
	line := s.line
	path := s.path()
	if path == nil || !s.take(end) {
		return nil
	}
	table, bad := open(path, line)
	s.bad = bad
	return table
}

func (s *scanner) assignment(table *node) bool {
	line := s.line
	path := s.path()
	if path == nil || !s.take("=") {
		return false
	}
	s.skipSpace()
	v := s.value()
	if v == nil {
		return false
	}
	s.bad = table.set(path, line, v)
	return s.bad == nil
}

// path reads a key with its dots; nil when lost.
func (s *scanner) path() []string {
	var path []string
	for {
		s.skipSpace()
		key, ok := s.key()
		if !ok {
			return nil
		}
		if path = append(path, key); len(path) > deepest {
			s.tooDeep()
			return nil
		}
		if s.skipSpace(); !s.take(".") {
			return path
		}
	}
}

func (s *scanner) key() (string, bool) {
	start := s.pos
	if c := s.peek(); c == '"' || c == '\'' {
		if !s.quoted() {
			return "", false
		}
		return unquoted(s.text[start:s.pos])
	}
	s.skipUntil(" \t\n.=[]{},#\"'")
	return s.text[start:s.pos], s.pos > start
}

// unquoted leaves the escapes to the parser.
func unquoted(quoted string) (string, bool) {
	if !strings.ContainsRune(quoted, '\\') || quoted[0] == '\'' {
		return quoted[1 : len(quoted)-1], true
	}
	var v struct{ K string }
	_, err := toml.Decode("K="+quoted, &v)
	return v.K, err == nil
}

// value reads a value; nil when lost.
func (s *scanner) value() *node {
	n := &node{line: s.line}
	ok := true
	switch s.peek() {
	case '"', '\'':
		ok = s.quoted()
	case '[':
		ok = s.nested(func() bool { return s.list(n) })
	case '{':
		ok = s.nested(func() bool { return s.inline(n) })
	default:
		start := s.pos
		s.skipUntil(",]}#\n")
		ok = s.pos > start
	}
	if !ok {
		return nil
	}
	return n
}

func (s *scanner) nested(read func() bool) bool {
	if s.depth++; s.depth > deepest {
		s.tooDeep()
		return false
	}
	defer func() { s.depth-- }()
	s.pos++
	return read()
}

func (s *scanner) tooDeep() {
	s.bad = &mistake{line: s.line, barred: true, problem: fmt.Sprintf(
		"is nested more than %d deep, as no file of echowright is; is this the right file?", deepest)}
}

func (s *scanner) list(n *node) bool {
	for {
		if s.skipBlank(); s.take("]") {
			return true
		}
		item := s.value()
		if item == nil {
			return false
		}
		n.items = append(n.items, item)
		if s.skipBlank(); !s.take(",") && s.peek() != ']' {
			return false
		}
	}
}

func (s *scanner) inline(n *node) bool {
	for {
		if s.skipBlank(); s.take("}") {
			return true
		}
		if !s.assignment(n) {
			return false
		}
		if s.skipBlank(); !s.take(",") && s.peek() != '}' {
			return false
		}
	}
}

// quoted reads a text of any of the four kinds.
func (s *scanner) quoted() bool {
	mark := s.text[s.pos : s.pos+1]
	several := strings.HasPrefix(s.text[s.pos:], strings.Repeat(mark, 3))
	if several {
		mark = strings.Repeat(mark, 3)
	}
	s.pos += len(mark)
	for s.pos < len(s.text) {
		switch c := s.text[s.pos]; {
		case s.take(mark):
			for range 2 { // up to two quotes may belong to the text before the mark
				if several {
					s.take(mark[:1])
				}
			}
			return true
		case c == '\\' && mark[0] == '"':
			if s.pos++; s.peek() == '\n' {
				s.line++
			}
		case c == '\n' && !several:
			return false
		case c == '\n':
			s.line++
		}
		s.pos++
	}
	return false
}

// peek is the byte at hand, 0 at the end.
func (s *scanner) peek() byte {
	if s.pos >= len(s.text) {
		return 0
	}
	return s.text[s.pos]
}

func (s *scanner) take(word string) bool {
	if !strings.HasPrefix(s.text[min(s.pos, len(s.text)):], word) {
		return false
	}
	s.pos += len(word)
	return true
}

func (s *scanner) skipUntil(stops string) {
	if i := strings.IndexAny(s.text[s.pos:], stops); i >= 0 {
		s.pos += i
		return
	}
	s.pos = len(s.text)
}

func (s *scanner) skipSpace() {
	for c := s.peek(); c == ' ' || c == '\t'; c = s.peek() {
		s.pos++
	}
}

// skipBlank goes over space, comments and ends of lines.
func (s *scanner) skipBlank() {
	for {
		switch s.skipSpace(); s.peek() {
		case '#':
			s.skipUntil("\n")
		case '\n':
			s.pos++
			s.line++
		default:
			return
		}
	}
}
