package cli

import (
	"context"

	"github.com/spf13/cobra"

	"echowright/cmd/internal/ui"
	"echowright/preset"
)

type retimeOptions struct {
	song  songFlags
	tap   bool
	best  string
	mains string
	keep  keepFlags
}

// retimeLong tells with one example what another speed does; a test works its
// figures out anew.
const retimeLong = `Bring a unit to the tempo of a song: --bpm, --beat-ms, or --tap it in.

--mode speed lets it run faster or slower, as if its motor did, until a head
falls on a note. --mode grid moves every head to its own nearest note value and
leaves all else. --mode nearest alters nothing and tells which head lies nearest
to a note; --best 90..140 tells which tempi suit the unit as it is. --mains 50to60
is what a synchronous motor does on the other mains, before any of these.

Each time off the note stands beside what can just be noticed: 6 ms, or 2.5 % of
the delay where that is more (Friberg & Sundberg 1995).

What another speed does, by an example: heads at 100, 200 and 300 ms, a high cut
at 3000 Hz, wow of 0.2 % at 1 Hz. At 120 BPM a dotted eighth lasts 375 ms; for
the last head to fall on it the machine runs at 0.8 of its speed.
  delays   100, 200, 300 ms become 125, 250, 375 ms: the rhythm of the heads stays
  tone     the high cut comes down from 3000 to 2400 Hz: what is written on the
           tape stays as long, and passes the head slower. The echo gets duller.
  wow      still 0.2 % of the speed, but at 0.8 Hz instead of 1 Hz: what goes
           round goes round slower. The pitch of the last echo wavers as deep as
           before, its delay by 0.644 ms instead of 0.515 ms.
  levels   stay, and so does the loop: amplifiers set them.
Up to 1.2 times faster or slower is what the other mains does to a synchronous
motor, up to 2 times another pulley or motor; beyond that no motor would follow,
and a warning says so.`

func newRetimeCommand(c *call) *cobra.Command {
	var o retimeOptions
	cmd := &cobra.Command{
		Use:   "retime UNIT",
		Short: "Bring a unit's delays to the tempo of a song",
		Long:  retimeLong,
		Example: "  echowright retime saltmarsh-drum-1 --bpm 132 --note 1/8. --head 3\n" +
			"  echowright retime saltmarsh-drum-1 --tap --note 1/4 --into saltmarsh-tapped\n" +
			"  echowright retime saltmarsh-drum-1 --bpm 132 --grid 1/16,1/8t,1/8\n" +
			"  echowright retime saltmarsh-drum-1 --best 90..140",
		Args:              takes("UNIT"),
		ValidArgsFunction: c.completeUnit,
		RunE: func(cmd *cobra.Command, args []string) error {
			return runRetime(c, cmd, args[0], o)
		},
	}
	o.song.addFor(cmd, modeSpeed, modeGrid, modeNearest)
	o.keep.add(cmd)
	flags := cmd.Flags()
	flags.BoolVar(&o.tap, "tap", false, "tap the tempo on any key, in place of --bpm; q, Esc, Ctrl-D or a pause ends it")
	flags.StringVar(&o.best, "best", "", "the `tempi` of a range, such as 90..140, that suit the unit as it is")
	flags.StringVar(&o.mains, "mains", "", "`move` a machine with a synchronous motor to the other mains first: 50to60 or 60to50")
	_ = cmd.RegisterFlagCompletionFunc("mains", fixedCompletion("50to60", "60to50"))
	return cmd
}

func runRetime(c *call, cmd *cobra.Command, name string, o retimeOptions) error {
	mode, err := o.chosen(cmd)
	if err != nil {
		return err
	}
	if err := o.keep.check(c, cmd); err != nil {
		return err
	}
	u, err := c.unit(name)
	if err != nil {
		return err
	}
	v := retimeView{Name: u.Name, Mode: mode, SpeedRatio: 1, Warnings: []string{}}
	if o.mains != "" {
		m, err := preset.ParseMains(o.mains)
		if err != nil {
			return misused(err)
		}
		v.take(m.Move(u))
		v.mains, u = &m, v.unit
	}
	switch {
	case o.best != "":
		return runBest(c, o, u)
	case mode != "":
		if err := o.follow(c, cmd, &v, u); err != nil {
			return err
		}
	}
	v.judge()
	if err := o.keep.unit(cmd.Context(), c, tidied(v.unit)); err != nil {
		return err
	}
	return c.showRetimed(v)
}

