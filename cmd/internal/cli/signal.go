package cli

import (
	"context"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"path/filepath"
	"strings"

	"github.com/spf13/cobra"
	"github.com/spf13/pflag"

	"echowright/cmd/internal/ui"
	"echowright/library/wholefile"
	"echowright/preset"
	"echowright/preset/signals"
	"echowright/preset/wavfile"
)

func newSignalCommand(c *call) *cobra.Command {
	cmd := &cobra.Command{
		Use:   "signal",
		Short: "Write a test signal to play through an echo machine",
		Long: `Write a test signal as a WAV file, and beside it the small file of the same name
in .toml that measure needs to make sense of a recording of it.

Play it into the machine, record what comes out, and measure that:
  echowright measure RECORDING.wav --signal SIGNAL.toml`,
		Example: "  echowright signal sweep --out sweep.wav\n  echowright signal tone --out tone.wav --seconds 60",
	}
	asGroup(c, cmd)
	for _, kind := range signals.Kinds() {
		cmd.AddCommand(newSignalKindCommand(c, kind))
	}
	return cmd
}

// signalWords are what help says of each kind of signal.
var signalWords = map[signals.Kind]string{
	signals.KindSweep:  "An exponential sweep: delay, level, tone and harmonics of each head",
	signals.KindClicks: "Clicks: delay, level and tone of each head, and how far its delay wanders",
	signals.KindTone:   "A steady tone: speed, wow and flutter",
	signals.KindSteps:  "Bursts of a tone from soft to hard: how the record path saturates",
}

type signalOptions struct {
	signal  signals.Signal
	out     string
	replace bool
}

func newSignalKindCommand(c *call, kind signals.Kind) *cobra.Command {
	o := signalOptions{signal: signals.Default(kind)}
	cmd := &cobra.Command{
		Use:     string(kind),
		Short:   signalWords[kind],
		Example: fmt.Sprintf("  echowright signal %s --out %s.wav", kind, kind),
		Args:    takes(),
		RunE:    func(cmd *cobra.Command, _ []string) error { return runSignal(cmd.Context(), c, cmd, o) },
	}
	flags := cmd.Flags()
	flags.StringVar(&o.out, "out", "", "WAV `file` to write; its figures go beside it, as .toml")
	flags.BoolVar(&o.replace, "replace", false, "write over files that are there already")
	for _, f := range figuresOf(&o.signal) {
		flags.Float64Var(f.value, f.flag, *f.value, f.use)
	}
	addCount(flags, &o.signal)
	return cmd
}

// A figure of a signal that a flag can change.
type figure struct {
	value     *float64
	flag, use string
}

func figuresOf(s *signals.Signal) []figure {
	all := []figure{
		{(*float64)(&s.Rate), "rate", "sample rate in `Hz`"},
		{(*float64)(&s.Level), "level", fmt.Sprintf("level in `dBFS`, of the loudest part; %g at the most", float64(loudestSignal))},
	}
	switch {
	case s.Sweep != nil:
		all = append(all, figure{&s.Sweep.Seconds, "seconds", "length in `s`"},
			figure{(*float64)(&s.Sweep.From), "from", "lowest frequency in `Hz`"},
			figure{(*float64)(&s.Sweep.To), "to", "highest frequency in `Hz`, less where the rate asks for it"})
	case s.Clicks != nil:
		all = append(all, figure{(*float64)(&s.Clicks.Spacing), "spacing", "from click to click in `ms`: twice the longest echo or more"})
	case s.Tone != nil:
		all = append(all, figure{&s.Tone.Seconds, "seconds", "length in `s`"},
			figure{(*float64)(&s.Tone.Frequency), "frequency", "frequency in `Hz`"})
	case s.Steps != nil:
		all = append(all, figure{(*float64)(&s.Steps.Frequency), "frequency", "frequency in `Hz`"},
			figure{(*float64)(&s.Steps.Step), "step", "from one burst to the next, in `dB`"},
			figure{(*float64)(&s.Steps.Burst), "burst", "length of a burst in `ms`: less than the first head's delay"})
	}
	return all
}

func addCount(flags *pflag.FlagSet, s *signals.Signal) {
	switch {
	case s.Clicks != nil:
		flags.IntVar(&s.Clicks.Count, "count", s.Clicks.Count, "`number` of clicks")
	case s.Steps != nil:
		flags.IntVar(&s.Steps.Count, "count", s.Steps.Count, "`number` of bursts")
	}
}

// loudestSignal leaves the recorder room for what a machine adds, and ears alive.
// A machine is driven harder with its own input control.
const loudestSignal preset.Decibels = -6

