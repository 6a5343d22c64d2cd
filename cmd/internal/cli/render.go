package cli

import (
	"context"
	"errors"
	"fmt"
	"io/fs"
	"math"
	"os"
	"path/filepath"
	"strings"

	"github.com/spf13/cobra"

	"echowright/cmd/internal/ui"
	"echowright/preset"
	"echowright/preset/render"
)

// How loud a rendering begins.
const (
	startSafe   = "safe"    // never louder than the dry take's peak
	startAsMade = "as-made" // as the machine makes it
)

type renderOptions struct {
	wanted  wantedFlags
	device  string
	out     string
	replace bool

	wetOnly bool
	direct  float64 // dB
	start   string
	gain    float64 // dB
	gainSet bool
	seed    uint64
	noise   float64 // dB re full scale, RMS
	hiss    bool    // noise was asked for
	tail    float64 // s
	tailSet bool
}

func newRenderCommand(c *call) *cobra.Command {
	var o renderOptions
	cmd := &cobra.Command{
		Use:   "render UNIT DRY.wav",
		Short: "Play a dry take through a unit, or through what a device makes of it",
		Long: `Play a dry take through a measured unit: heads, loop, tone, polarity, drive, wow and
flutter. With --device it goes through the setting that plan would choose, with its
rounded values, so that what the device cannot do is heard before anything is sent.

The result is never louder than the dry take's peak, unless --start-level as-made or
--gain-db asks for it. It is written with 24 bits, or in floating point where the take is.`,
		Example: "  echowright render saltmarsh-drum-1 dry.wav --out wet.wav\n" +
			"  echowright render saltmarsh-drum-1 dry.wav --out five.wav --device five-line --bpm 132 --note 1/8.",
		Args:              takes("UNIT", "DRY.wav"),
		ValidArgsFunction: c.completeUnit,
		RunE: func(cmd *cobra.Command, args []string) error {
			return runRender(cmd.Context(), c, cmd, args[0], args[1], o)
		},
	}
	o.wanted.add(cmd)
	flags := cmd.Flags()
	flags.StringVar(&o.device, "device", "", "`name` or file of a device profile: render what it makes of the unit")
	flags.StringVar(&o.out, "out", "", "WAV `file` to write")
	flags.BoolVar(&o.replace, "replace", false, "write over a file that is there already")
	flags.BoolVar(&o.wetOnly, "wet-only", false, "the echoes alone, without the direct sound")
	flags.Float64Var(&o.direct, "direct-db", 0, "`dB` by which the direct sound is louder (+) or softer than it would be")
	flags.StringVar(&o.start, "start-level", startSafe, "`how` loud: "+startSafe+", never louder than the dry take's peak, or "+startAsMade)
	flags.Float64Var(&o.gain, "gain-db", 0, "a fixed gain in `dB`, in place of --start-level")
	flags.Uint64Var(&o.seed, "seed", 1, "`number` that decides where wow and flutter begin, and the noise")
	flags.Float64Var(&o.noise, "noise-db", 0, "add noise of so many `dBFS` (RMS), such as -66 (default: none)")
	flags.Float64Var(&o.tail, "tail", 0, "`seconds` after the end of the take (default: until the echoes are 60 dB down)")
	_ = cmd.RegisterFlagCompletionFunc("device", c.completeDeviceFlag)
	_ = cmd.RegisterFlagCompletionFunc("start-level", fixedCompletion(startSafe, startAsMade))
	return cmd
}

// settle refuses what makes no sense, before anything is read or written.
func (o *renderOptions) settle(cmd *cobra.Command, dry string) error {
	changed := cmd.Flags().Changed
	o.gainSet, o.hiss, o.tailSet = changed("gain-db"), changed("noise-db"), changed("tail")
	switch {
	case o.out == "":
		return misuse(cmd, "render: --out is missing: the WAV file to write")
	case !strings.EqualFold(filepath.Ext(o.out), ".wav"):
		return misuse(cmd, "--out %s: the name of a WAV file ends in .wav", o.out)
	case o.start != startSafe && o.start != startAsMade:
		return misuse(cmd, "--start-level %s: there are %s, %s", o.start, startSafe, startAsMade)
	case o.gainSet && changed("start-level"):
		return misuse(cmd, "--gain-db and --start-level both say how loud: give one of them")
	case o.wetOnly && changed("direct-db"):
		return misuse(cmd, "--wet-only leaves the direct sound out: leave --direct-db out too")
	case changed("prefer") && o.device == "":
		return misuse(cmd, "--prefer is for --device: a unit gives all its echoes")
	}
	if err := o.checkNumbers(cmd); err != nil {
		return err
	}
	return o.checkPlace(dry)
}

