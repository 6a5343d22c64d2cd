// Package stricttoml turns the text of a TOML file into a Go struct and refuses
// whatever the struct has no place for: an unknown key, a value of another type,
// nan and inf, a file of another kind or from a newer program. Every refusal
// names file, line, subject and the next step, and all mistakes of a file are
// reported at once.
//
// The text is parsed by BurntSushi/toml. What that library leaves open is closed
// here: it gives no lines to unknown keys and wrong types, takes keys in any
// capitals, lets nan and inf through, opens again what dotted keys and inline
// tables have closed, and takes half a minute over a megabyte of nested tables.
// So an outline of the text is drawn first (outline.go, scan.go), which knows
// where each key stands, and the parsed tree is filled into the struct by rules
// of our own (fill.go).
package stricttoml

import (
	"bytes"
	"errors"
	"fmt"
	"regexp"
	"strconv"
	"strings"
	"unicode"
	"unicode/utf8"

	"github.com/BurntSushi/toml"

	"echowright/preset"
)

// A Kind is a kind of file: a file of it begins with format = "echowright-NAME/VERSION".
type Kind struct {
	Name    string
	Version int // the newest that can be read, and the one that is written
	Limit   int // bytes; a larger file is refused
}

// Format is the value of the key format in a file of this kind.
func (k Kind) Format() string { return "echowright-" + k.Name + "/" + strconv.Itoa(k.Version) }

// A Document knows in which line of the file each key stands.
type Document struct {
	File string
	root *node
}

// Decode reads text into v, a pointer to a struct whose toml tags name the known
// keys. File is the name that errors begin with. The key format is checked and
// needs no field. Pointers stay nil and fields keep their values where a key is
// absent; see [Document.Require]. On error v holds nothing of use. The error
// holds a [FormatError] for each mistake, or is an [UnsupportedError].
func (k Kind) Decode(file string, text []byte, v any) (*Document, error) {
	if len(text) > k.Limit {
		return nil, &FormatError{File: file, Problem: fmt.Sprintf(
			"has %d bytes, a %s file at most %d; is this the right file?", len(text), k.Name, k.Limit)}
	}
	if line, b, ok := notUTF8(text); !ok {
		return nil, &FormatError{file, line, fmt.Sprintf("byte %02X is not UTF-8; save the file as UTF-8 text", b)}
	}
	tree, root, err := parse(file, plain(text))
	if err != nil {
		return nil, err
	}
	doc := &Document{File: file, root: root}
	if err := k.checkFormat(doc, tree); err != nil {
		return nil, err
	}
	delete(tree, "format")
	return doc, doc.fill(v, tree)
}

// notUTF8 finds the first byte that is no part of a character.
func notUTF8(text []byte) (line int, b byte, ok bool) {
	if utf8.Valid(text) {
		return 0, 0, true
	}
	line = 1
	for {
		r, size := utf8.DecodeRune(text)
		if r == utf8.RuneError && size <= 1 {
			return line, text[0], false
		}
		if r == '\n' {
			line++
		}
		text = text[size:]
	}
}

// plain takes away what editors add: byte order marks, and carriage returns
// at the ends of lines (TOML leaves their reading to us; they would otherwise
// stay in texts of several lines).
func plain(text []byte) string {
	text = bytes.TrimLeft(text, "\ufeff")
	return string(bytes.ReplaceAll(text, []byte("\r\n"), []byte("\n")))
}

// parse gives the tree of values and the outline. Of a mistake that the outline
// found and one that the library found, the earlier in the file is told.
func parse(file, text string) (map[string]any, *node, error) {
	root, found := outline(text)
	if found != nil && found.barred {
		return nil, nil, found.at(file)
	}
	tree, syntax := parseTree(text)
	switch {
	case syntax == nil && found == nil:
	case syntax == nil || found != nil && !found.lost && found.line <= syntax.line:
		return nil, nil, found.at(file)
	default:
		if found != nil { // the library counts the end of a line to the next
			syntax.line = min(syntax.line, found.line)
		}
		return nil, nil, syntax.at(file)
	}
	return tree, root, nil
}

