package cli

import (
	"context"
	"fmt"
	"runtime"
	"sync"

	"github.com/spf13/cobra"

	"echowright/library"
	"echowright/library/exchange"
	"echowright/midi"
	"echowright/profiles"
	"echowright/profiles/arrange"
)

type songsPlanOptions struct {
	target targetFlags
	look   bool
}

const songsPlanLong = `Work out the setting of every song of a sheet and show the whole set in a table: at
which of its measured speeds the unit runs, how far its worst head is off, what a
device cannot do and what it could do instead. Nothing is sent.

A head is off its nearest note value, or, in mode "grid", off where it was
measured; beside it stands what can just be noticed at its delay: 6 ms, or 2.5 % of
it where that is more (Friberg & Sundberg 1995).

With --look the slots are read, and the table says what they hold now.`

func newSongsPlanCommand(c *call) *cobra.Command {
	var o songsPlanOptions
	cmd := &cobra.Command{
		Use:   "plan SHEET",
		Short: "Show the whole set on a device: speeds, shifts, slots, and what cannot be had",
		Long:  songsPlanLong,
		Example: "  echowright songs plan saltmarsh-evening.toml --device five-line\n" +
			"  echowright songs plan saltmarsh-evening.toml --rig stage --look",
		Args:              takes("SHEET"),
		ValidArgsFunction: c.completeSheet,
		RunE:              func(cmd *cobra.Command, args []string) error { return runSongsPlan(c, cmd, args[0], o) },
	}
	o.target.add(c, cmd)
	cmd.Flags().BoolVar(&o.look, "look", false, "read the slots and show what they hold now")
	return cmd
}

func runSongsPlan(c *call, cmd *cobra.Command, name string, o songsPlanOptions) error {
	t, err := o.findTarget(c, cmd)
	if err != nil {
		return err
	}
	set, err := c.planSet(cmd.Context(), name, t.address)
	if err != nil {
		return err
	}
	if o.look {
		err := t.talk(cmd.Context(), c, "read", func(s *exchange.Session) error { return set.look(cmd.Context(), s) })
		if err != nil {
			return err
		}
	}
	return c.showSet(set)
}

// findTarget is the device that is meant; only to look at it a port is needed.
func (o songsPlanOptions) findTarget(c *call, cmd *cobra.Command) (target, error) {
	f := o.target
	if name := anyChanged(cmd, "port", "trace"); name != "" && !o.look {
		return target{}, misuse(cmd, "plan: --%s is for --look: without that nothing is sent", name)
	}
	if o.look || f.rig != "" {
		t, err := f.find(c, cmd)
		if err == nil && o.look && !t.device.Readable() {
			return t, misuse(cmd, "plan: --look: device %q never says what its slots hold: leave it out", t.device.Name)
		}
		return t, err
	}
	if f.device == "" {
		return target{}, misuse(cmd, "plan: which device? Give --rig or --device")
	}
	d, err := c.device(f.device)
	if err != nil {
		return target{}, err
	}
	a, err := f.unit.find(cmd, d, library.Rig{})
	return target{address: a}, err
}

// A plannedSet is a set list on a device: inert.
type plannedSet struct {
	sheet  library.SongSheet
	device *profiles.Device
	songs  []plannedSong
	held   map[int]exchange.Slot // by slot, what was read; nil where nothing was
}

// A plannedSong is a song with the setting that comes nearest to its echoes.
type plannedSong struct {
	broughtSong
	arrange.Result
	steps  []midi.Step // that write it
	beyond []beyond    // delays because of which not all can be had
	offer  *offer      // what could be had instead, nil for nothing
}

// planSet plans a sheet on a device. The error tells all that is wrong with it.
func (c *call) planSet(ctx context.Context, name string, a address) (*plannedSet, error) {
	if !a.device.HasSlots() {
		return nil, misused(fmt.Errorf("device %q has no slots that can be reached, and a set list needs one for each song", a.device.Name))
	}
	return c.planSheet(ctx, name, a)
}

// planSheet is planSet for a device without slots too.
func (c *call) planSheet(ctx context.Context, name string, a address) (*plannedSet, error) {
	sheet, folder, err := c.songSheet(name)
	if err != nil {
		return nil, err
	}
	songs, err := c.songs(sheet, folder)
	if err != nil {
		return nil, songsWrong(sheet, shelved(name, err))
	}
	brought, err := bringAll(songs)
	if err != nil {
		return nil, songsWrong(sheet, err)
	}
	planned, err := planAll(ctx, brought, a)
	if err != nil {
		return nil, songsWrong(sheet, err)
	}
	return &plannedSet{sheet: sheet, device: a.device, songs: planned}, nil
}

func songsWrong(s library.SongSheet, err error) error {
	return fmt.Errorf("song sheet %q cannot be used as it is:\n%w", s.Name, err)
}

// planAll plans songs, as many at a time as there are processors.
func planAll(ctx context.Context, songs []broughtSong, a address) ([]plannedSong, error) {
	all, errs := make([]plannedSong, len(songs)), make([]error, len(songs))
	next := make(chan int)
	var working sync.WaitGroup
	for range min(runtime.GOMAXPROCS(0), len(songs)) {
		working.Go(func() {
			for i := range next {
				all[i], errs[i] = planSong(songs[i], a)
			}
		})
	}
	for i := range songs {
		if ctx.Err() != nil {
			break
		}
		next <- i
	}
	close(next)
	working.Wait()
	if err := ctx.Err(); err != nil {
		return nil, err
	}
	var failed failures
	for i, err := range errs {
		failed = failed.and(ofSong(songs[i].Title, err))
	}
	return all, failed.err()
}

// planSong is the setting for a song, named after it, and what puts it into its slot
// where there is one.
func planSong(b broughtSong, a address) (p plannedSong, err error) {
	p.broughtSong = b
	if a.device.HasSlots() {
		err = a.device.CheckSlot(b.Slot)
	}
	if err != nil {
		return p, err
	}
	if p.Result, err = arrange.Arrange(b.pattern, a.device); err != nil {
		return p, fmt.Errorf("unit %q on device %q: %w", b.unit.Name, a.device.Name, err)
	}
	p.Setting.Name = a.device.FitName(b.Title)
	if a.device.HasSlots() {
		p.steps, err = a.device.PushSteps(a.unit, b.Slot, p.Setting)
	}
	if err != nil {
		return p, err
	}
	all := beyondReach(b.pattern, a.device)
	if lacking(p.Result).any() || loopBeyond(b.pattern, all) {
		p.beyond = all
	}
	if len(p.beyond) > 0 {
		p.offer = offerFor(p, a.device)
	}
	return p, nil
}

// look reads what the slots of the set hold now.
func (p *plannedSet) look(ctx context.Context, s *exchange.Session) error {
	p.held = map[int]exchange.Slot{}
	for i, song := range p.songs {
		slot, _, err := s.ReadSlot(ctx, song.Slot)
		if err != nil {
			return err
		}
		p.held[song.Slot] = slot
		s.Progress(i+1, len(p.songs))
	}
	return nil
}

// completeSheet offers the song sheets of the library as the first argument; a file
// does as well.
func (c *call) completeSheet(_ *cobra.Command, args []string, _ string) ([]string, cobra.ShellCompDirective) {
	shelf, err := c.library()
	if err != nil {
		return nil, cobra.ShellCompDirectiveDefault
	}
	names, _ := shelf.Songs.Names()
	return firstOnly(args, names...), cobra.ShellCompDirectiveDefault
}
