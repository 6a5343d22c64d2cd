package cli

import (
	"errors"

	"echowright/library/exchange"
	"echowright/midi/transfer"
)

// The exit codes, which scripts rely on.
const (
	exitDone      = 0
	exitFailed    = 1
	exitMisused   = 2
	exitDifferent = 3 // the device holds something else than asked
	exitNoAnswer  = 4 // no answer from the device
	exitNothing   = 5 // nothing to measure
)

// exitCode is the one place where an error becomes an exit code.
func exitCode(err error) int {
	var (
		use     *usageError
		differs *exchange.DiffersError
		silent  *transfer.NoAnswerError
	)
	switch {
	case err == nil:
		return exitDone
	case errors.As(err, &use):
		return exitMisused
	case errors.As(err, &differs):
		return exitDifferent
	case errors.As(err, &silent):
		return exitNoAnswer
	case refused(err):
		return exitNothing
	}
	return exitFailed
}
