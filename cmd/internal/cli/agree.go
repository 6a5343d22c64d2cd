package cli

import (
	"context"
	"errors"
	"fmt"
	"io"
	"slices"
	"strings"

	"echowright/cmd/internal/ui"
)

// errNotAgreed is what comes of any answer but yes, and of none.
var errNotAgreed = errors.New("not agreed to: answer y, or give --yes")

// errNobodyAsked is the same where no person is at the other end.
var errNobodyAsked = errors.New("not agreed to, and there is no terminal to ask at: give --yes")

// agree asks, and takes one line of the input for the answer, whether a person types
// it or a script pipes it in, and however long it takes: nil is a yes. Without a
// terminal, no agreement is a wrong use of the command. Ctrl-C is the context's error.
func (c *call) agree(ctx context.Context, question string) error {
	fmt.Fprintf(c.Stderr, "%s [y/N] ", ui.Line(question))
	terminal := ui.Asks(c.Stdin)
	answer := make(chan string, 1)
	go func() { answer <- firstLine(c.Stdin) }()
	line := ""
	select {
	case line = <-answer:
	case <-ctx.Done():
	}
	if !terminal || !strings.HasSuffix(line, "\n") {
		fmt.Fprintln(c.Stderr) // nobody has ended the line of the question
	}
	switch err := ctx.Err(); {
	case err != nil:
		return err
	case isYes(line):
		return nil
	case !terminal:
		return misused(errNobodyAsked)
	}
	return errNotAgreed
}

// firstLine is the next line of the input, and not a byte of what stands behind it is
// taken: that may be meant for others. A line too long to be an answer is none.
func firstLine(in io.Reader) string {
	const longest = 80
	line, one := make([]byte, 0, longest), make([]byte, 1)
	for len(line) < longest {
		n, err := in.Read(one)
		line = append(line, one[:n]...)
		if err != nil || n == 1 && one[0] == '\n' {
			return string(line)
		}
	}
	return ""
}

// about tells what a question is about; it is no talk where it is asked.
func (c *call) about(asked bool, text string) {
	screen := c.talk
	if asked {
		screen = c.loud()
	}
	fmt.Fprintln(screen, ui.Line(text))
}

func isYes(line string) bool {
	return slices.Contains([]string{"y", "yes"}, strings.ToLower(strings.TrimSpace(line)))
}
