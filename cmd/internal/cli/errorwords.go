package cli

import (
	"context"
	"errors"
	"strings"
)

// errorWords are the words of an error for people. Of Go's own for an end that came
// from outside none is left: where somebody pressed Ctrl-C, that stands before all
// else, and once.
func errorWords(ctx context.Context, err error) string {
	canceled, late := context.Canceled.Error(), context.DeadlineExceeded.Error()
	text := err.Error()
	if ctx.Err() != nil && errors.Is(err, context.Canceled) {
		text = "interrupted: " + text
		text = strings.ReplaceAll(text, ": "+canceled, "")
	}
	return strings.NewReplacer(canceled, "interrupted", late, "not done in time").Replace(text)
}
