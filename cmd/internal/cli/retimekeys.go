package cli

import (
	"bufio"
	"context"
	"errors"
	"io"
	"os"
	"strings"
	"time"

	"golang.org/x/term"
)

// A tapKey is one tap, or the end of them.
type tapKey struct {
	at   time.Time
	ends bool
	err  error // why it ended, nil where that was wanted
}

// What a terminal in raw mode sends for keys that mean something (ECMA-48).
const (
	keyCtrlC  = '\x03'
	keyCtrlD  = '\x04'
	keyEscape = '\x1b'
)

// tapKeys turns what is read from in into taps: on a terminal, which is raw until
// restore is called, every key; else every line. Whoever reads from a terminal
// cannot be told to stop, so the reader may wait for one more key when nobody
// listens any more; it holds nothing, and ends with the program.
func tapKeys(ctx context.Context, in io.Reader, now func() time.Time) (keys <-chan tapKey, restore func()) {
	tell := make(chan tapKey)
	read, restore := readTapLines, func() {}
	if f, ok := in.(*os.File); ok && term.IsTerminal(int(f.Fd())) {
		if before, err := term.MakeRaw(int(f.Fd())); err == nil {
			read, restore = readTapKeys, func() { _ = term.Restore(int(f.Fd()), before) } // nothing is lost if it cannot be
		}
	}
	go read(in, func(k tapKey) bool {
		k.at = now()
		select {
		case tell <- k:
			return !k.ends
		case <-ctx.Done():
			return false
		}
	})
	return tell, restore
}

// readTapLines calls tap for every line: "q" is the end, and so is the end of in.
func readTapLines(in io.Reader, tap func(tapKey) (more bool)) {
	lines := bufio.NewScanner(in)
	for lines.Scan() {
		if !tap(tapKey{ends: endsTaps(lines.Text())}) {
			return
		}
	}
	tap(tapKey{ends: true, err: lines.Err()})
}

// endsTaps reports whether a line says that it was the last.
func endsTaps(line string) bool {
	switch strings.TrimSpace(line) {
	case "q", "Q", string(keyEscape), string(keyCtrlD):
		return true
	}
	return false
}

// readTapKeys calls tap for every key of a raw terminal. A key such as an arrow
// comes as several bytes that begin with Escape, all in one read.
func readTapKeys(in io.Reader, tap func(tapKey) (more bool)) {
	buffer := make([]byte, 64)
	for {
		n, err := in.Read(buffer)
		if err != nil {
			if errors.Is(err, io.EOF) {
				err = nil
			}
			tap(tapKey{ends: true, err: err})
			return
		}
		pressed := string(buffer[:n])
		if len(pressed) > 1 && pressed[0] == keyEscape {
			pressed = " "
		}
		for _, key := range pressed {
			k := tapKey{ends: key == keyCtrlC || endsTaps(string(key))}
			if key == keyCtrlC {
				k.err = context.Canceled
			}
			if !tap(k) {
				return
			}
		}
	}
}
