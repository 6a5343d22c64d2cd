package cli

import (
	"fmt"
	"os"
	"path/filepath"
	"strings"

	"github.com/spf13/cobra"

	"echowright/cmd/internal/ui"
	"echowright/library"
	"echowright/library/exchange"
	"echowright/library/wholefile"
)

type songsExportOptions struct {
	rig, device  string
	unit         unitFlags
	out          string
	perSong      bool
	live         bool
	syx          bool
	bars         int
	allowRunaway bool
}

const songsExportLong = `Write the set as a Standard MIDI File, for a sequencer that plays it on stage
without echowright: the tempo of each song, or its own tempo map, a marker with its
title, and the message that calls up its slot. The songs stand one after the other,
each behind one or more bars that lead into it; with --per-song each has a file.

Messages stand in the lead-in, as late as they can: 320 us a byte on the wire and the
silence that the device wants behind each have passed 10 ms before the song's first
bar begins, and no two are on the wire at once. A text in the file tells how long it
takes.

The slots have to hold their songs: songs push sees to that, or --syx, which writes all
of them into a .syx file beside. With --live the file sets every parameter instead, and
slots are left alone; so it is for a device whose slots cannot be reached.`

func newSongsExportCommand(c *call) *cobra.Command {
	var o songsExportOptions
	cmd := &cobra.Command{
		Use:   "export SHEET",
		Short: "Write the set as a MIDI file: tempi, markers, and each song's slot in time",
		Long:  songsExportLong,
		Example: "  echowright songs export saltmarsh-evening.toml --rig stage --out evening.mid --syx\n" +
			"  echowright songs export saltmarsh-evening.toml --device twin --out evening --per-song --live",
		Args:              takes("SHEET"),
		ValidArgsFunction: c.completeSheet,
		RunE:              func(cmd *cobra.Command, args []string) error { return runSongsExport(c, cmd, args[0], o) },
	}
	flags := cmd.Flags()
	flags.StringVar(&o.rig, "rig", "", "`name` of the rig")
	flags.StringVar(&o.device, "device", "", "in place of --rig: `name` or file of the device profile …")
	o.unit.add(cmd, "… and ")
	flags.StringVar(&o.out, "out", "", "`file` to write, ending in .mid; with --per-song a folder that is not there yet")
	flags.BoolVar(&o.perSong, "per-song", false, "a file for each song")
	flags.BoolVar(&o.live, "live", false, "set every parameter, in place of calling up slots")
	flags.BoolVar(&o.syx, "syx", false, "also write all slots into a .syx file beside it")
	flags.IntVar(&o.bars, "bars", 64, "`length` in bars of a song without a tempo map")
	flags.BoolVar(&o.allowRunaway, "allow-runaway", false, "also export settings whose loop grows with every turn: turn everything down first")
	_ = cmd.RegisterFlagCompletionFunc("device", c.completeDeviceFlag)
	_ = cmd.RegisterFlagCompletionFunc("rig", func(*cobra.Command, []string, string) ([]string, cobra.ShellCompDirective) {
		return c.rigNames(), cobra.ShellCompDirectiveNoFileComp
	})
	return cmd
}

func runSongsExport(c *call, cmd *cobra.Command, name string, o songsExportOptions) error {
	if err := o.check(cmd); err != nil {
		return err
	}
	a, err := o.address(c, cmd)
	if err != nil {
		return err
	}
	if o.syx && !a.device.HasSlots() {
		return misused(fmt.Errorf("--syx: device %q has no slots that can be reached: leave it out", a.device.Name))
	}
	set, err := c.planSheet(cmd.Context(), name, a)
	if err != nil {
		return err
	}
	if err := set.checkMaps(cmd, o.out); err != nil {
		return err
	}
	if err := c.checkExport(set, a, o); err != nil {
		return err
	}
	songs, err := cuedSongs(set, a, o)
	if err != nil {
		return songsWrong(set.sheet, err)
	}
	if songs[0].live && !o.live {
		c.say("the slots of device %q cannot be called up: every parameter is set instead, as with --live", a.device.Name)
	}
	files, err := exportFiles(set.sheet.Name, a, songs, o)
	if err != nil {
		return songsWrong(set.sheet, err)
	}
	if err := c.writeExport(files, o); err != nil {
		return err
	}
	if pause := files[0].pause; pause > 0 {
		c.say("whoever sends it has to leave %s ms behind each message of %s", ui.Fixed(pause.Seconds()*1000, 0), files[0].name)
	}
	return c.showExport(set, songs, files)
}

