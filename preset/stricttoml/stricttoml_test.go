package stricttoml

import (
	"errors"
	"fmt"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"echowright/preset"
)

// shelf is a kind of file with everything in it that a struct may ask for.
type shelf struct {
	Name     string           `toml:"name"`
	Count    int              `toml:"count"`
	Small    uint8            `toml:"small"`
	Open     bool             `toml:"open"`
	Level    preset.Decibels  `toml:"level_db"`
	Day      time.Time        `toml:"day"`
	Colour   colour           `toml:"colour"`
	Ports    []int            `toml:"ports"`
	Table    [][]float64      `toml:"table"`
	Box      *box             `toml:"box"`
	Heads    []preset.Head    `toml:"head"`
	Named    map[string]box   `toml:"named"`
	Free     any              `toml:"free"`
	Pair     pair             `toml:"pair"`
	Untagged string           // a field without a tag is not a key
	Loose    map[string]int64 `toml:"-"`
}

type box struct {
	Width float64 `toml:"width"`
	Inner *box    `toml:"inner"`
}

type colour string

func (c *colour) UnmarshalText(text []byte) error {
	if string(text) != "red" && string(text) != "blue" {
		return fmt.Errorf("%q: one of red, blue", text)
	}
	*c = colour(text)
	return nil
}

type pair struct{ left, right any }

func (p *pair) UnmarshalTOML(tree any) error {
	list, ok := tree.([]any)
	if !ok || len(list) != 2 {
		return errors.New("is no pair; write [left, right]")
	}
	p.left, p.right = list[0], list[1]
	return nil
}

var shelfKind = Kind{Name: "shelf", Version: 2, Limit: 1 << 16}

const head = "format = \"echowright-shelf/2\"\n"

func decode(text string) (shelf, *Document, error) {
	var s shelf
	doc, err := shelfKind.Decode("s.toml", []byte(text), &s)
	return s, doc, err
}

func TestDecodeFillsEveryKindOfField(t *testing.T) {
	got, _, err := decode("\ufeff" + head + `
name = """
two
lines"""
count = -3
small = 255
open = true
level_db = -7
day = 2026-03-14
colour = "red"
ports = [1, 2, 3]
table = [[0, 1.5], []]
free = {a = [1, "x"]}
pair = [1, "two"]
box.width = 2.5
[[head]]
head = 2
delay_ms = 118.42
[[head]]
head = 4
[named.a]
width = 1
[named."b c"]
inner = {width = 3}
`)
	require.NoError(t, err)
	day := got.Day
	require.Equal(t, "2026-03-14", day.Format(time.DateOnly))
	got.Day = time.Time{}
	require.Equal(t, shelf{
		Name: "two\nlines", Count: -3, Small: 255, Open: true, Level: -7, Colour: "red", Ports: []int{1, 2, 3},
		Table: [][]float64{{0, 1.5}, {}}, Box: &box{Width: 2.5},
		Heads: []preset.Head{{Head: 2, Delay: 118.42}, {Head: 4}},
		Named: map[string]box{"a": {Width: 1}, "b c": {Inner: &box{Width: 3}}},
		Free:  map[string]any{"a": []any{int64(1), "x"}},
		Pair:  pair{left: int64(1), right: "two"},
	}, got)
}

func TestLineEndsOfAnotherSystemMakeNoDifference(t *testing.T) {
	text := head + "name = \"\"\"\none\ntwo\"\"\"\ncount = 3\n"
	want, _, err := decode(text)
	require.NoError(t, err)
	got, doc, err := decode(strings.ReplaceAll(text, "\n", "\r\n"))
	require.NoError(t, err)
	require.Equal(t, want, got)
	require.Equal(t, 5, doc.Line("count"))
}