// settle refuses what makes no signal, before anything is written.
func (o *signalOptions) settle(cmd *cobra.Command) error {
	switch {
	case o.out == "":
		return misuse(cmd, "signal %s: --out is missing: the WAV file to write", cmd.Name())
	case !strings.EqualFold(filepath.Ext(o.out), ".wav"):
		return misuse(cmd, "--out %s: the name of a WAV file ends in .wav", o.out)
	case o.signal.Level > loudestSignal:
		return misuse(cmd, "--level %g: %g dBFS at the most; to drive the machine harder, turn its input up", float64(o.signal.Level), float64(loudestSignal))
	}
	o.fitBand(cmd)
	if err := o.signal.Validate(); err != nil {
		return misuse(cmd, "no such signal: %w", err)
	}
	if o.replace {
		return nil
	}
	for _, path := range []string{o.out, o.figures()} {
		if _, err := os.Lstat(path); !errors.Is(err, fs.ErrNotExist) {
			return fmt.Errorf("%s is there already: choose another name, or give --replace", path)
		}
	}
	return nil
}

// fitBand takes the highest frequency down to what the rate has room for, unless
// it was asked for by name.
func (o *signalOptions) fitBand(cmd *cobra.Command) {
	const usable = 0.45 // of the rate: see [signals.Signal.Validate]
	top := preset.Hertz(usable * float64(o.signal.Rate))
	if s := o.signal.Sweep; s != nil && !cmd.Flags().Changed("to") {
		s.To = min(s.To, top)
	}
	if s := o.signal.Clicks; s != nil {
		s.HighCut = min(s.HighCut, top)
	}
}

// figures is the path of the file beside the WAV.
func (o *signalOptions) figures() string {
	return strings.TrimSuffix(o.out, filepath.Ext(o.out)) + ".toml"
}

func runSignal(ctx context.Context, c *call, cmd *cobra.Command, o signalOptions) error {
	if err := o.settle(cmd); err != nil {
		return err
	}
	text, err := signals.Format(o.signal)
	if err != nil {
		return err
	}
	screen := c.loud()
	if c.json {
		screen = c.talk // it stands in the result
	}
	fmt.Fprintln(screen, ui.Line(o.signal.Caution()))
	progress := c.talk.Progress("writing", c.Now)
	err = wholefile.Stream(o.out, 0o666, func(w io.Writer) error { return writeSignal(ctx, w, o.signal, progress.Set) })
	progress.End()
	if err != nil {
		return err
	}
	if err := wholeFile(o.figures(), text); err != nil {
		return err
	}
	if c.json {
		return ui.JSON(c.out, viewSignal(o))
	}
	c.print("%s: %s", o.out, signalInWords(o.signal))
	c.print("%s: what it is made of; `echowright measure RECORDING.wav --signal %s` asks for it", o.figures(), o.figures())
	return nil
}

// writeSignal writes the signal a second at a time.
func writeSignal(ctx context.Context, w io.Writer, s signals.Signal, progress func(float64)) error {
	frames := s.Frames()
	out, err := wavfile.NewWriter(w, s.Rate, 1, int64(frames), wavfile.PCM24)
	if err != nil {
		return err
	}
	block := make([]float64, int(s.Rate))
	for from := 0; from < frames; from += len(block) {
		if err := ctx.Err(); err != nil {
			return err
		}
		part := block[:min(len(block), frames-from)]
		s.Fill(part, from)
		if err := out.Write([][]float64{part}); err != nil {
			return err
		}
		progress(float64(from) / float64(frames))
	}
	return out.Close()
}

// writtenSignal is what scripts get of a signal.
type writtenSignal struct {
	WAV     string         `json:"wav"`
	TOML    string         `json:"toml"`
	Kind    signals.Kind   `json:"kind"`
	Seconds float64        `json:"seconds"`
	Peak    float64        `json:"peak"` // in fractions of full scale
	Caution string         `json:"caution"`
	Signal  signals.Signal `json:"signal"`
}

func viewSignal(o signalOptions) writtenSignal {
	s := o.signal
	return writtenSignal{WAV: o.out, TOML: o.figures(), Kind: s.Kind(), Seconds: s.Seconds(), Peak: s.Peak(), Caution: s.Caution(), Signal: s}
}

// signalInWords is a signal in a line.
func signalInWords(s signals.Signal) string {
	var what string
	switch {
	case s.Sweep != nil:
		what = fmt.Sprintf("a sweep from %v to %v in %g s", s.Sweep.From, s.Sweep.To, s.Sweep.Seconds)
	case s.Clicks != nil:
		what = fmt.Sprintf("%s, %v apart", ui.Count(s.Clicks.Count, "click", "clicks"), s.Clicks.Spacing)
	case s.Tone != nil:
		what = fmt.Sprintf("a tone of %v for %g s", s.Tone.Frequency, s.Tone.Seconds)
	case s.Steps != nil:
		what = fmt.Sprintf("%d bursts of %v, %v apart", s.Steps.Count, s.Steps.Frequency, s.Steps.Step)
	}
	return fmt.Sprintf("%s at %g dBFS; %s s in all, at %v, %v, one channel", what, float64(s.Level), ui.Fixed(s.Seconds(), 1), s.Rate, wavfile.PCM24)
}
