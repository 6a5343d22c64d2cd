package cli

import (
	"errors"
	"fmt"
	"path/filepath"
	"runtime"

	"echowright/library"
	"echowright/preset"
	"echowright/preset/nearest"
	"echowright/preset/unitfile"
	"echowright/profiles"
)

// library opens the library that the flags and the environment name.
func (c *call) library() (*library.Library, error) {
	home, err := library.Home(c.home, runtime.GOOS, c.Getenv)
	if err != nil {
		return nil, err
	}
	return library.Open(home, c.Now)
}

// unit finds a unit: a file, or one of the library.
func (c *call) unit(name string) (preset.Unit, error) {
	if isFile(name) {
		text, err := readText(name)
		if err != nil {
			return preset.Unit{}, err
		}
		u, err := unitfile.Parse(name, text)
		if err != nil {
			return u, mending("unit profile", err)
		}
		return u, nil
	}
	shelf, err := c.library()
	if err != nil {
		return preset.Unit{}, err
	}
	e, err := shelf.Units.Get(name)
	return e.Value, brokenInside(err)
}

// device finds a device profile: a file, one of the library, or a shipped one.
func (c *call) device(name string) (*profiles.Device, error) {
	if isFile(name) {
		text, err := readText(name)
		if err != nil {
			return nil, err
		}
		d, err := profiles.Parse(name, text)
		if err != nil {
			return nil, mending("device profile", err)
		}
		return d, nil
	}
	shelf, err := c.library()
	if err != nil {
		return nil, err
	}
	e, err := shelf.Devices.Get(name)
	var none *library.NotFoundError
	if !errors.As(err, &none) {
		return e.Value, brokenInside(err)
	}
	d, err := profiles.Shipped(name)
	var unknown *profiles.UnknownError
	if errors.As(err, &unknown) {
		return nil, &profiles.UnknownError{Name: name, Nearest: nearest.Name(name, c.deviceNames())}
	}
	return d, err
}

// mending says what to do about a file that is wrong; the lines of err say where.
func mending(what string, err error) error {
	return fmt.Errorf("%s cannot be used:\n%w\nmend the file, then try again", what, err)
}

// brokenInside is mending for a file of the library.
func brokenInside(err error) error {
	var none *library.NotFoundError
	if err == nil || errors.As(err, &none) {
		return err
	}
	return mending("a file of the library", err)
}

// deviceNames are all that --device takes by name. Completion and hints must not
// fail: a library that cannot be read has none.
func (c *call) deviceNames() []string {
	names := profiles.Names()
	if shelf, err := c.library(); err == nil {
		own, _ := shelf.Devices.Names()
		names = append(own, names...)
	}
	return names
}

// unitNames are the units of the library, for completion.
func (c *call) unitNames() []string {
	shelf, err := c.library()
	if err != nil {
		return nil
	}
	names, _ := shelf.Units.Names()
	return names
}

// deviceSummaries are the devices of the library and the shipped ones.
func (c *call) deviceSummaries() ([]deviceSummary, error) {
	shelf, err := c.library()
	if err != nil {
		return nil, err
	}
	own, err := shelf.Devices.List()
	if err != nil {
		return nil, err
	}
	var all []deviceSummary
	for _, e := range own {
		if e.Err != nil {
			all = append(all, deviceSummary{Name: e.Name, From: "library", Error: e.Err.Error()})
			continue
		}
		all = append(all, summary(e.Value, "library"))
	}
	for _, name := range profiles.Names() {
		d, err := profiles.Shipped(name)
		if err != nil {
			return nil, err
		}
		all = append(all, summary(d, "shipped"))
	}
	return all, nil
}

// relative is a path as short as it can be told from the folder the user is in.
func relative(path string) string {
	if here, err := filepath.Abs("."); err == nil {
		if short, err := filepath.Rel(here, path); err == nil && len(short) < len(path) {
			return short
		}
	}
	return path
}
