package cli

import (
	"context"
	"errors"
	"fmt"
	"regexp"
	"strings"
	"time"

	"github.com/spf13/cobra"

	"echowright/cmd/internal/ui"
	"echowright/library"
	"echowright/preset"
)

func newLibraryCommand(c *call) *cobra.Command {
	group := &cobra.Command{
		Use:   "library",
		Short: "The shelf: units measured, and device profiles of your own",
		Example: "  echowright library add saltmarsh-drum-1.toml\n" +
			"  echowright library list",
	}
	asGroup(c, group)
	group.AddCommand(newLibraryAddCommand(c), newLibraryListCommand(c), newLibraryShowCommand(c), newLibraryRemoveCommand(c))
	return group
}

func newLibraryAddCommand(c *call) *cobra.Command {
	var replace bool
	cmd := &cobra.Command{
		Use:   "add FILE…",
		Short: "Add unit profiles, device profiles of your own, or song sheets",
		Long: `Add unit profiles, device profiles or song sheets to the library, each under the
name that it holds itself and byte for byte as it is.`,
		Example: "  echowright library add saltmarsh-drum-1.toml fen-disc.toml",
		Args:    takes("FILE…"),
		RunE: func(cmd *cobra.Command, args []string) error {
			return runLibraryAdd(cmd.Context(), c, args, replace)
		},
	}
	cmd.Flags().BoolVar(&replace, "replace", false, "move what has the name to the trash")
	return cmd
}

func newLibraryListCommand(c *call) *cobra.Command {
	return &cobra.Command{
		Use: "list", Short: "List the units", Example: "  echowright library list --json",
		Args: takes(),
		RunE: func(*cobra.Command, []string) error { return runLibraryList(c) },
	}
}

func newLibraryShowCommand(c *call) *cobra.Command {
	return &cobra.Command{
		Use: "show NAME", Short: "Show a unit", Example: "  echowright library show saltmarsh-drum-1",
		Args: takes("NAME"), ValidArgsFunction: c.completeUnit,
		RunE: func(_ *cobra.Command, args []string) error { return runLibraryShow(c, args[0]) },
	}
}

func newLibraryRemoveCommand(c *call) *cobra.Command {
	return &cobra.Command{
		Use: "remove NAME", Short: "Move a unit to the library's trash", Example: "  echowright library remove saltmarsh-drum-1",
		Args: takes("NAME"), ValidArgsFunction: c.completeUnit,
		RunE: func(cmd *cobra.Command, args []string) error {
			return runLibraryRemove(cmd.Context(), c, args[0])
		},
	}
}

// kindOfFile finds the word that says what a file is, in any file of ours.
var kindOfFile = regexp.MustCompile(`(?m)^\s*format\s*=\s*["']echowright-([a-z]+)/`)

type added struct {
	Name     string `json:"name"`
	Kind     string `json:"kind"` // "unit", "device" or "song sheet"
	Revision int    `json:"revision"`
	Path     string `json:"path"`
}

func runLibraryAdd(ctx context.Context, c *call, files []string, replace bool) error {
	shelf, err := c.library()
	if err != nil {
		return err
	}
	all := []added{}
	for _, path := range files {
		a, err := addFile(ctx, shelf, path, replace)
		if err != nil {
			return err
		}
		all = append(all, a)
		if !c.json {
			c.print("%s %s, revision %d", a.Kind, a.Name, a.Revision)
		}
	}
	if c.json {
		return ui.JSON(c.out, map[string]any{"added": all})
	}
	return nil
}

func addFile(ctx context.Context, shelf *library.Library, path string, replace bool) (added, error) {
	text, err := readText(path)
	if err != nil {
		return added{}, err
	}
	kind := ""
	if found := kindOfFile.FindSubmatch(text); found != nil {
		kind = string(found[1])
	}
	switch kind {
	case "device":
		e, err := shelf.Devices.Add(ctx, path, text, replace)
		return added{e.Name, "device", e.Revision, e.Path}, adding("device profile", err)
	case "songs":
		e, err := shelf.Songs.Add(ctx, path, text, replace)
		return added{e.Name, "song sheet", e.Revision, e.Path}, adding("song sheet", err)
	}
	e, err := shelf.Units.Add(ctx, path, text, replace)
	return added{e.Name, "unit", e.Revision, e.Path}, adding("unit profile", err)
}

func adding(what string, err error) error {
	var taken *library.ExistsError
	var locked *library.LockedError
	switch {
	case err == nil:
		return nil
	case errors.As(err, &taken), errors.As(err, &locked):
		return withReplace(err)
	}
	return fmt.Errorf("%s not added:\n%w", what, err)
}

// withReplace names the flag that an error about a taken name speaks of.
func withReplace(err error) error {
	var taken *library.ExistsError
	if errors.As(err, &taken) {
		return fmt.Errorf("%s %q is in the library already (%s): choose another name, or give --replace to move it to the trash",
			taken.Noun, taken.Name, relative(taken.Path))
	}
	return err
}

// listedUnit is a line of library list.
type listedUnit struct {
	Name     string          `json:"name"`
	Kind     preset.Kind     `json:"kind"`
	Heads    []int           `json:"heads"`
	Delays   []preset.Millis `json:"delay_ms"`
	Measured string          `json:"measured,omitempty"`
	Revision int             `json:"revision"`
	Notes    string          `json:"notes,omitempty"`
	Error    string          `json:"error,omitempty"` // why it cannot be read
}

func runLibraryList(c *call) error {
	shelf, err := c.library()
	if err != nil {
		return err
	}
	entries, err := shelf.Units.List()
	if err != nil {
		return err
	}
	all := []listedUnit{}
	for _, e := range entries {
		all = append(all, listUnit(e))
	}
	if c.json {
		return ui.JSON(c.out, map[string]any{"unit": all})
	}
	if len(all) == 0 {
		c.say("the library (%s) holds no units yet: `echowright measure TAKE.wav --heads 2,4,6 --into NAME` makes one", shelf.Home())
		return nil
	}
	t := ui.Table{Titles: []string{"unit", "kind", "heads", "delays ms", "measured", ">revision", "notes"}}
	for _, u := range all {
		if u.Error != "" {
			t.Add(u.Name, "", "", "", "", "", "cannot be read: "+u.Error)
			continue
		}
		t.Add(u.Name, u.Kind, joined(u.Heads), delays(u.Delays), u.Measured, u.Revision, u.Notes)
	}
	t.Print(c.out)
	return nil
}

func listUnit(e library.Entry[preset.Unit]) listedUnit {
	u := listedUnit{Name: e.Name, Heads: []int{}, Delays: []preset.Millis{}, Revision: e.Revision}
	if e.Err != nil {
		u.Error = e.Err.Error()
		return u
	}
	u.Kind, u.Notes, u.Heads = e.Value.Kind, e.Value.Notes, e.Value.HeadNumbers()
	for _, h := range e.Value.Heads {
		u.Delays = append(u.Delays, h.Delay)
	}
	if o := e.Value.Origin; o != nil && !o.Measured.IsZero() {
		u.Measured = o.Measured.Format(time.DateOnly)
	}
	return u
}

func delays(all []preset.Millis) string {
	words := make([]string, len(all))
	for i, d := range all {
		words[i] = ui.Fixed(float64(d), 1)
	}
	return strings.Join(words, ", ")
}
