package cli

import (
	"maps"
	"path/filepath"
	"slices"
	"strings"

	"echowright/midi/port/netport"
	"echowright/midi/port/ports"
	"echowright/midi/port/rawport"
)

// socketPath is how long the path of a socket may be where it may be shortest: 104
// bytes with the one that ends it (sun_path of macOS's unix(4); Linux has 108).
const socketPath = 103

// portName is the name of a port as it is kept in rigs, snapshots and the journal:
// with a whole path, so that it leads to the same place from every folder. A
// socket's stays as it is where a whole one would be too long to be opened.
func (c *call) portName(name string) (string, error) {
	if err := c.checkPortName(name); err != nil {
		return name, misused(err)
	}
	scheme, path, _ := strings.Cut(name, ":")
	socket := scheme == netport.UnixScheme
	if !socket && scheme != rawport.Scheme || socket && strings.HasPrefix(path, "@") { // that is in no folder: unix(7), abstract sockets
		return name, nil
	}
	whole, err := filepath.Abs(path)
	if err != nil || socket && len(whole) > socketPath {
		return name, nil // it is opened from here all the same
	}
	return scheme + ":" + whole, nil
}

// checkPortName refuses the name of a port that could never be opened.
func (c *call) checkPortName(name string) error {
	scheme, rest, _ := strings.Cut(name, ":")
	if _, known := c.Ports[scheme]; !known || rest == "" {
		return &ports.UnknownError{Name: name, Scheme: scheme, Known: slices.Sorted(maps.Keys(c.Ports))}
	}
	return nil
}
