package cli

import (
	"fmt"

	"github.com/spf13/cobra"

	"echowright/preset"
)

// songFlags say which song a unit is to be brought to.
type songFlags struct {
	bpm  float64
	note string
	head int
}

func (f *songFlags) add(cmd *cobra.Command) {
	flags := cmd.Flags()
	flags.Float64Var(&f.bpm, "bpm", 0, "`tempo` of the song in beats (quarter notes) a minute")
	flags.StringVar(&f.note, "note", "", "note `value` that the head is to fall on: 1/4, 1/8. (dotted), 1/8t (triplet)")
	flags.IntVar(&f.head, "head", 0, "`number` of the head that is to fall on it (default: the last one)")
	_ = cmd.RegisterFlagCompletionFunc("note", fixedCompletion(noteNames()...)) // fails only for a flag that is not there
}

func noteNames() []string {
	var names []string
	for _, n := range preset.CommonNotes() {
		names = append(names, n.String())
	}
	return names
}

// given reports whether any of the flags was.
func (f *songFlags) given() bool { return f.bpm != 0 || f.note != "" || f.head != 0 }

// retime brings the unit to the song; without a song it stays as it is.
func (f *songFlags) retime(cmd *cobra.Command, u preset.Unit) (preset.Unit, error) {
	if !f.given() && !cmd.Flags().Changed("bpm") {
		return u, nil
	}
	r, err := f.retimed(cmd, u)
	return r.Unit, err
}

func (f *songFlags) retimed(cmd *cobra.Command, u preset.Unit) (preset.Retimed, error) {
	if !cmd.Flags().Changed("bpm") {
		return preset.Retimed{}, misuse(cmd, "%s: --bpm is missing: the tempo of the song", cmd.Name())
	}
	if err := preset.CheckTempo(preset.BPM(f.bpm)); err != nil {
		return preset.Retimed{}, misused(err)
	}
	if f.note == "" {
		return preset.Retimed{}, misuse(cmd, "%s: --note is missing: the note value that a head is to fall on, such as 1/8.", cmd.Name())
	}
	note, err := preset.ParseNote(f.note)
	if err != nil {
		return preset.Retimed{}, misused(err)
	}
	head := f.head
	if !cmd.Flags().Changed("head") {
		head = lastHead(u)
	}
	if _, ok := u.Head(head); !ok {
		return preset.Retimed{}, misused(fmt.Errorf("--head %d: unit %q has heads %v: name one of them", head, u.Name, u.HeadNumbers()))
	}
	return preset.Retime(u, preset.BPM(f.bpm), note, head)
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
