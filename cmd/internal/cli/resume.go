package cli

import (
	"context"
	"errors"
	"fmt"
	"strings"

	"github.com/spf13/cobra"

	"echowright/cmd/internal/ui"
	"echowright/library"
	"echowright/library/exchange"
	"echowright/midi/port/traceport"
	"echowright/profiles"
)

type resumeOptions struct {
	putBack bool
	force   bool
	forget  bool
	list    bool
	yes     bool
	port    string
	trace   string
}

func newResumeCommand(c *call) *cobra.Command {
	var o resumeOptions
	cmd := &cobra.Command{
		Use:   "resume [INTENT]",
		Short: "Bring to its end what was broken off, or put back what was there",
		Long: `Before anything is written to a device, what is going to be written stands in a
journal in the library. Where a push or a restore was broken off (a pulled cable, a
power cut, a kill), this finishes it: each slot is read, written where it does not
hold what it is to hold, and read back. --put-back writes what the slots held
before instead. Without INTENT it is done for everything that is under way.
--forget asks about each: y or yes on the next line of its input agrees, anything
else does not, nor does the end of the input; scripts give --yes.

The device is spoken to as it was then: by the profile kept in the journal, on the
same port unless --port names another.`,
		Example: "  echowright resume\n  echowright resume --put-back\n  echowright resume --port raw:/dev/snd/midiC2D0\n  echowright resume --list",
		Args: func(cmd *cobra.Command, args []string) error {
			if len(args) > 1 {
				return misuse(cmd, "resume: %q is one argument too many", args[1])
			}
			return nil
		},
		ValidArgsFunction: c.completeIntent,
		RunE:              func(cmd *cobra.Command, args []string) error { return runResume(c, cmd, args, o) },
	}
	flags := cmd.Flags()
	flags.BoolVar(&o.putBack, "put-back", false, "put back what the slots held before")
	flags.BoolVar(&o.forget, "forget", false, "drop the entry and leave the device as it is; snapshots stay")
	flags.BoolVar(&o.list, "list", false, "only say what is under way")
	flags.BoolVarP(&o.yes, "yes", "y", false, "with --forget: don't ask")
	flags.StringVar(&o.port, "port", "", "the `port` that the device is on now, if it is another one")
	flags.BoolVar(&o.force, "force", false, "with --port: also if no slot there holds the old or the new")
	flags.StringVar(&o.trace, "trace", "", traceHelp)
	_ = cmd.RegisterFlagCompletionFunc("port", completePort)
	return cmd
}

func runResume(c *call, cmd *cobra.Command, names []string, o resumeOptions) error {
	if o.putBack && o.forget || o.list && (o.putBack || o.forget) {
		return misuse(cmd, "resume: --put-back, --forget and --list: give one of them")
	}
	shelf, err := c.library()
	if err != nil {
		return err
	}
	open, err := shelf.Intents()
	if err != nil {
		return err
	}
	if open, err = named(shelf, open, names); err != nil {
		return err
	}
	switch {
	case o.list:
		return c.listIntents(cmd.Context(), shelf, open)
	case len(open) > 1 && (o.port != "" || o.trace != ""):
		return misuse(cmd, "resume: %d things are under way: with --port or --trace say which is meant, by its name from `echowright resume --list`", len(open))
	case o.port != "":
		if o.port, err = c.portName(o.port); err != nil {
			return err
		}
	}
	if o.forget {
		return c.forgetAll(cmd.Context(), shelf, open, o)
	}
	return c.resumeAll(cmd.Context(), shelf, open, o)
}

// named are the entries that are meant: all, or the one whose name is given.
func named(shelf *library.Library, open []library.IntentEntry, names []string) ([]library.IntentEntry, error) {
	if len(names) == 0 {
		return open, nil
	}
	for _, e := range open {
		if e.Name == names[0] {
			return []library.IntentEntry{e}, nil
		}
	}
	_, err := shelf.Intent(names[0]) // it knows a name that is like it
	return nil, err
}

// resumeAll brings one after the other to its end, the others too where one fails.
func (c *call) resumeAll(ctx context.Context, shelf *library.Library, open []library.IntentEntry, o resumeOptions) error {
	all := []exchange.Resumed{}
	var failed failures
	for _, e := range open {
		done, err := c.resume(ctx, shelf, e, o)
		if err != nil {
			failed = append(failed, err)
			continue
		}
		all = append(all, done)
		if !c.json {
			c.print("%s", resumedWords(e.Intent, done))
		}
	}
	switch {
	case c.json:
		failed = failed.and(ui.JSON(c.out, map[string]any{"resumed": all}))
	case len(open) == 0:
		c.print("nothing is under way")
	}
	return failed.err()
}

