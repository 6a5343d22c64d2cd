package cli

import (
	"fmt"
	"slices"
	"strings"

	"github.com/spf13/cobra"

	"echowright/midi"
	"echowright/preset"
	"echowright/profiles"
	"echowright/profiles/arrange"
)

// wantedFlags say which echoes of a unit are wanted from a device.
type wantedFlags struct {
	heads  []int
	prefer string
	song   songFlags
}

func (f *wantedFlags) add(cmd *cobra.Command) {
	cmd.Flags().IntSliceVar(&f.heads, "heads", nil, "`numbers` of the heads to be heard (default: all)")
	cmd.Flags().StringVar(&f.prefer, "prefer", "", "`what` is to be right where the device cannot give all: first-set, repeats or count (default: what is nearest to the whole)")
	_ = cmd.RegisterFlagCompletionFunc("prefer", func(*cobra.Command, []string, string) ([]string, cobra.ShellCompDirective) {
		return preferences(), cobra.ShellCompDirectiveNoFileComp
	})
	f.song.add(cmd)
}

// preferences are those that --prefer takes.
func preferences() []string {
	var names []string
	for _, p := range arrange.Preferences() {
		names = append(names, string(p))
	}
	return names
}

// A planned setting is inert: what is wanted, what the device is set to for it,
// and what it would be told.
type planned struct {
	unit   preset.Unit
	device *profiles.Device
	arrange.Result
	steps []midi.Step
}

// plan works out the setting for a unit on a device.
func (f *wantedFlags) plan(c *call, cmd *cobra.Command, name string, d *profiles.Device) (planned, error) {
	if f.prefer != "" && !slices.Contains(preferences(), f.prefer) {
		return planned{}, misuse(cmd, "--prefer %s: there are %s", f.prefer, strings.Join(preferences(), ", "))
	}
	u, err := c.unit(name)
	if err != nil {
		return planned{}, err
	}
	if u, err = f.song.retime(cmd, u); err != nil {
		return planned{}, err
	}
	pattern, err := u.Pattern(f.heads...)
	if err != nil {
		return planned{}, misused(err)
	}
	r, err := arrange.ArrangeFor(pattern, d, arrange.Preference(f.prefer))
	if err != nil {
		return planned{}, fmt.Errorf("unit %q on device %q: %w", u.Name, d.Name, err)
	}
	r.Setting.Name = d.FitName(u.Name)
	return planned{unit: u, device: d, Result: r}, nil
}
