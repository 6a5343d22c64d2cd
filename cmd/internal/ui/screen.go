package ui

import (
	"io"
	"os"

	"golang.org/x/term"
)

// A Screen is where text goes: a terminal of some width, or a plain stream (a
// file, a pipe, a test's buffer), which never gets control characters.
type Screen struct {
	io.Writer
	Width  int // columns of the terminal, 0 for a plain stream
	Colour bool
}

// Plain is a stream that is no terminal.
func Plain(w io.Writer) Screen { return Screen{Writer: w} }

// Open looks at what w is. Colour is for terminals only, and not where the
// environment says NO_COLOR (https://no-color.org) or names a terminal without any.
func Open(w io.Writer, getenv func(string) string) Screen {
	f, ok := w.(*os.File)
	if !ok || !term.IsTerminal(int(f.Fd())) {
		return Plain(w)
	}
	width, _, err := term.GetSize(int(f.Fd()))
	if err != nil || width < 1 {
		width = 80
	}
	colour := getenv("NO_COLOR") == "" && getenv("TERM") != "dumb" && getenv("TERM") != ""
	return Screen{Writer: w, Width: width, Colour: colour}
}

// Terminal reports whether somebody is looking at it.
func (s Screen) Terminal() bool { return s.Width > 0 }

// A Tint is a way to set words apart.
type Tint string

// The tints, as ANSI sequences (ECMA-48, SGR).
const (
	Bold  Tint = "1"
	Faint Tint = "2"
	Good  Tint = "32"
	Bad   Tint = "31"
	Doubt Tint = "33"
)

// Tinted is words in a tint where the screen has colour, else as they are.
func (s Screen) Tinted(words string, t Tint) string {
	if !s.Colour {
		return words
	}
	return "\x1b[" + string(t) + "m" + words + "\x1b[0m"
}

// Asks reports whether somebody sits at the other end of in and can answer.
func Asks(in io.Reader) bool {
	f, ok := in.(*os.File)
	return ok && term.IsTerminal(int(f.Fd()))
}
