package cli

import (
	"context"
	"fmt"

	"github.com/spf13/cobra"

	"echowright/cmd/internal/ui"
	"echowright/preset/measure"
)

// channelFlags say which channels of a take hold what. Channels are counted from
// 1; 0 is none named.
type channelFlags struct {
	channel    int
	dryChannel int
	dry        string
}

func (f *channelFlags) add(cmd *cobra.Command) {
	flags := cmd.Flags()
	flags.IntVar(&f.dryChannel, "dry-channel", 0, "`number` of the channel that holds the direct sound alone, another holding the machine")
	flags.StringVar(&f.dry, "dry", "", "WAV `file` that holds the direct sound alone, beginning with the take")
	flags.IntVar(&f.channel, "channel", 0, "`number` of the channel to measure, where there are several")
}

func (f *channelFlags) check(cmd *cobra.Command) error {
	for name, n := range map[string]int{"channel": f.channel, "dry-channel": f.dryChannel} {
		if cmd.Flags().Changed(name) && n < 1 {
			return misuse(cmd, "--%s %d: channels are counted from 1", name, n)
		}
	}
	switch {
	case f.dry != "" && f.dryChannel > 0:
		return misuse(cmd, "--dry and --dry-channel: the direct sound is in one of them, so give that one")
	case f.channel > 0 && f.channel == f.dryChannel:
		return misuse(cmd, "--channel %d and --dry-channel %d: the direct sound and the machine are in channels of their own", f.channel, f.dryChannel)
	}
	return nil
}

// inside refuses a channel that the recording does not have.
func (f *channelFlags) inside(r *recording) error {
	for _, one := range []struct {
		name string
		n    int
	}{{"channel", f.channel}, {"dry-channel", f.dryChannel}} {
		if one.n > r.Channels {
			return misused(fmt.Errorf("take %s: --%s %d: it has %s", r.path, one.name, one.n, ui.Count(r.Channels, "channel", "channels")))
		}
	}
	if f.dryChannel > 0 && r.Channels == 1 {
		return misused(fmt.Errorf("take %s: --dry-channel %d: it has one channel, which cannot hold both the direct sound and the machine apart: "+
			"leave the flag out if both are mixed, or give the direct sound with --dry", r.path, f.dryChannel))
	}
	if f.dryChannel > 0 && r.Channels > 2 && f.channel == 0 {
		return misused(fmt.Errorf("take %s: it has %d channels: say with --channel which of them holds the machine", r.path, r.Channels))
	}
	return nil
}

// wet is the index of the channel to measure among the first frames.
func (f *channelFlags) wet(ctx context.Context, c *call, r *recording, frames int64) (int, error) {
	switch {
	case f.channel > 0:
		return f.channel - 1, nil
	case f.dryChannel > 0:
		return 2 - f.dryChannel, nil // the other of two
	}
	return c.oneChannel(ctx, r, frames)
}

// hear reads what is measured of a recording: its first frames, and the direct
// sound beside them where the flags say that there is one.
func (f *channelFlags) hear(ctx context.Context, c *call, r *recording, frames int64) (measure.Take, error) {
	if err := f.inside(r); err != nil {
		return measure.Take{}, err
	}
	wet, err := f.wet(ctx, c, r, frames)
	if err != nil {
		return measure.Take{}, err
	}
	indices := []int{wet}
	if f.dryChannel > 0 {
		indices = append(indices, f.dryChannel-1)
	}
	all, err := r.channels(ctx, frames, indices...)
	if err != nil {
		return measure.Take{}, err
	}
	take := measure.Take{Rate: r.Rate, Samples: all[0]}
	switch {
	case f.dryChannel > 0:
		take.Dry = all[1]
	case f.dry != "":
		return c.withDry(ctx, take, r, f.dry)
	}
	return take, nil
}

// withDry puts the direct sound of another file beside a take.
func (c *call) withDry(ctx context.Context, take measure.Take, wet *recording, path string) (measure.Take, error) {
	dry, err := c.openTake(path)
	if err != nil {
		return take, fmt.Errorf("--dry: %w", err)
	}
	defer dry.close()
	if dry.Rate != wet.Rate {
		return take, misused(fmt.Errorf("dry file %s has a rate of %v, take %s one of %v: convert one of them to the other's", path, dry.Rate, wet.path, wet.Rate))
	}
	frames := int64(len(take.Samples))
	index, err := c.oneChannel(ctx, dry, frames)
	if err != nil {
		return take, err
	}
	all, err := dry.channels(ctx, frames, index)
	if err != nil {
		return take, err
	}
	if dry.Frames != wet.Frames {
		c.warn(fmt.Sprintf("dry file %s lasts %.1f s, take %s %.1f s: what both have is measured", path, dry.seconds(), wet.path, wet.seconds()))
	}
	take.Dry = all[0]
	take.Samples = take.Samples[:len(take.Dry)]
	return take, nil
}

// oneChannel is the channel to measure: the only one, the only one with sound, or
// any of several alike. Channels that differ are no recording of one kind of
// sound, and it would be a guess which of them is meant.
func (c *call) oneChannel(ctx context.Context, r *recording, frames int64) (int, error) {
	if r.Channels == 1 {
		return 0, nil
	}
	var seen comparison
	if err := r.each(ctx, frames, seen.add); err != nil {
		return 0, err
	}
	sounding := seen.sounding()
	if len(sounding) == 0 {
		return 0, nil // measuring says what to do about silence
	}
	first := sounding[0]
	for _, i := range sounding[1:] {
		if seen.differ[first][i] {
			return 0, misused(fmt.Errorf("take %s: its channels %d and %d hold different sound: "+
				"say with --channel which holds the direct sound and the echoes mixed, or with --dry-channel which holds the direct sound alone",
				r.path, first+1, i+1))
		}
	}
	if len(sounding) < r.Channels {
		c.say("take %s: measuring channel %d: the others are silent", r.path, first+1)
	}
	return first, nil
}

// A comparison tells which channels hold sound and which of them are alike, from
// blocks as they go by.
type comparison struct {
	sounds []bool
	differ [][]bool
}

func (a *comparison) add(block [][]float64) {
	if a.sounds == nil {
		a.sounds = make([]bool, len(block))
		for range block {
			a.differ = append(a.differ, make([]bool, len(block)))
		}
	}
	for i, one := range block {
		a.sounds[i] = a.sounds[i] || !silent(one)
		for j := range i {
			a.differ[j][i] = a.differ[j][i] || !alike(block[j], one)
		}
	}
}

// sounding are the indices of the channels that are not silent.
func (a *comparison) sounding() (all []int) {
	for i, on := range a.sounds {
		if on {
			all = append(all, i)
		}
	}
	return all
}

func silent(samples []float64) bool {
	for _, v := range samples {
		if v != 0 {
			return false
		}
	}
	return true
}

// alike reports whether two channels are one: half a step of 16 bits apart at the most.
func alike(a, b []float64) bool {
	for i := range a {
		if d := a[i] - b[i]; d > 1./65536 || d < -1./65536 {
			return false
		}
	}
	return true
}
