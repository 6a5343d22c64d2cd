package cli

import (
	"context"
	"crypto/sha256"
	"encoding/hex"
	"errors"
	"fmt"
	"path/filepath"
	"strconv"
	"strings"
	"time"

	"github.com/spf13/cobra"

	"echowright/cmd/internal/ui"
	"echowright/preset"
	"echowright/preset/compare"
	"echowright/preset/measure"
	"echowright/preset/signals"
)

type measureOptions struct {
	heads   []int
	signal  string // file of the test signal that the take holds, "" for notes
	predict string
	through float64 // ms
	name    string
	kind    string
	plot    string
	channelFlags
	keep keepFlags

	inferred [2]int // first and last head of predict, 0 if nothing is inferred
}

func newMeasureCommand(c *call) *cobra.Command {
	var o measureOptions
	cmd := &cobra.Command{
		Use:   "measure TAKE.wav",
		Short: "Measure an echo machine from a recording",
		Long: `Measure delay, level and polarity of each head, the loop that feeds it, and how
far the echoes lie below the direct sound, from a recording of damped notes. Say
which heads were on, in order of delay; else their number is found, and told how
surely. With the direct sound in a channel or a file of its own, any playing does.

With --signal the take is a recording of a test signal: a sweep or clicks give
heads and their tone, a steady tone gives speed, wow and flutter, bursts from soft
to hard the drive. Those two add to a unit that is in the library already.`,
		Example: "  echowright measure take.wav --heads 2,4,6\n" +
			"  echowright measure take.wav --heads 2,4,6 --kind drum --into saltmarsh-drum-1 --plot take.png\n" +
			"  echowright measure two-channels.wav --dry-channel 1 --heads 2,4,6\n" +
			"  echowright measure sweep-take.wav --signal sweep.toml --heads 2,4,6\n" +
			"  echowright measure tone-take.wav --signal tone.toml --heads 4 --into saltmarsh-drum-1",
		Args: takes("TAKE.wav"),
		ValidArgsFunction: func(*cobra.Command, []string, string) ([]string, cobra.ShellCompDirective) {
			return []string{"wav"}, cobra.ShellCompDirectiveFilterFileExt
		},
		RunE: func(cmd *cobra.Command, args []string) error {
			return runMeasure(c, cmd, args[0], o)
		},
	}
	o.add(cmd)
	return cmd
}

func (o *measureOptions) add(cmd *cobra.Command) {
	flags := cmd.Flags()
	flags.IntSliceVar(&o.heads, "heads", nil, "`numbers` of the heads that were on, in order of delay")
	flags.StringVar(&o.signal, "signal", "", "the take holds a test signal: the .toml `file` beside its WAV")
	o.channelFlags.add(cmd)
	flags.StringVar(&o.predict, "predict-heads", "", "infer the other heads of a `range` such as 1-6 from even spacing")
	flags.Float64Var(&o.through, "through", 0, "with a tone: delay in `ms` of the head by which it came, if it was recorded and played back in one pass")
	flags.StringVar(&o.name, "name", "", "`name` of the unit (default: that of --into, else after the take)")
	flags.StringVar(&o.kind, "kind", string(preset.Other), "what carries the sound: "+listed(preset.Kinds()))
	flags.StringVar(&o.plot, "plot", "", "draw what was measured into a `file`: .svg or .png")
	o.keep.add(cmd)
	_ = cmd.RegisterFlagCompletionFunc("kind", fixedCompletion(kindNames()...))
	_ = cmd.MarkFlagFilename("signal", "toml")
	_ = cmd.MarkFlagFilename("dry", "wav")
}

func kindNames() []string {
	var names []string
	for _, k := range preset.Kinds() {
		names = append(names, string(k))
	}
	return names
}

func listed[T ~string](all []T) string {
	words := make([]string, len(all))
	for i, w := range all {
		words[i] = string(w)
	}
	return strings.Join(words, ", ")
}