// resume brings one to its end.
func (c *call) resume(ctx context.Context, shelf *library.Library, e library.IntentEntry, o resumeOptions) (done exchange.Resumed, err error) {
	unlock, err := lockIntent(ctx, shelf, e)
	if err != nil {
		return done, err
	}
	defer unlock()
	i, err := shelf.Intent(e.Name) // once more: now nobody else changes it
	var gone *library.NotFoundError
	if errors.As(err, &gone) {
		return done, fmt.Errorf("%s has been brought to its end by another echowright meanwhile", e.Name)
	}
	if err != nil {
		return done, errors.New(underWay(library.IntentEntry{Name: e.Name, Intent: e.Intent, Err: err}, brokenOff))
	}
	t, err := targetOf(i, o)
	if err != nil {
		return done, fmt.Errorf("%s: %w", i.Name, err)
	}
	if fleeting(t.port) && t.port != i.Port {
		return done, misused(fmt.Errorf("%s was begun on %s: %s is not the device that it was begun with", i.Name, i.Port, t.port))
	}
	talk := t.converse
	if t.port != i.Port {
		talk = t.talkAlone
	}
	err = talk(ctx, c, "resume", func(s *exchange.Session) error {
		done, err = s.Resume(ctx, i, exchange.ResumeOptions{PutBack: o.putBack, Force: o.force})
		return err
	})
	return done, stillOpen(err, i, done, waysOut(shelf, i))
}

// fleeting is whether there is a new device behind a port at each run.
func fleeting(port string) bool {
	scheme, _, _ := strings.Cut(port, ":")
	return scheme == emulatorScheme || scheme == traceport.Scheme
}

// waysOut are the commands that bring an intent to an end: what nobody has any
// more cannot be put back.
func waysOut(shelf *library.Library, i library.Intent) string {
	other := "`echowright resume --put-back` puts back what was there"
	if _, err := shelf.Snapshot(i.Snapshot); err != nil {
		other = "`echowright resume --forget` leaves the device as it is"
	}
	return "`echowright resume` finishes it, " + other + "; --port names the port if the device is on another one now"
}

// stillOpen says with an error what stays to be done, and next how.
func stillOpen(err error, i library.Intent, done exchange.Resumed, next string) error {
	var unwritten *exchange.UnwrittenError
	switch {
	case err == nil:
		return nil
	case done.Intent == "": // not a byte was sent
		return fmt.Errorf("%s: %w; it stays in the journal: %s", strings.TrimSuffix(intentWords(i), ","), err, next)
	case errors.As(err, &unwritten) && unwritten.Intent != "": // it says so itself
		return err
	}
	return fmt.Errorf("%w; %s", err, next)
}

// targetOf is the device as it was spoken to when the intent was begun.
func targetOf(i library.Intent, o resumeOptions) (target, error) {
	d, err := profiles.Parse("profile.toml", i.Profile)
	if err != nil {
		return target{}, fmt.Errorf("the profile kept with it: %w", err)
	}
	a, err := addressOf(d, i.UnitNumber, i.Channel)
	t := target{address: a, port: i.Port, rig: i.Rig, trace: o.trace}
	if o.port != "" {
		t.port = o.port
	}
	return t, err
}

func resumedWords(i library.Intent, done exchange.Resumed) string {
	end := "finished"
	if done.PutBack {
		end = "put back as it was"
	}
	text := fmt.Sprintf("%s of %s on %s is %s", i.Doing, library.SlotWords(intentSlots(i)), done.Port, end)
	if len(done.Written) > 0 {
		text += fmt.Sprintf("; %s written", library.SlotWords(done.Written))
	}
	if len(done.Same) > 0 {
		text += fmt.Sprintf("; %s held it already", library.SlotWords(done.Same))
	}
	if done.Verified == exchange.VerifiedYes {
		text += "; read back and verified"
	} else {
		text += "; whether the device took it can only be heard"
	}
	if done.Found != "" {
		text += "; what stood there in between is kept as " + done.Found
	}
	return text
}
