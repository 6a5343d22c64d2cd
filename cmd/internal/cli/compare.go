package cli

import (
	"context"
	"errors"
	"fmt"
	"path/filepath"
	"slices"
	"strings"

	"github.com/spf13/cobra"

	"echowright/cmd/internal/ui"
	"echowright/preset/compare"
	"echowright/preset/compare/report"
	"echowright/preset/signals"
)

type compareOptions struct {
	heads      []int
	signal     string // file of the level steps that the takes hold, "" for none
	report     string
	dryChannel int // from 1; 0 for none
}

func newCompareCommand(c *call) *cobra.Command {
	var o compareOptions
	cmd := &cobra.Command{
		Use:   "compare A.wav [B.wav]",
		Short: "Lay two takes of one playing on each other and tell what differs",
		Long: `Lay take B on take A (time, clock, polarity, level) and tell what differs: echo by
echo in ms and dB, beside what can be noticed; in tone; in decay; and what is left
when the one is taken from the other. With one file, A and B are its two channels.

Say with --heads which heads were on to have both machines measured; that takes
some seconds. Takes that are not of one playing are refused with exit code 5.`,
		Example: "  echowright compare machine.wav device.wav --heads 2,4,6 --report proof.html\n" +
			"  echowright compare both-in-one.wav --json\n" +
			"  echowright compare steps-machine.wav steps-device.wav --dry-channel 1 --signal steps.toml",
		ValidArgsFunction: func(*cobra.Command, []string, string) ([]string, cobra.ShellCompDirective) {
			return []string{"wav"}, cobra.ShellCompDirectiveFilterFileExt
		},
		RunE: func(cmd *cobra.Command, args []string) error { return runCompare(c, cmd, args, o) },
	}
	cmd.Args = func(cmd *cobra.Command, args []string) error {
		if len(args) > 2 {
			return misuse(cmd, "compare: %q is one argument too many", args[2])
		}
		return takes("A.wav")(cmd, args[:min(1, len(args))])
	}
	flags := cmd.Flags()
	flags.IntSliceVar(&o.heads, "heads", nil, "`numbers` of the heads that were on, in order of delay: measure both takes")
	flags.IntVar(&o.dryChannel, "dry-channel", 0, "`number` of the channel that holds the direct sound alone, in both takes")
	flags.StringVar(&o.signal, "signal", "", "the takes hold level steps: the .toml `file` beside their WAV")
	flags.StringVar(&o.report, "report", "", "write a page with pictures and tables into a `file`: .html")
	_ = cmd.MarkFlagFilename("signal", "toml")
	_ = cmd.MarkFlagFilename("report", "html")
	return cmd
}

func runCompare(c *call, cmd *cobra.Command, paths []string, o compareOptions) error {
	settled, err := o.settle(cmd)
	if err != nil {
		return err
	}
	a, b, names, err := c.hearBoth(cmd.Context(), paths, o.dryChannel)
	if err != nil {
		return err
	}
	r, err := patiently(cmd.Context(), c, names.A+" and "+names.B, func(progress func(float64)) (compare.Result, error) {
		settled.Progress = progress
		return compare.Takes(a, b, settled)
	})
	if err != nil {
		return err
	}
	if o.report != "" {
		page, err := report.HTML(names, r)
		if err != nil {
			return err
		}
		if err := c.writeOut(o.report, page); err != nil {
			return err
		}
	}
	c.warnAll(r.Warnings)
	if c.json {
		return ui.JSON(c.out, viewComparison(r))
	}
	c.showComparison(names, r)
	return nil
}

