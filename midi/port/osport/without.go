//go:build !(cgo && (osmidi || darwin || windows))

package osport

import (
	"fmt"
	"runtime"

	"echowright/midi/port"
)

// without says how to come by a build that has these ports.
func without() error {
	next := "rebuild with CGO_ENABLED=1"
	if runtime.GOOS == "linux" {
		next = "rebuild with CGO_ENABLED=1 -tags osmidi and libasound2-dev, or use raw:"
	}
	return &problem{fmt.Errorf("this build has no os: ports: %w", port.ErrUnsupported), next}
}

func look() (ins, outs []string, err error) { return nil, nil, without() }

func connect(_, _ string) (wire, error) { return nil, without() }
