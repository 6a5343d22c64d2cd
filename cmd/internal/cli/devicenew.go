package cli

import (
	"bufio"
	"errors"
	"fmt"
	"io"
	"os"
	"strconv"
	"strings"

	"github.com/spf13/cobra"

	"echowright/cmd/internal/ui"
	"echowright/preset"
	"echowright/profiles"
	"echowright/profiles/sketch"
)

type newOptions struct {
	sketch.Answers
	speaks, loop, out string
}

func newDeviceNewCommand(c *call) *cobra.Command {
	o := newOptions{}
	cmd := &cobra.Command{
		Use:   "new NAME",
		Short: "Begin the description of a device: a commented profile to go on from",
		Long: `Write a whole and consistent device profile with a comment at everything that
only the manual knows. What no flag says is asked for, if somebody sits at the
terminal; else a usual answer is taken, and told.`,
		Example: "  echowright device new mill-echo --out mill-echo.toml\n" +
			"  echowright device new mill-echo --lines 1 --taps 4 --loop sum --speaks nrpn --longest 1500 --codes 15001 --slots 16 --out mill-echo.toml",
		Args: takes("NAME"),
		RunE: func(cmd *cobra.Command, args []string) error {
			o.Name = args[0]
			return runDeviceNew(c, cmd, o)
		},
	}
	flags := cmd.Flags()
	flags.StringVar(&o.Title, "title", "", "a `title` for people")
	flags.IntVar(&o.Lines, "lines", 1, "`number` of delay lines, each a memory of its own")
	flags.IntVar(&o.Taps, "taps", 1, "`number` of taps on each line")
	flags.StringVar(&o.loop, "loop", "", "what is fed back: line (its own output), tap (one of them), sum (of the taps), none")
	flags.BoolVar(&o.Sources, "sources", false, "a line can take another one's output for its input")
	flags.StringVar(&o.speaks, "speaks", string(sketch.ByControl), "how it is set: control, pairs (of controllers), nrpn, exclusive")
	flags.Float64Var(&o.Longest, "longest", 1000, "longest `time` in ms")
	flags.IntVar(&o.Codes, "codes", 0, "`number` of codes that a time has (default: 128 with control, else 1 for each ms)")
	flags.IntVar(&o.Slots, "slots", 0, "`number` of memory places that can be reached by MIDI")
	flags.StringVar(&o.out, "out", "", "write it into a `file` that is not there yet")
	_ = cmd.RegisterFlagCompletionFunc("loop", fixedCompletion("line", "tap", "sum", "none"))
	_ = cmd.RegisterFlagCompletionFunc("speaks", fixedCompletion("control", "pairs", "nrpn", "exclusive"))
	return cmd
}

func runDeviceNew(c *call, cmd *cobra.Command, o newOptions) error {
	if err := preset.CheckName(o.Name); err != nil {
		return misuse(cmd, "new: name %w", err)
	}
	if _, err := os.Lstat(o.out); o.out != "" && err == nil {
		return misuse(cmd, "new: file %s is there already: name another one, so that nothing is lost", o.out)
	}
	if err := o.ask(c, cmd); err != nil {
		return err
	}
	o.complete(cmd)
	text, err := o.Profile()
	if err != nil {
		return misused(fmt.Errorf("new: %w", err))
	}
	if _, err := profiles.Parse(o.Name+".toml", text); err != nil {
		return fmt.Errorf("the sketch for %q is no profile: %w", o.Name, err)
	}
	if o.out == "" {
		_, err := c.out.Write(text)
		return err
	}
	if err := c.writeOut(o.out, text); err != nil {
		return err
	}
	c.say("now put in what the manual says where it reads (manual), and look with `echowright device check %s`", o.out)
	return nil
}

// complete takes over the words, and what is usual where nothing was said.
func (o *newOptions) complete(cmd *cobra.Command) {
	o.Speaks, o.Loop = sketch.Speaks(o.speaks), sketch.Loop(o.loop)
	if o.Title == "" {
		o.Title = o.Name
	}
	if o.Loop == "" {
		o.Loop = sketch.LoopOwn
		if o.Taps > 1 {
			o.Loop = sketch.LoopSum
		}
	}
	if !cmd.Flags().Changed("codes") && o.Codes == 0 {
		o.Codes = 128
		if o.Speaks != sketch.ByControl {
			o.Codes = min(16384, int(o.Longest)+1)
		}
	}
}

// A question is asked where its flag was not given.
type question struct {
	flag, text string
	into       any // *int, *float64 or *string
}

// ask goes through the questions with somebody at the terminal. An empty answer
// takes what stands in brackets.
func (o *newOptions) ask(c *call, cmd *cobra.Command) error {
	if !ui.Asks(c.Stdin) {
		return nil
	}
	in := bufio.NewReader(c.Stdin)
	for _, q := range []question{
		{"lines", "How many delay lines has it, each a memory of its own?", &o.Lines},
		{"taps", "How many taps has each of them?", &o.Taps},
		{"loop", "What is fed back: line (its own output), tap (one of the taps), sum (of the taps) or none?", &o.loop},
		{"speaks", "How is it set: control (changes), pairs (of controllers), nrpn or exclusive (System Exclusive)?", &o.speaks},
		{"longest", "What is its longest time, in ms?", &o.Longest},
		{"slots", "How many memory places can be reached by MIDI?", &o.Slots},
	} {
		if cmd.Flags().Changed(q.flag) {
			continue
		}
		if err := q.put(c, in); err != nil {
			return err
		}
	}
	return nil
}

func (q question) put(c *call, in *bufio.Reader) error {
	for {
		fmt.Fprintf(c.talk, "%s [%v] ", q.text, q.value())
		line, err := in.ReadString('\n')
		if err != nil && !(errors.Is(err, io.EOF) && line != "") {
			return misused(fmt.Errorf("new: no answer to %q: give --%s", q.text, q.flag))
		}
		answer := strings.TrimSpace(line)
		if answer == "" || q.take(answer) {
			return nil
		}
		c.say("%q is no number", answer)
	}
}

func (q question) value() any {
	switch into := q.into.(type) {
	case *int:
		return *into
	case *float64:
		return *into
	case *string:
		return *into
	}
	return ""
}

func (q question) take(answer string) bool {
	var err error
	switch into := q.into.(type) {
	case *int:
		*into, err = strconv.Atoi(answer)
	case *float64:
		*into, err = strconv.ParseFloat(answer, 64)
	case *string:
		*into = answer
	}
	return err == nil
}
