package cli

import (
	"fmt"

	"github.com/spf13/cobra"

	"echowright/cmd/internal/ui"
	"echowright/preset"
)

type retimeOptions struct {
	song songFlags
	mode string
	keep keepFlags
}

func newRetimeCommand(c *call) *cobra.Command {
	var o retimeOptions
	cmd := &cobra.Command{
		Use:   "retime UNIT",
		Short: "Rescale a unit's delays to the tempo of a song",
		Long: `Let the unit run faster or slower, as if its motor did, until a head falls on a
note value at the tempo. All delays scale together, and with them tone and wow.`,
		Example:           "  echowright retime saltmarsh-drum-1 --bpm 132 --note 1/8. --head 3\n  echowright retime saltmarsh-drum-1 --bpm 96 --note 1/4 --into saltmarsh-at-96",
		Args:              takes("UNIT"),
		ValidArgsFunction: c.completeUnit,
		RunE: func(cmd *cobra.Command, args []string) error {
			return runRetime(c, cmd, args[0], o)
		},
	}
	o.song.add(cmd)
	o.keep.add(cmd)
	cmd.Flags().StringVar(&o.mode, "mode", "speed", "how the delays follow: speed")
	return cmd
}

func runRetime(c *call, cmd *cobra.Command, name string, o retimeOptions) error {
	if o.mode != "speed" {
		return misuse(cmd, "--mode %q: there is speed", o.mode)
	}
	if err := o.keep.check(c, cmd); err != nil {
		return err
	}
	u, err := c.unit(name)
	if err != nil {
		return err
	}
	r, err := o.song.retimed(cmd, u)
	if err != nil {
		return err
	}
	if err := o.keep.unit(cmd.Context(), c, tidied(r.Unit)); err != nil {
		return err
	}
	if c.json {
		return ui.JSON(c.out, retimeView{Name: r.Unit.Name, SpeedRatio: r.SpeedRatio, Heads: r.Heads})
	}
	c.showRetimed(r, preset.BPM(o.song.bpm))
	return nil
}

type retimeView struct {
	Name       string               `json:"name"`
	SpeedRatio float64              `json:"speed_ratio"`
	Heads      []preset.RetimedHead `json:"head"`
}

func (c *call) showRetimed(r preset.Retimed, tempo preset.BPM) {
	c.print("%s at %v: running at %.4f of the measured speed (%s %%)",
		r.Unit.Name, tempo, r.SpeedRatio, ui.Signed(100*(r.SpeedRatio-1), 2))
	t := ui.Table{Titles: []string{">head", ">delay ms", "note", ">off ms", ">just noticeable ms", ""}}
	for _, h := range r.Heads {
		jnd := preset.TimingJND(h.Delay)
		t.Add(h.Head, ui.Fixed(float64(h.Delay), 2), h.Note, ui.Signed(float64(h.Off), 2), ui.Fixed(float64(jnd), 1), heard(h.Off, jnd))
	}
	t.Print(c.out)
}

// heard is how a shift sounds beside what can just be noticed.
func heard(off, jnd preset.Millis) string {
	switch off = max(off, -off); {
	case off == 0:
		return "on the note"
	case off <= jnd:
		return "sounds on the note"
	}
	return fmt.Sprintf("beside the note, %.1f times what can be noticed", float64(off/jnd))
}
