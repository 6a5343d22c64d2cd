package cli

import (
	"bufio"
	"context"
	"errors"
	"fmt"
	"slices"
	"strings"
	"time"

	"echowright/cmd/internal/ui"
)

// errNotAgreed is what comes of any answer but yes, and of none.
var errNotAgreed = errors.New("not agreed to: answer y, or give --yes")

// pipedAnswer is how long an answer is waited for where no person can be asked.
const pipedAnswer = 500 * time.Millisecond

// agree asks the person in front of the terminal; nil is a yes. Elsewhere an
// answer that was piped in counts as well; where there is none, the command itself
// is the answer. Ctrl-C is the context's error.
func (c *call) agree(ctx context.Context, question string) error {
	asks := ui.Asks(c.Stdin)
	if asks {
		fmt.Fprintf(c.Stderr, "%s [y/N] ", ui.Line(question))
	}
	answer := make(chan string, 1)
	go func() {
		line, _ := bufio.NewReader(c.Stdin).ReadString('\n') // the end of the input is no answer
		answer <- line
	}()
	var nobody <-chan time.Time
	if !asks {
		nobody = time.After(pipedAnswer)
	}
	select {
	case line := <-answer:
		if ctx.Err() == nil && (isYes(line) || line == "" && !asks) {
			return nil
		}
	case <-nobody:
		return ctx.Err()
	case <-ctx.Done():
		fmt.Fprintln(c.Stderr) // the line of the question is still open
	}
	if err := ctx.Err(); err != nil {
		return err
	}
	return errNotAgreed
}

// about tells what a question is about; it is no talk where somebody is asked.
func (c *call) about(asked bool, text string) {
	screen := c.talk
	if asked && ui.Asks(c.Stdin) {
		screen = c.loud()
	}
	fmt.Fprintln(screen, ui.Line(text))
}

func isYes(line string) bool {
	return slices.Contains([]string{"y", "yes"}, strings.ToLower(strings.TrimSpace(line)))
}
