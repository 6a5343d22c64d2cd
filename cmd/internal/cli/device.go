package cli

import (
	"github.com/spf13/cobra"

	"echowright/cmd/internal/ui"
	"echowright/profiles"
)

func newDeviceCommand(c *call) *cobra.Command {
	device := &cobra.Command{
		Use:     "device",
		Short:   "Which devices are described, and what they can do",
		Example: "  echowright device list\n  echowright device show five-line",
	}
	asGroup(c, device)
	device.AddCommand(newDeviceListCommand(c), newDeviceShowCommand(c), newDeviceCheckCommand(c),
		newDeviceChartCommand(c), newDeviceNewCommand(c), newDeviceTryCommand(c))
	return device
}

func newDeviceListCommand(c *call) *cobra.Command {
	return &cobra.Command{
		Use:     "list",
		Short:   "List the device profiles: those of the library and those shipped",
		Example: "  echowright device list --json",
		Args:    takes(),
		RunE:    func(*cobra.Command, []string) error { return runDeviceList(c) },
	}
}

func newDeviceShowCommand(c *call) *cobra.Command {
	return &cobra.Command{
		Use:               "show DEVICE",
		Short:             "Show what a device can do in musical terms, and as bytes",
		Example:           "  echowright device show five-line",
		Args:              takes("DEVICE"),
		ValidArgsFunction: c.completeDevice,
		RunE: func(_ *cobra.Command, args []string) error {
			d, err := c.device(args[0])
			if err != nil {
				return err
			}
			return c.showDevice(d)
		},
	}
}

func newDeviceCheckCommand(c *call) *cobra.Command {
	return &cobra.Command{
		Use:     "check FILE",
		Short:   "Check a device profile: every mistake with its line, else what the device can do",
		Example: "  echowright device check my-delay.toml",
		Args:    takes("FILE"),
		RunE:    func(_ *cobra.Command, args []string) error { return runDeviceCheck(c, args[0]) },
	}
}

// deviceSummary is a line of device list.
type deviceSummary struct {
	Name  string `json:"name"`
	Title string `json:"title,omitempty"`
	From  string `json:"from"` // "shipped" or "library"
	Lines int    `json:"lines"`
	Slots int    `json:"slots"`
	Error string `json:"error,omitempty"` // why the profile cannot be used
}

func runDeviceList(c *call) error {
	all, err := c.deviceSummaries()
	if err != nil {
		return err
	}
	if c.json {
		return ui.JSON(c.out, map[string]any{"device": all})
	}
	t := ui.Table{Titles: []string{"device", ">lines", ">slots", "from", "what"}}
	for _, d := range all {
		what := d.Title
		if d.Error != "" {
			what = "cannot be used: " + d.Error
		}
		t.Add(d.Name, d.Lines, d.Slots, d.From, what)
	}
	t.Print(c.out)
	return nil
}

func summary(d *profiles.Device, from string) deviceSummary {
	s := deviceSummary{Name: d.Name, Title: d.Title, From: from, Lines: len(d.Lines)}
	if d.HasSlots() || d.Readable() {
		s.Slots = d.LastSlot - d.FirstSlot + 1
	}
	return s
}

func runDeviceCheck(c *call, path string) error {
	text, err := readText(path)
	if err != nil {
		return err
	}
	d, err := profiles.Parse(path, text)
	if err != nil {
		return mending("device profile", err)
	}
	c.say("%s: a whole and consistent device profile", path)
	return c.showDevice(d)
}