func TestRefusals(t *testing.T) {
	for _, c := range []struct{ name, text, want string }{
		{"unknown key", head + "coutn = 1", `s.toml:2: unknown key coutn; did you mean "count"?`},
		{"unknown key in an array of tables", head + "[[head]]\nhead=1\n[[head]]\nhead=2\nlvel_db=-1",
			`s.toml:6: unknown key lvel_db in [[head]]; did you mean "level_db"?`},
		{"unknown key far from any", head + "[box]\ntempo = 1", `s.toml:3: unknown key tempo in [box]; known here: width, inner`},
		{"unknown table", head + "\n[boxx]\nwidth = 1", `s.toml:3: unknown key boxx; did you mean "box"?`},
		{"key in other capitals", head + "Count = 1", `s.toml:2: unknown key Count; did you mean "count"?`},
		{"name of a Go field", head + "Level = 1", `unknown key Level; did you mean "level_db"?`},
		{"field without a tag", head + "Untagged = 'x'", `unknown key Untagged; known here: name, count`},
		{"field tagged away", head + "Loose = {}", `unknown key Loose; known here:`},
		{"key with an escape in it", head + `"a\u001bb" = 1`, `s.toml:2: unknown key "a\x1bb"; known here:`},
		{"key of a thousand letters", head + strings.Repeat("k", 1000) + " = 1",
			`unknown key "` + strings.Repeat("k", 40) + `"…; known here:`},
		{"text for a number", head + "\nlevel_db = 'loud'", `s.toml:3: level_db is the text "loud"; write a number`},
		{"number for a text", head + "name = 3", `s.toml:2: name is the whole number 3; write a text in quotes`},
		{"fraction for a whole number", head + "count = 3.0", `s.toml:2: count is the number 3; write a whole number`},
		{"whole number too large for its field", head + "small = 256", `s.toml:2: small is 256; write a whole number from 0 to 255`},
		{"negative for its field", head + "small = -1", `small is -1; write a whole number from 0 to 255`},
		{"whole number that a float64 has not", head + "level_db = 9007199254740993", `is 9007199254740993; write a number nearer to 0`},
		{"number for true", head + "open = 1", `s.toml:2: open is the whole number 1; write true or false`},
		{"text for a date", head + "day = '2026-03-14'", `s.toml:2: day is the text "2026-03-14"; write a date such as 2026-03-14, without quotes`},
		{"date for a number", head + "count = 2026-03-14", `count is a date or time; write a whole number`},
		{"value for a table", head + "box = true", `s.toml:2: box is true; write a table`},
		{"list for a table", head + "[[box]]\nwidth = 1", `s.toml:2: box is a list; write a table`},
		{"table for a list of tables", head + "[head]\nhead = 1", `s.toml:2: head is a table; write each of them under a header [[head]]`},
		{"value for a list", head + "ports = 1", `s.toml:2: ports is the whole number 1; write a list in [ ]`},
		{"wrong value in a list", head + "ports = [1,\n 2,\n 'x']", `s.toml:4: ports (value 3) is the text "x"; write a whole number`},
		{"wrong key in a table in a table", head + "[box.inner]\nwidht = 1", `s.toml:3: unknown key widht in [box.inner]; did you mean "width"?`},
		{"text that its type refuses", head + "colour = 'green'", `s.toml:2: colour "green": one of red, blue`},
		{"number for a type that reads texts", head + "colour = 1", `colour is the whole number 1; write a text in quotes`},
		{"value that its type refuses", head + "pair = [1]", `s.toml:2: pair is no pair; write [left, right]`},
		{"nan", head + "level_db = nan", `s.toml:2: level_db is nan; write a finite number`},
		{"minus inf", head + "[[head]]\n\ndelay_ms = -inf", `s.toml:4: delay_ms in [[head]] is -inf; write a finite number`},
		{"nan where anything may stand", head + "free = {a = [1,\n+nan]}", `s.toml:3: a (value 2) in [free] is nan; write a finite number`},
		{"inf for a type that reads itself", head + "pair = [1, inf]", `pair (value 2) is +inf; write a finite number`},
		{"key twice", head + "count = 1\nname = 'x'\ncount = 2", `s.toml:4: count stands twice, first in line 2; keep one of them`},
		{"table twice", head + "[box]\nwidth = 1\n[box]", `s.toml:4: box stands twice, first in line 2; keep one of them`},
		{"two equals signs", head + "\ncount == 1", `s.toml:3: not valid TOML: expected value but found '=' instead; mend this line`},
		{"text without its end", head + "name = \"x\ncount = 1", `s.toml:2: not valid TOML: strings cannot contain newlines; mend this line`},
		{"not UTF-8", head + "# caf\xe9\n", `s.toml:2: byte E9 is not UTF-8; save the file as UTF-8 text`},
		{"UTF-16", "\xff\xfef\x00", `s.toml:1: byte FF is not UTF-8; save the file as UTF-8 text`},
		{"control character", head + "name = \"\x1b[2J\"", `not valid TOML: TOML files cannot contain control characters: '0x1b'`},
		{"too large", head + strings.Repeat("#", 1<<16), `s.toml: has 65566 bytes, a shelf file at most 65536; is this the right file?`},
		{"empty", "", `s.toml:1: format is missing; begin the file with format = "echowright-shelf/2"`},
		{"format missing", "\n\nname = 'x'", `s.toml:1: format is missing; begin`},
		{"format of another program", "\nformat = 'other/1'", `s.toml:2: format the text "other/1" is not one of echowright; a shelf file has format = "echowright-shelf/2"`},
		{"format that is no text", "format = 1", `s.toml:1: format the whole number 1 is not one of echowright`},
		{"version nought", "format = 'echowright-shelf/0'", `is not one of echowright`},
		{"file of another kind", "format = 'echowright-unit/1'", `s.toml:1: format "echowright-unit/1" is that of a unit file; give a shelf file here, with format = "echowright-shelf/2"`},
		{"nested lists", head + "free = " + strings.Repeat("[", 17) + strings.Repeat("]", 17), `s.toml:2: is nested more than 16 deep`},
		{"a key of many parts", head + strings.Repeat("a.", 16) + "a = 1", `s.toml:2: is nested more than 16 deep`},
	} {
		t.Run(c.name, func(t *testing.T) {
			_, _, err := decode(c.text)
			require.ErrorContains(t, err, c.want)
			var wrong *FormatError
			require.ErrorAs(t, err, &wrong)
			require.Equal(t, "s.toml", wrong.File)
		})
	}
}