func parseTree(text string) (tree map[string]any, bad *mistake) {
	defer func() { // the library panics where it finds itself in disorder
		if r := recover(); r != nil {
			bad = &mistake{line: 1, problem: "cannot be read as TOML; look for a stray quote or bracket"}
		}
	}()
	_, err := toml.Decode(text, &tree)
	var syntax toml.ParseError
	switch {
	case err == nil:
		return tree, nil
	case errors.As(err, &syntax):
		last := 1 + strings.Count(text, "\n")
		words := strings.TrimSuffix(printable(syntax.Message), ".")
		return nil, &mistake{line: min(max(1, syntax.Position.Line), last), problem: "not valid TOML: " + words + "; mend this line"}
	}
	return nil, &mistake{line: 1, problem: "not valid TOML: " + printable(err.Error())}
}

func printable(s string) string {
	return strings.Map(func(r rune) rune {
		if unicode.IsPrint(r) {
			return r
		}
		return unicode.ReplacementChar
	}, s)
}

var formatPattern = regexp.MustCompile(`^echowright-([a-z][a-z-]*)/([1-9][0-9]{0,8})$`)

func (k Kind) checkFormat(doc *Document, tree map[string]any) error {
	wrong := func(problem string, args ...any) error {
		return &FormatError{doc.File, doc.Line("format"), fmt.Sprintf(problem, args...)}
	}
	value, ok := tree["format"]
	if !ok {
		return wrong("format is missing; begin the file with format = %q", k.Format())
	}
	text, _ := value.(string)
	parts := formatPattern.FindStringSubmatch(text)
	if parts == nil {
		return wrong("format %s is not one of echowright; a %s file has format = %q", shown(value), k.Name, k.Format())
	}
	if parts[1] != k.Name {
		return wrong("format %q is that of a %s file; give a %s file here, with format = %q", text, parts[1], k.Name, k.Format())
	}
	if version, err := strconv.Atoi(parts[2]); err != nil || version > k.Version {
		return &UnsupportedError{doc.File, doc.Line("format"), fmt.Sprintf(
			"format %q was made by a newer echowright, this one reads up to %q; update echowright", text, k.Format())}
	}
	return nil
}

// Line is the line of the key at path, such as "head.2.level_db" (tables and
// values of an array counted from 0). Where there is no such key it is that of
// the nearest table around it, and 1 for the file as a whole.
func (d *Document) Line(path string) int {
	n, _ := d.find(path)
	return max(1, n.line)
}

// Has reports whether the key at path stands in the file.
func (d *Document) Has(path string) bool {
	_, ok := d.find(path)
	return ok
}

// find walks down path as far as the file goes.
func (d *Document) find(path string) (n *node, whole bool) {
	n = d.root
	for key := range strings.SplitSeq(path, ".") {
		next := n.under(key)
		if next == nil {
			return n, false
		}
		n = next
	}
	return n, true
}

// Require reports each path that is missing although the table around it is
// there: "feedback.gain_db" is missing only where [feedback] stands. A * stands
// for every element of an array: "head.*.delay_ms".
func (d *Document) Require(paths ...string) error {
	var missing []mistake
	for _, path := range paths {
		missing = d.require(missing, nil, strings.Split(path, "."))
	}
	return d.refuse(missing)
}

func (d *Document) require(missing []mistake, at, rest []string) []mistake {
	n, ok := d.root, true
	if len(at) > 0 {
		n, ok = d.find(strings.Join(at, "."))
	}
	if !ok {
		return missing
	}
	step := func(key string) []string { return append(append([]string(nil), at...), key) }
	switch {
	case rest[0] == "*":
		for i := range n.items {
			missing = d.require(missing, step(strconv.Itoa(i)), rest[1:])
		}
	case len(rest) > 1:
		missing = d.require(missing, step(rest[0]), rest[1:])
	case n.under(rest[0]) == nil:
		missing = append(missing, mistake{line: max(1, n.line), problem: placeOf(at).in(rest[0]).subject() + " is missing; add it"})
	}
	return missing
}

// Locate gives the mistakes of a [preset.FieldErrors] file and line; any other
// error it puts the file's name before.
func (d *Document) Locate(err error) error {
	var fields preset.FieldErrors
	var one *preset.FieldError
	switch {
	case err == nil:
		return nil
	case errors.As(err, &fields):
	case errors.As(err, &one):
		fields = preset.FieldErrors{one}
	default:
		return fmt.Errorf("%s: %w", d.File, err)
	}
	found := make([]mistake, len(fields))
	for i, f := range fields {
		found[i] = mistake{line: d.Line(f.Path), problem: f.Error()}
	}
	return d.refuse(found)
}