// check refuses flags that make no sense.
func (o songsExportOptions) check(cmd *cobra.Command) error {
	const mostBars = 9999
	mid := strings.EqualFold(filepath.Ext(o.out), ".mid")
	switch {
	case o.out == "":
		return misuse(cmd, "export: --out is missing: the MIDI file to write, or with --per-song a folder")
	case o.perSong && mid:
		return misuse(cmd, "export: --out %s: with --per-song it is a folder, with a file for each song in it", o.out)
	case !o.perSong && !mid:
		return misuse(cmd, "export: --out %s: the name of a MIDI file ends in .mid; a folder goes with --per-song", o.out)
	case o.bars < 1 || o.bars > mostBars:
		return misuse(cmd, "export: --bars %d: must lie from 1 to %d", o.bars, mostBars)
	}
	return nil
}

// address is that of the device that the files are for; no port is needed.
func (o songsExportOptions) address(c *call, cmd *cobra.Command) (address, error) {
	f := targetFlags{rig: o.rig, unit: o.unit}
	switch {
	case o.rig != "" && o.device != "":
		return address{}, misuse(cmd, "export: --rig says which device already: leave --device out")
	case o.rig != "":
		t, err := f.find(c, cmd)
		return t.address, err
	case o.device == "":
		return address{}, misuse(cmd, "export: which device? Give --rig or --device")
	}
	d, err := c.device(o.device)
	if err != nil {
		return address{}, err
	}
	return f.unit.find(cmd, d, library.Rig{})
}

// checkMaps refuses to write over a tempo map of the set.
func (p *plannedSet) checkMaps(cmd *cobra.Command, out string) error {
	there, err := os.Stat(out)
	if err != nil {
		return nil // nothing to write over
	}
	for _, song := range p.songs {
		if song.tempi == nil {
			continue
		}
		if own, err := os.Stat(song.tempi.path); err == nil && os.SameFile(own, there) {
			return misuse(cmd, "export: --out %s is the tempo map of %q: give the file another name", out, song.Title)
		}
	}
	return nil
}

// checkExport refuses a set with a song that may run away, as a push does, and warns
// of all that is to be minded.
func (c *call) checkExport(set *plannedSet, a address, o songsExportOptions) error {
	var failed failures
	for _, song := range set.songs {
		warn := func(text string) { c.alarm(song.Title + ": " + text) }
		session := exchange.Session{Device: a.device, Unit: a.unit, Warn: warn}
		failed = failed.and(ofSong(song.Title, session.CheckRunaway(song.Slot, song.Setting, o.allowRunaway)))
	}
	set.mindAll(c.warn)
	return failed.err()
}

// writeExport writes the files, each whole or not at all, and a folder with all its
// files or not at all.
func (c *call) writeExport(files []exportFile, o songsExportOptions) error {
	if o.perSong {
		content := map[string][]byte{}
		for _, f := range files {
			content[filepath.Base(f.name)] = f.content
		}
		if err := wholefile.CreateFolder(filepath.Clean(o.out), content, 0o666); err != nil {
			return err
		}
		c.say("written: %s, with %s", o.out, ui.Count(len(files), "file", "files"))
		return nil
	}
	var err error
	for _, f := range files {
		if err == nil {
			err = c.writeOut(f.name, f.content)
		}
	}
	return err
}