// settle refuses what makes no sense before any work is done.
func (o *compareOptions) settle(cmd *cobra.Command) (compare.Options, error) {
	none := compare.Options{}
	if cmd.Flags().Changed("dry-channel") && o.dryChannel < 1 {
		return none, misuse(cmd, "--dry-channel %d: channels are counted from 1", o.dryChannel)
	}
	if cmd.Flags().Changed("report") && !slices.Contains([]string{".html", ".htm"}, strings.ToLower(filepath.Ext(o.report))) {
		return none, misuse(cmd, "--report %q: the report is a page: end the name in .html", o.report)
	}
	settled := compare.Options{Heads: o.heads}
	if o.signal == "" {
		return settled, nil
	}
	s, err := readSignal(o.signal)
	if err != nil {
		return none, err
	}
	if s.Kind() != signals.KindSteps {
		return none, misuse(cmd, "--signal %s: it is a %s: only level steps are compared as a signal", o.signal, s.Kind())
	}
	settled.Steps = &s
	return settled, nil
}

// compareLimit in s is how much of each take is compared.
const compareLimit = 300

// hearBoth reads two takes, or the two that one file has in its channels.
func (c *call) hearBoth(ctx context.Context, paths []string, dry int) (a, b compare.Take, names report.Names, err error) {
	first, err := c.openTake(paths[0])
	if err != nil {
		return a, b, names, err
	}
	defer first.close()
	if len(paths) == 1 {
		return c.hearInOne(ctx, first, dry)
	}
	second, err := c.openTake(paths[1])
	if err != nil {
		return a, b, names, err
	}
	defer second.close()
	names = report.Names{A: paths[0], B: paths[1]}
	if a, err = c.hearOneOf(ctx, first, second, dry); err == nil {
		b, err = c.hearOneOf(ctx, second, first, dry)
	}
	return a, b, names, err
}

// hearOneOf reads one of two takes: all its channels where the other has as many,
// else the one that holds its sound.
func (c *call) hearOneOf(ctx context.Context, r, other *recording, dry int) (compare.Take, error) {
	switch {
	case dry > 0 && r.Channels != 2:
		return compare.Take{}, misused(fmt.Errorf("take %s: --dry-channel %d: it has %s, and there must be two: the direct sound and the machine",
			r.path, dry, ui.Count(r.Channels, "channel", "channels")))
	case dry > 2:
		return compare.Take{}, misused(fmt.Errorf("take %s: --dry-channel %d: it has 2 channels", r.path, dry))
	}
	indices := everyChannel(r.Channels)
	if r.Channels != other.Channels {
		one, err := c.oneChannel(ctx, r, r.within(compareLimit))
		if err != nil {
			return compare.Take{}, err
		}
		indices = []int{one}
	}
	t, err := c.hearTake(ctx, r, indices)
	t.Dry = dry
	return t, err
}

// hearInOne takes the two channels of a file for the takes.
func (c *call) hearInOne(ctx context.Context, r *recording, dry int) (a, b compare.Take, names report.Names, err error) {
	names = report.Names{A: r.path + ", channel 1", B: r.path + ", channel 2"}
	switch {
	case dry > 0:
		return a, b, names, misused(errors.New("--dry-channel: the two channels of one file are A and B: give two files of two channels"))
	case r.Channels != 2:
		return a, b, names, misused(fmt.Errorf("take %s has %s: give a second take, or one file with A and B in its two channels",
			r.path, ui.Count(r.Channels, "channel", "channels")))
	}
	if a, err = c.hearTake(ctx, r, everyChannel(2)); err != nil {
		return a, b, names, err
	}
	b = a
	a.Channels, b.Channels = a.Channels[:1], a.Channels[1:]
	return a, b, names, nil
}

func everyChannel(n int) []int {
	all := make([]int, n)
	for i := range all {
		all[i] = i
	}
	return all
}

func (c *call) hearTake(ctx context.Context, r *recording, indices []int) (compare.Take, error) {
	if r.seconds() > compareLimit {
		c.warn(fmt.Sprintf("take %s lasts %.0f s: only the first %d s are compared", r.path, r.seconds(), compareLimit))
	}
	channels, err := r.channels(ctx, r.within(compareLimit), indices...)
	if err != nil {
		return compare.Take{}, err
	}
	t := compare.Take{Rate: r.Rate, Channels: channels}
	if !r.Encoding.Float {
		t.Bits = r.Encoding.ValidBits
	}
	return t, nil
}
