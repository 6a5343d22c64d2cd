package cli

import (
	"context"
	"fmt"
	"os"
	"path/filepath"
	"strconv"
	"strings"

	"github.com/spf13/cobra"

	"echowright/preset"
	"echowright/preset/unitfile"
)

// keepFlags say where a unit that a command made is to be kept.
type keepFlags struct {
	out  string
	into string
}

func (f *keepFlags) add(cmd *cobra.Command) {
	cmd.Flags().StringVar(&f.out, "out", "", "write the unit profile into a `file`")
	cmd.Flags().StringVar(&f.into, "into", "", "file the unit profile in the library under a `name`")
}

// check refuses a wrong name before any work is done.
func (f *keepFlags) check(cmd *cobra.Command) error {
	if f.into == "" {
		return nil
	}
	if err := preset.CheckName(f.into); err != nil {
		return misuse(cmd, "--into: name %w", err)
	}
	return nil
}

// unit keeps the unit where the flags say.
func (f *keepFlags) unit(ctx context.Context, c *call, u preset.Unit) error {
	if f.into != "" {
		u.Name = f.into
	}
	text, err := unitfile.Format(u)
	if err != nil {
		return fmt.Errorf("unit %q: %w", u.Name, err)
	}
	if f.out != "" {
		if err := replaceFile(f.out, text); err != nil {
			return err
		}
		c.say("written: %s", f.out)
	}
	return nil
}

// unit finds a unit: a file, or one of the library.
func (c *call) unit(name string) (preset.Unit, error) {
	text, err := readText(name)
	if err != nil {
		return preset.Unit{}, err
	}
	return unitfile.Parse(filepath.Base(name), text)
}

func replaceFile(path string, text []byte) error { return os.WriteFile(path, text, 0o644) }

func joined(numbers []int) string {
	words := make([]string, len(numbers))
	for i, n := range numbers {
		words[i] = strconv.Itoa(n)
	}
	return strings.Join(words, ", ")
}
