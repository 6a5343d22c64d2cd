package cli

import "strings"

// failures are errors of several works of which each was tried.
type failures []error

// and adds an error, if it is one.
func (f failures) and(err error) failures {
	if err == nil {
		return f
	}
	return append(f, err)
}

// err is nil where nothing failed.
func (f failures) err() error {
	if len(f) == 0 {
		return nil
	}
	return &severalError{f}
}

// A severalError tells all that failed. To whoever asks what it is, and so for the
// exit code, it is the first of them.
type severalError struct{ all failures }

func (e *severalError) Error() string {
	words := make([]string, len(e.all))
	for i, err := range e.all {
		words[i] = err.Error()
	}
	return strings.Join(words, "\n")
}

func (e *severalError) Unwrap() error { return e.all[0] }
