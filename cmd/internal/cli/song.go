package cli

import (
	"fmt"
	"slices"
	"strings"

	"github.com/spf13/cobra"

	"echowright/preset"
)

// The ways in which delays follow a song.
const (
	modeSpeed   = "speed"   // all together, as if the machine ran at another speed
	modeGrid    = "grid"    // each head to its own note value
	modeNearest = "nearest" // not at all: which head lies near to a note
)

// songFlags say which song a unit is to be brought to, and how.
type songFlags struct {
	bpm    float64
	beatMs float64
	note   string
	head   int
	mode   string
	grid   []string
}

// add gives a command the flags of a song, with the modes it can do.
func (f *songFlags) add(cmd *cobra.Command) { f.addFor(cmd, modeSpeed, modeGrid) }

func (f *songFlags) addFor(cmd *cobra.Command, modes ...string) {
	flags := cmd.Flags()
	flags.Float64Var(&f.bpm, "bpm", 0, "`tempo` of the song in beats (quarter notes) a minute")
	flags.Float64Var(&f.beatMs, "beat-ms", 0, "the tempo as `milliseconds` a beat (quarter note), in place of --bpm")
	flags.StringVar(&f.note, "note", "", "note `value` that the head is to fall on: 1/4, 1/8. (dotted), 1/8t (triplet)")
	flags.IntVar(&f.head, "head", 0, "`number` of the head that is to fall on it (default: the last one)")
	flags.StringVar(&f.mode, "mode", modeSpeed, "`how` the delays follow: "+strings.Join(modes, ", "))
	flags.StringSliceVar(&f.grid, "grid", nil, "note `values` that heads may be moved to, such as 1/16,1/8t,1/8 (default: all from 1/1 to 1/32t); stands for --mode grid")
	// These fail only for flags that are not there.
	_ = cmd.RegisterFlagCompletionFunc("note", fixedCompletion(noteNames()...))
	_ = cmd.RegisterFlagCompletionFunc("grid", fixedCompletion(noteNames()...))
	_ = cmd.RegisterFlagCompletionFunc("mode", fixedCompletion(modes...))
}

func noteNames() []string {
	var names []string
	for _, n := range preset.CommonNotes() {
		names = append(names, n.String())
	}
	return names
}

// songFlagNames are all flags that only make sense with a song.
var songFlagNames = [...]string{"bpm", "beat-ms", "note", "head", "mode", "grid"}

// anyChanged is the first of the flags that was given, "" if none was.
func anyChanged(cmd *cobra.Command, names ...string) string {
	for _, name := range names {
		if cmd.Flags().Changed(name) {
			return name
		}
	}
	return ""
}

// retime brings the unit to the song; without a song it stays as it is.
func (f *songFlags) retime(cmd *cobra.Command, u preset.Unit) (preset.Unit, error) {
	if anyChanged(cmd, songFlagNames[:]...) == "" {
		return u, nil
	}
	mode, err := f.chosenMode(cmd, modeSpeed, modeGrid)
	if err != nil {
		return preset.Unit{}, err
	}
	tempo, err := f.tempo(cmd)
	if err != nil {
		return preset.Unit{}, err
	}
	r, err := f.brought(cmd, u, mode, tempo)
	return r.Unit, err
}

// chosenMode is the mode that is meant; naming a grid chooses it.
func (f *songFlags) chosenMode(cmd *cobra.Command, modes ...string) (string, error) {
	mode := f.mode
	if !cmd.Flags().Changed("mode") && cmd.Flags().Changed("grid") {
		mode = modeGrid
	}
	if !slices.Contains(modes, mode) {
		return "", misuse(cmd, "--mode %q: there are %s", mode, strings.Join(modes, ", "))
	}
	return mode, nil
}

// tempo is the song's, given one way or the other.
func (f *songFlags) tempo(cmd *cobra.Command) (preset.BPM, error) {
	tempo := preset.BPM(f.bpm)
	switch bpm, beat := cmd.Flags().Changed("bpm"), cmd.Flags().Changed("beat-ms"); {
	case bpm && beat:
		return 0, misuse(cmd, "%s: --bpm and --beat-ms are the same tempo told twice: give one of them", cmd.Name())
	case beat:
		tempo = preset.TempoOf(preset.Millis(f.beatMs))
		if err := preset.CheckTempo(tempo); err != nil {
			return 0, misused(fmt.Errorf("--beat-ms %v: a beat lasts from %v to %v", f.beatMs,
				preset.Millis(60_000/preset.MaxTempo), preset.Millis(60_000/preset.MinTempo)))
		}
	case !bpm:
		return 0, misuse(cmd, "%s: --bpm is missing: the tempo of the song (or --beat-ms, how long a beat lasts)", cmd.Name())
	}
	if err := preset.CheckTempo(tempo); err != nil {
		return 0, misused(fmt.Errorf("--bpm: %w", err))
	}
	return tempo, nil
}

// brought is the unit brought to the tempo by its speed or onto a grid.
func (f *songFlags) brought(cmd *cobra.Command, u preset.Unit, mode string, tempo preset.BPM) (preset.Retimed, error) {
	if mode == modeGrid {
		if name := anyChanged(cmd, "note", "head"); name != "" {
			return preset.Retimed{}, misuse(cmd, "--%s is for --mode speed: a grid moves every head, to the notes of --grid", name)
		}
		notes, err := f.notes()
		if err != nil {
			return preset.Retimed{}, err
		}
		return preset.Grid(u, tempo, notes)
	}
	if cmd.Flags().Changed("grid") {
		return preset.Retimed{}, misuse(cmd, "--grid is for --mode grid: with --mode speed all heads move together, one of them onto --note")
	}
	note, head, err := f.anchor(cmd, u)
	if err != nil {
		return preset.Retimed{}, err
	}
	return preset.Retime(u, tempo, note, head)
}

// anchor is the note, and the head that is to fall on it.
func (f *songFlags) anchor(cmd *cobra.Command, u preset.Unit) (preset.Note, int, error) {
	if f.note == "" {
		return preset.Note{}, 0, misuse(cmd, "%s: --note is missing: the note value that a head is to fall on, such as 1/8.", cmd.Name())
	}
	note, err := preset.ParseNote(f.note)
	if err != nil {
		return preset.Note{}, 0, misused(err)
	}
	head := f.head
	if !cmd.Flags().Changed("head") {
		head = lastHead(u)
	}
	if _, ok := u.Head(head); !ok {
		return preset.Note{}, 0, misused(fmt.Errorf("--head %d: unit %q has heads %v: name one of them", head, u.Name, u.HeadNumbers()))
	}
	return note, head, nil
}

// notes are those of --grid, else all common ones.
func (f *songFlags) notes() ([]preset.Note, error) {
	if f.grid == nil {
		return preset.CommonNotes(), nil
	}
	notes, err := preset.ParseNotes(f.grid)
	if err != nil {
		return nil, misused(fmt.Errorf("--grid: %w", err))
	}
	return notes, nil
}

// lastHead is the head with the longest delay.
func lastHead(u preset.Unit) int {
	last := u.Heads[0]
	for _, h := range u.Heads {
		if h.Delay > last.Delay {
			last = h
		}
	}
	return last.Head
}
