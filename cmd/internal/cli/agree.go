package cli

import (
	"bufio"
	"context"
	"errors"
	"fmt"
	"slices"
	"strings"

	"echowright/cmd/internal/ui"
)

// errNotAgreed is what comes of any answer but yes, and of none.
var errNotAgreed = errors.New("not agreed to: answer y, or give --yes")

// agree asks the person in front of the terminal; nil is a yes. Where nobody can
// be asked, the command itself is the answer. Ctrl-C is the context's error.
func (c *call) agree(ctx context.Context, question string) error {
	if !ui.Asks(c.Stdin) {
		return nil
	}
	fmt.Fprintf(c.Stderr, "%s [y/N] ", ui.Line(question))
	answer := make(chan string, 1)
	go func() {
		line, _ := bufio.NewReader(c.Stdin).ReadString('\n') // the end of the input is no agreement
		answer <- line
	}()
	select {
	case line := <-answer:
		if ctx.Err() == nil && slices.Contains([]string{"y", "yes"}, strings.ToLower(strings.TrimSpace(line))) {
			return nil
		}
	case <-ctx.Done():
		fmt.Fprintln(c.Stderr) // the line of the question is still open
	}
	if err := ctx.Err(); err != nil {
		return err
	}
	return errNotAgreed
}
