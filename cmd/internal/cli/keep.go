package cli

import (
	"context"
	"fmt"

	"github.com/spf13/cobra"

	"echowright/library"
	"echowright/library/wholefile"
	"echowright/preset"
	"echowright/preset/unitfile"
)

// keepFlags say where a unit that a command made is to be kept.
type keepFlags struct {
	out     string
	into    string
	replace bool
}

func (f *keepFlags) add(cmd *cobra.Command) {
	flags := cmd.Flags()
	flags.StringVar(&f.out, "out", "", "write the unit profile into a `file`")
	flags.StringVar(&f.into, "into", "", "file the unit profile in the library under a `name`")
	flags.BoolVar(&f.replace, "replace", false, "with --into: move what has the name to the library's trash")
}

// check refuses a name that cannot be had before any work is done.
func (f *keepFlags) check(c *call, cmd *cobra.Command) error {
	if f.into == "" {
		return nil
	}
	if err := preset.CheckName(f.into); err != nil {
		return misuse(cmd, "--into: name %w", err)
	}
	shelf, err := c.library()
	if err != nil {
		return err
	}
	e, err := shelf.Units.Get(f.into)
	if err == nil && !f.replace {
		return withReplace(&library.ExistsError{Noun: "unit", Name: f.into, Path: e.Path})
	}
	return nil // what is broken there is told when it is filed
}

// unit keeps the unit where the flags say, in the library under its new name.
func (f *keepFlags) unit(ctx context.Context, c *call, u preset.Unit) error {
	if f.into != "" {
		u.Name = f.into
	}
	if f.into == "" && f.out == "" {
		return nil
	}
	text, err := unitfile.Format(u)
	if err != nil {
		return fmt.Errorf("unit %q: %w", u.Name, err)
	}
	if f.into != "" {
		if err := c.file(ctx, u.Name, text, f.replace); err != nil {
			return err
		}
	}
	if f.out != "" {
		return c.writeOut(f.out, text)
	}
	return nil
}

// file puts a unit into the library.
func (c *call) file(ctx context.Context, name string, text []byte, replace bool) error {
	shelf, err := c.library()
	if err != nil {
		return err
	}
	e, err := shelf.Units.Add(ctx, name, text, replace)
	if err != nil {
		return withReplace(err)
	}
	c.say("filed in the library: %s (%s)", e.Name, relative(e.Path))
	return nil
}

// writeOut writes a file that the user named, whole or not at all.
func (c *call) writeOut(path string, text []byte) error {
	if err := wholeFile(path, text); err != nil {
		return err
	}
	c.say("written: %s", path)
	return nil
}

func wholeFile(path string, text []byte) error { return wholefile.Write(path, text, 0o666) }
