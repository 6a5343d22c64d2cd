package cli

import (
	"context"
	"fmt"
	"net"
	"os"
	"slices"
	"strings"

	"github.com/spf13/cobra"

	"echowright/library/exchange"
	"echowright/midi/port/fileport"
	"echowright/midi/port/netport"
	"echowright/midi/port/rawport"
	"echowright/preset"
	"echowright/profiles"
	"echowright/profiles/arrange"
)

type followOptions struct {
	target targetFlags
	clock  string
	song   songFlags
	heads  []int
	prefer string
}

const followLong = `Hear MIDI clock on one port and keep the delays of a device on another in time with
it, until Ctrl-C. Once the clock has settled, which takes two beats, a unit's echoes
are worked out for its tempo, as retime and plan would do it, and set in what sounds;
no slot is written. From then on only the times move, all together, whenever the
change would be heard: a third of 6 ms, or of 2.5 % of the longest delay where that is
more (Friberg & Sundberg 1995). Tone and wow stay as they are.

A device that follows a clock by itself gets the clock passed on, and each of its
lines is set to the note value that comes nearest to the wanted delay; how far that
is off is shown. Do not give it the clock by another cable too.

Times that a device cannot reach at a tempo are halved, and said to be; where
that does not help either, and where the clock stops, the last times stay. On
Ctrl-C an update that has begun is finished: the device holds one whole set of
times.

Caution: this changes what sounds at once. Turn your monitors down first.`

func newFollowCommand(c *call) *cobra.Command {
	var o followOptions
	cmd := &cobra.Command{
		Use:   "follow UNIT",
		Short: "Keep a device's delays in time with a MIDI clock",
		Long:  followLong,
		Example: "  echowright follow saltmarsh-drum-1 --rig stage --clock raw:/dev/snd/midiC2D0\n" +
			"  echowright follow saltmarsh-drum-1 --rig stage --clock os:Sequencer --note 1/8. --head 3 --json",
		Args:              takes("UNIT"),
		ValidArgsFunction: c.completeUnit,
		RunE:              func(cmd *cobra.Command, args []string) error { return runFollow(c, cmd, args[0], o) },
	}
	o.target.add(c, cmd)
	flags := cmd.Flags()
	flags.StringVar(&o.clock, "clock", "", "the `port` on which MIDI clock comes in")
	flags.StringVar(&o.song.note, "note", "", "note `value` that the head is to fall on: 1/4, 1/8. (dotted), 1/8t (triplet) (default: the one nearest to it as it is)")
	flags.IntVar(&o.song.head, "head", 0, "`number` of the head that is to fall on it (default: the last one)")
	flags.IntSliceVar(&o.heads, "heads", nil, "`numbers` of the heads to be heard (default: all)")
	flags.StringVar(&o.prefer, "prefer", "", "`what` is to be right where the device cannot give all: first-set, repeats or count (default: what is nearest to the whole)")
	_ = cmd.RegisterFlagCompletionFunc("clock", completePort)
	_ = cmd.RegisterFlagCompletionFunc("note", fixedCompletion(noteNames()...))
	_ = cmd.RegisterFlagCompletionFunc("prefer", fixedCompletion(preferences()...))
	return cmd
}

func runFollow(c *call, cmd *cobra.Command, name string, o followOptions) error {
	t, err := o.target.find(c, cmd)
	if err != nil {
		return err
	}
	if err := o.checkClock(c, cmd, t); err != nil {
		return err
	}
	u, err := c.unit(name)
	if err != nil {
		return err
	}
	a, err := o.anchored(c, cmd, t, u)
	if err != nil {
		return err
	}
	shelf, err := c.library()
	if err != nil {
		return err
	}
	unlock, err := lockPort(cmd.Context(), shelf, t.port)
	if err != nil {
		return fmt.Errorf("follow: %w; nothing was sent", err)
	}
	defer unlock()
	return o.follow(cmd.Context(), c, t, a)
}

// checkClock refuses a port that no clock can come on.
func (o *followOptions) checkClock(c *call, cmd *cobra.Command, t target) error {
	if o.clock == "" {
		return misuse(cmd, "follow: --clock is missing: the port on which MIDI clock comes in; `echowright ports` lists what is there")
	}
	var err error
	if o.clock, err = c.portName(o.clock); err != nil {
		return fmt.Errorf("--clock: %w", err)
	}
	switch {
	case t.writeOnly():
		return misused(fmt.Errorf("port %s: a file does not sound: name the port that the device is on", t.port))
	case strings.HasPrefix(o.clock, fileport.Scheme+":"):
		return misused(fmt.Errorf("--clock %s: no clock comes out of a file: name the port that its sender is on", o.clock))
	case samePort(o.clock, t.port):
		return misused(fmt.Errorf("--clock %s is the device's own port: what comes in there are its answers, and a clock's sender is no device; "+
			"connect the clock to another port", o.clock))
	}
	return nil
}