func runMeasure(c *call, cmd *cobra.Command, path string, o measureOptions) error {
	if o.signal != "" {
		return runMeasureSignal(c, cmd, path, o)
	}
	if err := o.settle(c, cmd, path, ""); err != nil {
		return err
	}
	r, err := c.openTake(path)
	if err != nil {
		return err
	}
	defer r.close()
	if r.seconds() > notesLimit {
		c.warn(fmt.Sprintf("take %s lasts %.0f s: only the first %d s are measured", path, r.seconds(), notesLimit))
	}
	take, err := o.hear(cmd.Context(), c, r, r.within(notesLimit))
	if err != nil {
		return err
	}
	m, err := c.measureTake(cmd.Context(), path, take, o.heads)
	if err != nil {
		return err
	}
	u, err := o.unit(m.Unit, r, c.Now())
	if err != nil {
		return err
	}
	warnings := append(m.Warnings, o.inferences(u)...)
	if err := o.keep.unit(cmd.Context(), c, u); err != nil {
		return err
	}
	if err := o.drawInto(c, oneLine(u), notePanels(u, take, m)...); err != nil {
		return err
	}
	c.warnAll(warnings)
	if c.json {
		return ui.JSON(c.out, viewNotes(u, m, warnings))
	}
	c.showMeasured(u, take.Samples, take.Rate, m)
	return nil
}

// notesLimit in s is how much of a take of notes is measured: what comes later is
// another afternoon.
const notesLimit = 120

func (c *call) warnAll(all []measure.Warning) {
	for _, w := range all {
		c.warn(w.String())
	}
}

// unit puts a name, a kind, an origin and inferred heads to what was measured.
func (o *measureOptions) unit(measured preset.Unit, r *recording, now time.Time) (preset.Unit, error) {
	sum, err := r.sum()
	if err != nil {
		return preset.Unit{}, err
	}
	u := o.named(tidied(measured), r.path, sum, now)
	if o.inferred[0] > 0 {
		if u, err = u.Predict(o.inferred[0], o.inferred[1]); err != nil {
			return u, fmt.Errorf("--predict-heads %s: %w", o.predict, err)
		}
		u = tidied(u)
	}
	if err := u.Validate(); err != nil {
		return u, fmt.Errorf("take %s: what was measured is no unit: %w", r.path, err)
	}
	return u, nil
}

// inferences are the warning that some heads were not measured.
func (o *measureOptions) inferences(u preset.Unit) []measure.Warning {
	var all []int
	for _, h := range u.Heads {
		if h.Inferred {
			all = append(all, h.Head)
		}
	}
	if len(all) == 0 {
		return nil
	}
	return []measure.Warning{{
		What: headList(all) + ": inferred from even spacing, not measured; level and polarity are a guess",
		Do:   "record them too, if they can be switched on",
	}}
}

// measureTake leaves off when ctx ends, though measuring itself cannot be told to.
func (c *call) measureTake(ctx context.Context, path string, take measure.Take, heads []int) (measure.Result, error) {
	return patiently(ctx, c, path, func(progress func(float64)) (measure.Result, error) {
		return measure.Heads(take, measure.Options{Heads: heads, Progress: progress})
	})
}

// patiently measures the take at path in a goroutine of its own, shows progress,
// and leaves off when ctx ends.
func patiently[T any](ctx context.Context, c *call, path string, measure func(progress func(float64)) (T, error)) (T, error) {
	progress := c.talk.Progress("measuring", c.Now)
	defer progress.End()
	type outcome struct {
		result T
		err    error
	}
	done := make(chan outcome, 1)
	go func() {
		r, err := measure(progress.Set)
		done <- outcome{r, err}
	}()
	select {
	case o := <-done:
		return o.result, aboutTake(path, o.err)
	case <-ctx.Done():
		var none T
		return none, aboutTake(path, ctx.Err())
	}
}

// aboutTake names the take. What is neither a refusal nor an interruption is a
// wrong call.
func aboutTake(path string, err error) error {
	switch {
	case err == nil:
		return nil
	case refused(err), errors.Is(err, context.Canceled):
		return fmt.Errorf("take %s: %w", path, err)
	}
	return misused(fmt.Errorf("take %s: %w", path, err))
}

// refused says whether err is that there is nothing to measure.
func refused(err error) bool {
	var notes *measure.Refusal
	var signal *signals.Refusal
	var pair *compare.Refusal
	return errors.As(err, &notes) || errors.As(err, &signal) || errors.As(err, &pair)
}

// named is the unit with what only the caller knows.
func (o *measureOptions) named(u preset.Unit, path, sum string, now time.Time) preset.Unit {
	u.Name, u.Kind = o.name, preset.Kind(o.kind)
	u.Origin = &preset.Origin{Take: filepath.Base(path), TakeSHA256: sum, Measured: day(now)}
	return u
}

func hash(b []byte) string {
	sum := sha256.Sum256(b)
	return hex.EncodeToString(sum[:])
}

func joined(numbers []int) string {
	words := make([]string, len(numbers))
	for i, n := range numbers {
		words[i] = strconv.Itoa(n)
	}
	return strings.Join(words, ", ")
}
