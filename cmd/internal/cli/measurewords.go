package cli

import (
	"cmp"
	"fmt"
	"path/filepath"
	"slices"
	"strings"

	"github.com/spf13/cobra"

	"echowright/preset"
	"echowright/preset/signals"
)

// ofNotes is the kind of a take that holds no test signal.
const ofNotes signals.Kind = ""

// goesWith says with which takes a flag makes sense; those that are not here go
// with all.
var goesWith = []struct {
	flag  string
	kinds []signals.Kind
}{
	{"name", []signals.Kind{ofNotes, signals.KindSweep, signals.KindClicks}},
	{"kind", []signals.Kind{ofNotes, signals.KindSweep, signals.KindClicks}},
	{"predict-heads", []signals.Kind{ofNotes, signals.KindSweep, signals.KindClicks}},
	{"replace", []signals.Kind{ofNotes, signals.KindSweep, signals.KindClicks}},
	{"dry", []signals.Kind{ofNotes, signals.KindSweep, signals.KindClicks, signals.KindSteps}},
	{"dry-channel", []signals.Kind{ofNotes, signals.KindSweep, signals.KindClicks, signals.KindSteps}},
	{"through", []signals.Kind{signals.KindTone}},
}

// settle refuses wrong words before any work is done, and finds the name.
func (o *measureOptions) settle(c *call, cmd *cobra.Command, path string, kind signals.Kind) error {
	for _, rule := range goesWith {
		if cmd.Flags().Changed(rule.flag) && !slices.Contains(rule.kinds, kind) {
			return misuse(cmd, "--%s does not go with %s", rule.flag, takeOf(kind))
		}
	}
	if err := cmp.Or(o.check(cmd), o.settlePlot(cmd)); err != nil {
		return err
	}
	if kind == signals.KindTone || kind == signals.KindSteps {
		return o.settleAddition(cmd, kind)
	}
	if err := o.settlePrediction(cmd); err != nil {
		return err
	}
	if kind != ofNotes && len(o.heads) == 0 {
		return misuse(cmd, "measure: --heads is missing: the numbers of the heads that were on, in order of delay, such as 2,4,6")
	}
	return o.settleName(c, cmd, path)
}

// takeOf is a take in words.
func takeOf(kind signals.Kind) string {
	if kind == ofNotes {
		return "a take of notes; is --signal missing?"
	}
	return fmt.Sprintf("a recording of %s", map[signals.Kind]string{
		signals.KindSweep: "a sweep", signals.KindClicks: "clicks", signals.KindTone: "a steady tone", signals.KindSteps: "level steps",
	}[kind])
}

func (o *measureOptions) settleName(c *call, cmd *cobra.Command, path string) error {
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

// settlePrediction reads the range of heads to infer. Which heads were measured
// must be known: the number of each is where it stands.
func (o *measureOptions) settlePrediction(cmd *cobra.Command) error {
	if o.predict == "" {
		return nil
	}
	first, last, err := headRange(o.predict)
	if err != nil {
		return misuse(cmd, "--predict-heads %q: %w", o.predict, err)
	}
	if len(o.heads) == 0 {
		return misuse(cmd, "--predict-heads %s: --heads is missing: which heads were on says where the others stand", o.predict)
	}
	o.inferred = [2]int{first, last}
	return nil
}

func headRange(s string) (first, last int, err error) {
	if n, _ := fmt.Sscanf(s, "%d-%d", &first, &last); n != 2 || fmt.Sprintf("%d-%d", first, last) != s {
		return 0, 0, fmt.Errorf("give the first and the last head, such as 1-6")
	}
	if first < 1 || last > preset.MaxHeads || first > last {
		return 0, 0, fmt.Errorf("heads from 1 to %d, the lesser first", preset.MaxHeads)
	}
	return first, last, nil
}

// settleAddition is settle for what adds to a unit that is there.
func (o *measureOptions) settleAddition(cmd *cobra.Command, kind signals.Kind) error {
	switch {
	case len(o.heads) > 1:
		return misuse(cmd, "--heads %s: %s comes by one head: switch the others off, and name that one", joined(o.heads), takeOf(kind))
	case len(o.heads) == 1 && o.keep.into == "":
		return misuse(cmd, "--heads %d: name the unit that has that head with --into", o.heads[0])
	case len(o.heads) == 1 && cmd.Flags().Changed("through"):
		return misuse(cmd, "--heads and --through: both say by which head the tone came, so give one of them")
	case o.keep.out != "" && o.keep.into == "":
		return misuse(cmd, "--out: %s tells no unit by itself: name the unit that it is of with --into", takeOf(kind))
	}
	if o.keep.into == "" {
		return nil
	}
	if err := preset.CheckName(o.keep.into); err != nil {
		return misuse(cmd, "--into: name %w", err)
	}
	return nil
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