// samePort reports whether two names stand for one port: the same name, two names
// of one file, or two of one address. That a raw device is one of the system's
// ports as well shows when the second is opened: the kernel says that it is busy.
func samePort(a, b string) bool {
	if a == b || sameAddress(a, b) {
		return true
	}
	for _, scheme := range []string{rawport.Scheme, netport.UnixScheme} {
		pathA, ofA := strings.CutPrefix(a, scheme+":")
		pathB, ofB := strings.CutPrefix(b, scheme+":")
		if !ofA || !ofB {
			continue
		}
		infoA, errA := os.Stat(pathA)
		infoB, errB := os.Stat(pathB)
		return errA == nil && errB == nil && os.SameFile(infoA, infoB)
	}
	return false
}

// sameAddress is that of TCP, as far as it shows without asking anybody: the host
// may be this one under several names.
func sameAddress(a, b string) bool {
	addressA, ofA := strings.CutPrefix(a, netport.TCPScheme+":")
	addressB, ofB := strings.CutPrefix(b, netport.TCPScheme+":")
	hostA, portA, errA := net.SplitHostPort(addressA)
	hostB, portB, errB := net.SplitHostPort(addressB)
	if !ofA || !ofB || errA != nil || errB != nil || portA != portB {
		return false
	}
	return strings.EqualFold(hostA, hostB) || isThisHost(hostA) && isThisHost(hostB)
}

func isThisHost(name string) bool {
	return strings.EqualFold(name, "localhost") || net.ParseIP(name).IsLoopback()
}

// follow opens both ports and lets the device follow.
func (o *followOptions) follow(ctx context.Context, c *call, t target, a anchored) error {
	clock, err := c.Ports.Open(ctx, o.clock)
	if err != nil {
		return fmt.Errorf("--clock: %w", err)
	}
	defer clock.Close()
	p, trace, err := t.open(ctx, c)
	if err != nil {
		return err
	}
	defer trace.end(c)
	thru := exchange.NewThru(p)
	link := t.link(thru, trace.remark)
	defer link.Close()
	progress := c.talk.Progress("follow", c.Now)
	defer progress.End()
	session, err := t.session(c, link, progress)
	if err != nil {
		return err
	}
	show := followShow{call: c, clock: o.clock, device: t.device}
	c.say("listening to the clock on %s; Ctrl-C ends it", o.clock)
	ended, err := session.Follow(ctx, clock, exchange.FollowOptions{
		Wanted: a.wanted, Thru: thru, Updated: show.updated, Said: show.said, Tempo: show.tempo,
	})
	if err == nil || ended.Updates > 0 {
		show.end(ended)
	}
	return err
}

// anchored is a unit, with a head that is to fall on a note of the clock.
type anchored struct {
	call   *call
	unit   preset.Unit
	note   preset.Note
	named  bool // the note was asked for
	head   int
	heads  []int
	prefer arrange.Preference
	device *profiles.Device
}

// anchored finds everything wrong with what is wanted before a port is opened.
func (o *followOptions) anchored(c *call, cmd *cobra.Command, t target, u preset.Unit) (anchored, error) {
	a := anchored{call: c, unit: u, named: o.song.note != "", heads: o.heads, prefer: arrange.Preference(o.prefer), device: t.device}
	if o.prefer != "" && !slices.Contains(preferences(), o.prefer) {
		return a, misuse(cmd, "--prefer %s: there are %s", o.prefer, strings.Join(preferences(), ", "))
	}
	if _, err := u.Pattern(o.heads...); err != nil {
		return a, misused(err)
	}
	song := o.song
	if !a.named {
		song.note = preset.CommonNotes()[0].String() // any: only the head counts
	}
	var err error
	a.note, a.head, err = song.anchor(cmd, u)
	return a, err
}

// wanted works out what is to sound at the first tempo.
func (a anchored) wanted(tempo preset.BPM) (exchange.FollowWanted, error) {
	none := exchange.FollowWanted{}
	if !a.named {
		h, _ := a.unit.Head(a.head)
		a.note, _ = preset.NearestNote(h.Delay, tempo, preset.CommonNotes())
	}
	r, err := preset.Retime(a.unit, tempo, a.note, a.head)
	if err != nil {
		return none, err
	}
	pattern, err := r.Unit.Pattern(a.heads...)
	if err != nil {
		return none, err
	}
	made, err := arrange.ArrangeFor(pattern, a.device, a.prefer)
	if err != nil {
		return none, fmt.Errorf("unit %q on device %q: %w", a.unit.Name, a.device.Name, err)
	}
	for _, w := range made.Warnings {
		a.call.warn(w)
	}
	a.call.say("%.1f BPM: head %d on %s, at %.4g of the speed it was measured at", float64(tempo), a.head, a.note, r.SpeedRatio)
	w := exchange.FollowWanted{Tempo: tempo, Setting: made.Setting}
	for _, tap := range pattern.Taps {
		w.Heads = append(w.Heads, exchange.HeadTime{Head: tap.Head, Delay: tap.Delay})
	}
	return w, nil
}
