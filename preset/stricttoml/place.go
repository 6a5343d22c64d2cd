package stricttoml

import (
	"fmt"
	"strconv"
	"strings"
	"time"
	"unicode/utf8"
)

// A place is where a value stands: its path for the outline, and its names for
// a person.
type place struct {
	path  string
	table string // the table around it as its header is written: "[[head]]"
	names string // its own name with those of the tables around it
	key   string // its own name
	item  string // " (value 2)" in a list of values
}

// in is the place of a key in the table that stands here.
func (p place) in(key string) place {
	return place{path: joined(p.path, key), table: p.header(), names: joined(p.names, keyText(key)), key: key}
}

// at is the place of an element, counted from 0, of the array that stands here.
func (p place) at(i int) place {
	p.path = joined(p.path, strconv.Itoa(i))
	p.item = fmt.Sprintf(" (value %d)", i+1)
	return p
}

// placeOf is the place that a path leads to.
func placeOf(path []string) place {
	var p place
	for _, key := range path {
		if i, err := strconv.Atoi(key); err == nil {
			p = p.at(i)
		} else {
			p = p.in(key)
		}
	}
	return p
}

func (p place) header() string {
	switch {
	case p.names == "":
		return ""
	case p.item != "":
		return "[[" + p.names + "]]"
	}
	return "[" + p.names + "]"
}

// subject is the place in words: "level_db in [[head]]".
func (p place) subject() string {
	s := keyText(p.key) + p.item
	if p.table != "" {
		s += " in " + p.table
	}
	return s
}

func joined(path, key string) string {
	if path == "" {
		return key
	}
	return path + "." + key
}

// keyText is a key as it may be printed: a bare one as it is, any other quoted.
func keyText(key string) string {
	for _, r := range key {
		if !strings.ContainsRune("abcdefghijklmnopqrstuvwxyzABCDEFGHIJKLMNOPQRSTUVWXYZ0123456789_-", r) {
			return quoted(key)
		}
	}
	if key == "" || len(key) > mostShown {
		return quoted(key)
	}
	return key
}

// mostShown is how many letters of a text from the file a message repeats.
const mostShown = 40

func quoted(s string) string {
	if utf8.RuneCountInString(s) > mostShown {
		return strconv.Quote(string([]rune(s)[:mostShown])) + "…"
	}
	return strconv.Quote(s)
}

// shown is a value of the tree in words: what was got where something else was wanted.
func shown(tree any) string {
	switch v := tree.(type) {
	case string:
		return "the text " + quoted(v)
	case int64:
		return fmt.Sprintf("the whole number %d", v)
	case float64:
		return fmt.Sprintf("the number %v", v)
	case bool:
		return fmt.Sprint(v)
	case time.Time:
		return "a date or time"
	case map[string]any:
		return "a table"
	}
	return "a list"
}
