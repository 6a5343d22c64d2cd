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
	"echowright/preset/measure"
)

type measureOptions struct {
	heads []int
	name  string
	kind  string
	plot  string
	keep  keepFlags
}

func newMeasureCommand(c *call) *cobra.Command {
	var o measureOptions
	cmd := &cobra.Command{
		Use:   "measure TAKE.wav",
		Short: "Measure an echo machine from the recording of a damped note",
		Long: `Measure delay, level and polarity of each head, the loop that feeds it, and how
far the echoes lie below the direct sound, from one recording of one damped note.
Say which heads were on, in order of delay.`,
		Example: "  echowright measure take.wav --heads 2,4,6\n" +
			"  echowright measure take.wav --heads 2,4,6 --kind drum --into saltmarsh-drum-1 --plot take.svg",
		Args: takes("TAKE.wav"),
		ValidArgsFunction: func(*cobra.Command, []string, string) ([]string, cobra.ShellCompDirective) {
			return []string{"wav"}, cobra.ShellCompDirectiveFilterFileExt
		},
		RunE: func(cmd *cobra.Command, args []string) error {
			return runMeasure(c, cmd, args[0], o)
		},
	}
	flags := cmd.Flags()
	flags.IntSliceVar(&o.heads, "heads", nil, "`numbers` of the heads that were on, in order of delay (default: their number is guessed)")
	flags.StringVar(&o.name, "name", "", "`name` of the unit (default: that of --into, else after the take)")
	flags.StringVar(&o.kind, "kind", string(preset.Other), "what carries the sound: "+listed(preset.Kinds()))
	flags.StringVar(&o.plot, "plot", "", "draw take and echoes into an SVG `file`")
	o.keep.add(cmd)
	_ = cmd.RegisterFlagCompletionFunc("kind", fixedCompletion(kindNames()...))
	return cmd
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
	if err := o.settle(c, cmd, path); err != nil {
		return err
	}
	take, sum, err := c.readTake(path)
	if err != nil {
		return err
	}
	samples, err := c.oneChannel(path, take)
	if err != nil {
		return err
	}
	m, err := c.measureTake(cmd.Context(), path, measure.Take{Rate: take.Rate, Samples: samples}, o.heads)
	if err != nil {
		return err
	}
	u := o.named(tidied(m.Unit), path, sum, c.Now())
	if err := u.Validate(); err != nil {
		return fmt.Errorf("take %s: what was measured is no unit: %w", path, err)
	}
	if err := o.keep.unit(cmd.Context(), c, u); err != nil {
		return err
	}
	if o.plot != "" {
		if err := c.writePicture(o.plot, u.Name, samples, take.Rate, m); err != nil {
			return err
		}
	}
	for _, w := range m.Warnings {
		c.warn(w.String())
	}
	if c.json {
		return ui.JSON(c.out, unitView(u, m.Warnings))
	}
	c.showMeasured(u, samples, take.Rate, m)
	return nil
}

// settle refuses wrong words before any work is done, and finds the name.
func (o *measureOptions) settle(c *call, cmd *cobra.Command, path string) error {
	if !contains(preset.Kinds(), o.kind) {
		return misuse(cmd, "--kind %q: it is one of %s", o.kind, listed(preset.Kinds()))
	}
	if o.name == "" {
		o.name = o.keep.into
	}
	if o.name == "" {
		o.name = nameAfter(path)
	}
	if err := preset.CheckName(o.name); err != nil {
		return misuse(cmd, "name %w", err)
	}
	if o.keep.into != "" && o.keep.into != o.name {
		return misuse(cmd, "--name %s and --into %s: a unit is filed under its own name, so give one of them", o.name, o.keep.into)
	}
	return o.keep.check(c, cmd)
}

func contains[T ~string](all []T, word string) bool {
	for _, w := range all {
		if string(w) == word {
			return true
		}
	}
	return false
}

// nameAfter makes a unit's name of a take's file name.
func nameAfter(path string) string {
	base := strings.ToLower(filepath.Base(path))
	base = strings.TrimSuffix(base, filepath.Ext(base))
	words := strings.FieldsFunc(base, func(r rune) bool { return (r < 'a' || r > 'z') && (r < '0' || r > '9') })
	if name := strings.Join(words, "-"); preset.CheckName(name) == nil {
		return name
	}
	return "take"
}

// measureTake leaves off when ctx ends, though measuring itself cannot be told to.
func (c *call) measureTake(ctx context.Context, path string, take measure.Take, heads []int) (measure.Result, error) {
	progress := c.talk.Progress("measuring", c.Now)
	defer progress.End()
	type outcome struct {
		result measure.Result
		err    error
	}
	done := make(chan outcome, 1)
	go func() {
		m, err := measure.Heads(take, measure.Options{Heads: heads, Progress: progress.Set})
		done <- outcome{m, err}
	}()
	select {
	case o := <-done:
		return o.result, aboutTake(path, o.err)
	case <-ctx.Done():
		return measure.Result{}, aboutTake(path, ctx.Err())
	}
}

// aboutTake names the take. What is neither a refusal nor an interruption is a
// wrong call.
func aboutTake(path string, err error) error {
	var refusal *measure.Refusal
	switch {
	case err == nil:
		return nil
	case errors.As(err, &refusal), errors.Is(err, context.Canceled):
		return fmt.Errorf("take %s: %w", path, err)
	}
	return misused(fmt.Errorf("take %s: %w", path, err))
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
