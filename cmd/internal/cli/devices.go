package cli

import (
	"fmt"
	"path/filepath"

	"echowright/profiles"
)

// device finds a device profile: a file, one of the library, or a shipped one.
func (c *call) device(name string) (*profiles.Device, error) {
	if isFile(name) {
		text, err := readText(name)
		if err != nil {
			return nil, err
		}
		d, err := profiles.Parse(filepath.Base(name), text)
		if err != nil {
			return nil, fmt.Errorf("device profile %s:\n%w\nmend these lines first", name, err)
		}
		return d, nil
	}
	return profiles.Shipped(name)
}

func (c *call) deviceSummaries() ([]deviceSummary, error) {
	var all []deviceSummary
	for _, name := range profiles.Names() {
		d, err := profiles.Shipped(name)
		if err != nil {
			return nil, err
		}
		all = append(all, summary(d, "shipped"))
	}
	return all, nil
}