func TestANewerFileIsNotCalledWrong(t *testing.T) {
	_, _, err := decode("format = 'echowright-shelf/3'\nsomething_new = 1\n")
	var newer *UnsupportedError
	require.ErrorAs(t, err, &newer)
	require.EqualError(t, err, `s.toml:1: format "echowright-shelf/3" was made by a newer echowright, this one reads up to "echowright-shelf/2"; update echowright`)
	var wrong *FormatError
	require.NotErrorAs(t, err, &wrong)

	_, _, err = decode("format = 'echowright-shelf/1'")
	require.NoError(t, err, "an older file is read")
}

func TestAllMistakesAreToldInTheOrderOfTheFile(t *testing.T) {
	_, _, err := decode(head + "zz = 1\ncount = 'x'\nyy = 2\nopen = 3\n")
	var lines []string
	for line := range strings.SplitSeq(err.Error(), "\n") {
		lines = append(lines, line[:len("s.toml:2")])
	}
	require.Equal(t, []string{"s.toml:2", "s.toml:3", "s.toml:4", "s.toml:5"}, lines)
}

func TestOfVeryManyMistakesTheFirstAreTold(t *testing.T) {
	var text strings.Builder
	text.WriteString(head)
	for i := range 1000 {
		fmt.Fprintf(&text, "z%d = 1\n", i)
	}
	_, _, err := decode(text.String())
	lines := strings.Split(err.Error(), "\n")
	require.Len(t, lines, mostTold+1)
	require.Contains(t, lines[0], "s.toml:2: unknown key z0;")
	require.Equal(t, "s.toml: and 980 more", lines[mostTold])
}

func TestRequire(t *testing.T) {
	_, doc, err := decode(head + "name = 'x'\n[[head]]\nhead = 1\ndelay_ms = 2\n[[head]]\nhead = 2\n[box]\n")
	require.NoError(t, err)
	require.NoError(t, doc.Require("name", "head", "head.*.head", "named.x", "free.a.b"))
	require.EqualError(t, doc.Require("count", "head.*.delay_ms", "box.width", "box.inner.width"),
		"s.toml:1: count is missing; add it\n"+
			"s.toml:6: delay_ms in [[head]] is missing; add it\n"+
			"s.toml:8: width in [box] is missing; add it")
}

func TestLocate(t *testing.T) {
	_, doc, err := decode(head + "[[head]]\nhead = 1\n[[head]]\nhead = 2\nlevel_db = 3\n")
	require.NoError(t, err)
	mistakes := preset.FieldErrors{
		{Path: "head.1.level_db", Subject: "head 2: level_db", Problem: "+3: the loudest head is 0"},
		{Path: "head.0.delay_ms", Subject: "head 1: delay_ms", Problem: "0: must lie from 1 to 60000"},
		{Path: "kind", Subject: "kind", Problem: `"": one of tape`},
	}
	require.EqualError(t, doc.Locate(mistakes), `s.toml:1: kind "": one of tape
s.toml:2: head 1: delay_ms 0: must lie from 1 to 60000
s.toml:6: head 2: level_db +3: the loudest head is 0`)
	require.EqualError(t, doc.Locate(fmt.Errorf("wrapped: %w", mistakes[0])), "s.toml:6: head 2: level_db +3: the loudest head is 0")
	other := errors.New("something else")
	require.ErrorIs(t, doc.Locate(other), other)
	require.EqualError(t, doc.Locate(other), "s.toml: something else")
	require.NoError(t, doc.Locate(nil))
}