// chosen is the mode, "" where no song is wanted; or what makes no sense together.
func (o *retimeOptions) chosen(cmd *cobra.Command) (string, error) {
	if o.best != "" {
		if name := anyChanged(cmd, "bpm", "beat-ms", "tap", "note", "head", "mode", "into", "out"); name != "" {
			return "", misuse(cmd, "--best and --%s: --best looks for tempi and alters nothing; it goes with --grid and --mains alone", name)
		}
		return "", nil
	}
	if o.mains != "" && !o.tap && anyChanged(cmd, songFlagNames[:]...) == "" {
		return "", nil
	}
	if name := anyChanged(cmd, "bpm", "beat-ms"); o.tap && name != "" {
		return "", misuse(cmd, "--tap and --%s: the tempo is told twice: give one of them", name)
	}
	mode, err := o.song.chosenMode(cmd, modeSpeed, modeGrid, modeNearest)
	if err != nil {
		return "", err
	}
	if name := anyChanged(cmd, "into", "out", "head"); mode == modeNearest && name != "" {
		return "", misuse(cmd, "--mode nearest and --%s: it looks at all heads and alters nothing: leave one of them out", name)
	}
	if mode == modeSpeed && o.mains != "" {
		return "", misuse(cmd, "--mains and --mode speed both set the speed: give one of them, or --mode grid")
	}
	if mode == modeNearest && cmd.Flags().Changed("note") && cmd.Flags().Changed("grid") {
		return "", misuse(cmd, "--note and --grid: one note value or a set of them: give one")
	}
	return mode, nil
}

// follow brings the unit to the song's tempo.
func (o *retimeOptions) follow(c *call, cmd *cobra.Command, v *retimeView, u preset.Unit) error {
	if err := o.complete(cmd, v.Mode, u); err != nil {
		return err
	}
	tempo, err := o.tempo(cmd.Context(), c, cmd, v)
	if err != nil {
		return err
	}
	v.Tempo = &tempo
	r := preset.Retimed{}
	if v.Mode == modeNearest {
		notes, err := o.wantedNotes()
		if err != nil {
			return err
		}
		r, err = preset.Unaltered(u, tempo, notes)
		if err != nil {
			return err
		}
		nearest := r.Nearest().Head
		v.Nearest = &nearest
	} else if r, err = o.song.brought(cmd, u, v.Mode, tempo); err != nil {
		return err
	}
	v.take(r)
	return nil
}

// complete refuses what would be found wrong after the tapping only.
func (o *retimeOptions) complete(cmd *cobra.Command, mode string, u preset.Unit) error {
	if !o.tap {
		return nil
	}
	const some preset.BPM = 120
	var err error
	if mode == modeNearest {
		_, err = o.wantedNotes()
	} else {
		_, err = o.song.brought(cmd, u, mode, some)
	}
	return err
}

// wantedNotes are the note values that a head may lie near to.
func (o *retimeOptions) wantedNotes() ([]preset.Note, error) {
	if o.song.note == "" {
		return o.song.notes()
	}
	note, err := preset.ParseNote(o.song.note)
	return []preset.Note{note}, misused(err)
}

func (o *retimeOptions) tempo(ctx context.Context, c *call, cmd *cobra.Command, v *retimeView) (preset.BPM, error) {
	if !o.tap {
		return o.song.tempo(cmd)
	}
	tapped, err := c.tapped(ctx)
	if err != nil {
		return 0, err
	}
	v.Tapped = &tapped
	return tapped.Tempo, nil
}

// runBest tells which tempi suit a unit as it is.
func runBest(c *call, o retimeOptions, u preset.Unit) error {
	tempi, err := preset.ParseTempoRange(o.best)
	if err != nil {
		return misused(err)
	}
	notes, err := o.song.notes()
	if err != nil {
		return err
	}
	const few = 6
	best, err := preset.BestTempi(u, tempi, notes, few)
	if err != nil {
		return err
	}
	v := bestView{Name: u.Name, Measure: bestMeasure}
	for _, s := range best {
		v.Tempi = append(v.Tempi, suitedView{Tempo: s.Tempo, Misfit: s.Misfit, Heads: views(s.Heads)})
	}
	if c.json {
		return ui.JSON(c.out, v)
	}
	c.showBest(v, tempi)
	return nil
}
