package cli

import (
	"context"
	"errors"
	"fmt"
	"time"

	"github.com/spf13/cobra"

	"echowright/cmd/internal/ui"
	"echowright/library/exchange"
	"echowright/midi"
	"echowright/midi/port"
)

type listenOptions struct {
	port   string
	device string
	unit   int
	lasts  time.Duration // 0: until Ctrl-C
	count  int           // 0: any number
	clocks bool
	learn  bool
	silent time.Duration // after which a knob is taken to be at rest
}

func newListenCommand(c *call) *cobra.Command {
	var o listenOptions
	cmd := &cobra.Command{
		Use:   "listen [DUMP.syx …]",
		Short: "Show what arrives from a device; learn what its knobs send",
		Long: `Show every message that arrives on a port, as bytes and in words, until Ctrl-C.
With --device, what a message means to that device is shown below it: parameter =
value.

With --learn, turn one knob of the device slowly from end to end and wait: what
moved, over which range and in which order of bytes is told, and the lines of a
device profile that say so. Turn a second knob, and the bytes that are the
parameter's number are known too. Two dumps of one memory, between which one
parameter was changed, show which bytes and bits of it moved, and which checksum
moved with them; they may come from files in place of a port.`,
		Example: "  echowright listen --port raw:/dev/snd/midiC1D0 --device five-line\n" +
			"  echowright listen --port raw:/dev/snd/midiC1D0 --learn\n" +
			"  echowright listen --learn before.syx after.syx",
		Args: cobra.ArbitraryArgs,
		ValidArgsFunction: func(*cobra.Command, []string, string) ([]string, cobra.ShellCompDirective) {
			return []string{"syx"}, cobra.ShellCompDirectiveFilterFileExt
		},
		RunE: func(cmd *cobra.Command, args []string) error { return runListen(c, cmd, args, o) },
	}
	flags := cmd.Flags()
	flags.StringVar(&o.port, "port", "", "the `port` to listen to")
	flags.StringVar(&o.device, "device", "", "`name` or file of the device profile by which messages are read")
	flags.IntVar(&o.unit, "unit", 0, "with --device: only what concerns the unit of this `number`, or channel (default: any)")
	flags.DurationVar(&o.lasts, "for", 0, "end after this `time`, such as 10s (default: at Ctrl-C)")
	flags.IntVar(&o.count, "count", 0, "end after this `number` of messages (default: at Ctrl-C)")
	flags.BoolVar(&o.clocks, "clocks", false, "show clocks and active sensing too")
	flags.BoolVar(&o.learn, "learn", false, "turn a knob, and see what moves")
	flags.DurationVar(&o.silent, "silence", 2*time.Second, "with --learn: the `time` without a message after which a knob is at rest")
	_ = cmd.RegisterFlagCompletionFunc("port", completePort)
	_ = cmd.RegisterFlagCompletionFunc("device", c.completeDeviceFlag)
	return cmd
}

func runListen(c *call, cmd *cobra.Command, files []string, o listenOptions) error {
	switch {
	case len(files) > 0 && (!o.learn || o.port != ""):
		return misuse(cmd, "listen: files are for --learn, in place of --port")
	case len(files) > 0:
		return runLearnFiles(c, files)
	case o.port == "":
		return misuse(cmd, "listen: --port is missing: `echowright ports` lists what is there")
	case o.lasts < 0 || o.count < 0 || o.silent <= 0:
		return misuse(cmd, "listen: --for, --count and --silence count upwards from 0")
	}
	in, err := o.interpreter(c, cmd)
	if err != nil {
		return err
	}
	if err := c.checkPortName(o.port); err != nil {
		return misused(err)
	}
	if c.inUse(cmd.Context(), o.port) {
		c.warn(fmt.Sprintf("another echowright is using the port %q: what its device says may not be heard here", o.port))
	}
	p, err := c.Ports.Open(cmd.Context(), o.port)
	if err != nil {
		return err
	}
	defer p.Close()
	ctx := cmd.Context()
	if o.lasts > 0 {
		var cancel context.CancelFunc
		ctx, cancel = context.WithTimeout(ctx, o.lasts)
		defer cancel()
	}
	ear := newEar(ctx, p)
	if o.learn {
		return runLearn(ctx, c, ear, o)
	}
	c.say("listening to %s; Ctrl-C ends it", o.port)
	return c.hear(ctx, ear, in, o)
}

