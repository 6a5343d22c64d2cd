//go:build !linux

package port

// A ready is for lines of Linux; all others read in the usual way.
type ready struct{}

func newReady(Line, []byte) *ready { return nil }

func (*ready) read() int { return 0 }