// checkNumbers holds the numbers within what makes sense; nan lies nowhere.
func (o *renderOptions) checkNumbers(cmd *cobra.Command) error {
	for _, f := range []struct {
		flag      string
		v         float64
		low, high float64
	}{{"direct-db", o.direct, -120, 40}, {"gain-db", o.gain, -120, 60}, {"noise-db", o.noise, -200, 0}, {"tail", o.tail, 0, 3600}} {
		if !(f.v >= f.low && f.v <= f.high) {
			return misuse(cmd, "--%s %v: from %v to %v", f.flag, f.v, f.low, f.high)
		}
	}
	return nil
}

func (o *renderOptions) checkPlace(dry string) error {
	there, err := os.Stat(o.out)
	if errors.Is(err, fs.ErrNotExist) {
		return nil
	}
	if take, err := os.Stat(dry); err == nil && there != nil && os.SameFile(take, there) {
		return misused(fmt.Errorf("--out %s is the dry take itself: choose another name", o.out))
	}
	if o.replace {
		return nil
	}
	return fmt.Errorf("%s is there already: choose another name, or give --replace", o.out)
}

func runRender(ctx context.Context, c *call, cmd *cobra.Command, unit, dry string, o renderOptions) error {
	if err := o.settle(cmd, dry); err != nil {
		return err
	}
	s, err := o.sounding(c, cmd, unit)
	if err != nil {
		return err
	}
	r, err := c.openTake(dry)
	if err != nil {
		return err
	}
	defer r.close()
	w, err := o.write(ctx, c, r, s)
	if err != nil {
		return err
	}
	w.Warnings = append(listOrEmpty(s.warnings), w.Warnings...)
	for _, text := range w.Warnings {
		c.warn(text)
	}
	if c.json {
		return ui.JSON(c.out, w)
	}
	c.showRendered(w)
	return nil
}

// What sounds is a unit, or a device set for it, as a graph.
type sounding struct {
	unit, device string // device "" for the unit itself
	graph        render.Graph
	lasts        preset.Millis // until the echoes of a click are 60 dB down
	warnings     []string
}

// sounding works out what the take is to be played through.
func (o *renderOptions) sounding(c *call, cmd *cobra.Command, name string) (sounding, error) {
	if o.device != "" {
		return o.soundingDevice(c, cmd, name)
	}
	u, err := c.unit(name)
	if err != nil {
		return sounding{}, err
	}
	if u, err = o.wanted.song.retime(cmd, u); err != nil {
		return sounding{}, err
	}
	p, err := u.Pattern(o.wanted.heads...)
	if err != nil {
		return sounding{}, misused(err)
	}
	m := render.Machine{Pattern: p, Drive: u.Drive, Motion: u.Motion, Direct: o.directGain()}
	s := sounding{unit: u.Name, graph: m.Graph(), lasts: lasting(p.Train(preset.TrainFloor, longestTail))}
	if u.Direct == nil && !o.wetOnly {
		s.warnings = append(s.warnings, fmt.Sprintf("unit %q does not say how far its echoes lie below the direct sound: "+
			"its loudest head is taken to be as loud; --direct-db changes that", u.Name))
	}
	return s, nil
}

// directGain is the amplitude that the flags give to the direct sound.
func (o *renderOptions) directGain() float64 {
	if o.wetOnly {
		return 0
	}
	return preset.Decibels(o.direct).Amplitude()
}

const (
	longestTail preset.Millis = 30_000
	// ringing is what the tone adds to the end of an echo: a low cut at 20 Hz has
	// fallen by 60 dB after 55 ms.
	ringing preset.Millis = 60
)

// lasting is how long a train of echoes lasts. One that is too dense to be listed
// lasts as long as may be.
func lasting(train []preset.Echo, err error) preset.Millis {
	if err != nil {
		return longestTail
	}
	last := preset.Millis(0)
	for _, e := range train {
		last = max(last, e.At)
	}
	return min(last+ringing, longestTail)
}

// tailFrames are the samples that are rendered after the take's end.
func (o *renderOptions) tailFrames(s sounding, rate preset.Hertz) int64 {
	seconds := s.lasts.Seconds()
	if o.tailSet {
		seconds = o.tail
	}
	return int64(math.Ceil(seconds * float64(rate)))
}