// hear shows messages until enough have come, the time is over, or nobody wants
// more: all of them are ends and no failures.
func (c *call) hear(ctx context.Context, e *ear, in *interpreter, o listenOptions) error {
	begun, shown, passed := c.Now(), 0, 0
	for o.count == 0 || shown < o.count {
		m, err := e.next(ctx, 0)
		if err != nil {
			if over(err) {
				break
			}
			return err
		}
		if len(m) == 1 && m[0] >= midi.TimingClock && !o.clocks {
			passed++
			continue
		}
		shown++
		if err := c.showHeard(in.heard(c.Now().Sub(begun).Seconds(), m)); err != nil {
			return err
		}
	}
	c.say("%s heard%s", ui.Count(shown, "message", "messages"), passedWords(passed))
	return nil
}

func passedWords(passed int) string {
	if passed == 0 {
		return ""
	}
	return fmt.Sprintf("; %s passed over (--clocks shows them)", ui.Count(passed, "clock or other real-time message", "clocks and other real-time messages"))
}

// over reports whether listening came to an end that was wanted.
func over(err error) bool {
	return errors.Is(err, context.Canceled) || errors.Is(err, context.DeadlineExceeded) || errors.Is(err, port.ErrGone)
}

// heardView is one message as scripts get it, one on a line.
type heardView struct {
	At    exchange.Seconds `json:"seconds"`
	Bytes string           `json:"bytes"`
	Says  string           `json:"says"`
	Means []meansView      `json:"means,omitempty"` // to the device, if one is named
}

func (c *call) showHeard(v heardView) error {
	if c.json {
		return ui.JSONLine(c.out, v)
	}
	const most = 60 // columns for bytes: twenty of them
	bytes := v.Bytes
	if len(bytes) > most {
		bytes = bytes[:most-2] + " …"
	}
	c.print("%9.3f s  %-24s  %s", float64(v.At), bytes, v.Says)
	for _, m := range v.Means {
		for _, words := range m.words() {
			c.print("%13s%s", "", words)
		}
	}
	return nil
}

// An ear frames what a port receives.
type ear struct {
	messages chan []byte
	failed   error // why no more come; to be read once messages is closed
}

// newEar listens until ctx ends or the port is closed.
func newEar(ctx context.Context, p port.Port) *ear {
	e := &ear{messages: make(chan []byte, 1024)}
	go func() {
		defer close(e.messages)
		var f midi.Framer
		for {
			b, err := p.Receive(ctx)
			if err != nil {
				e.failed = err
				return
			}
			f.Feed(b, func(m midi.Frame) {
				select {
				case e.messages <- append([]byte(nil), m.Bytes...):
				case <-ctx.Done():
				}
			})
		}
	}()
	return e
}

// errQuiet is that nothing came for the time that was to be waited.
var errQuiet = errors.New("nothing came")

// next is the next message. With a patience above 0 it is waited for no longer.
func (e *ear) next(ctx context.Context, patience time.Duration) ([]byte, error) {
	var late <-chan time.Time
	if patience > 0 {
		timer := time.NewTimer(patience)
		defer timer.Stop()
		late = timer.C
	}
	select {
	case m, ok := <-e.messages:
		if !ok {
			return nil, e.failed
		}
		return m, nil
	case <-late:
		return nil, errQuiet
	case <-ctx.Done():
		return nil, ctx.Err()
	}
}
