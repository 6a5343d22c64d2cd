package cli

import (
	"context"
	"fmt"

	"echowright/cmd/internal/ui"
	"echowright/preset"
	"echowright/preset/measure/levelsteps"
	"echowright/preset/signals"
)

// steps measures how the record path saturates.
func (o *measureOptions) steps(ctx context.Context, c *call, r *recording, s signals.Signal) error {
	u, head, err := o.added(c)
	if err != nil {
		return err
	}
	take, err := o.hearSignal(ctx, c, r, s)
	if err != nil {
		return err
	}
	m, err := patiently(ctx, c, r.path, func(func(float64)) (levelsteps.Result, error) {
		return levelsteps.Measure(take, s, levelsteps.Options{Tone: head.Tone(), Inverted: head.Inverted})
	})
	if err != nil {
		return err
	}
	unit := ""
	if m.Drive != nil {
		m.Drive = tidied(preset.Unit{Drive: m.Drive}).Drive
		u.Drive, unit = m.Drive, o.keep.into
		if err := o.keepAdded(ctx, c, u); err != nil {
			return err
		}
	}
	if err := o.drawInto(c, stepsLine(r.path, m), stepPanels(m)...); err != nil {
		return err
	}
	c.warnAll(m.Warnings)
	if m.Drive == nil && o.keep.into != "" {
		c.warn(fmt.Sprintf("no drive was found, so unit %q stays as it is", o.keep.into))
	}
	if !c.json {
		c.showLevelSteps(r.path, m)
		return nil
	}
	origin, err := r.origin(c.Now())
	if err != nil {
		return err
	}
	return ui.JSON(c.out, viewSteps(unit, origin, m))
}

func (c *call) showLevelSteps(path string, m levelsteps.Result) {
	c.print("%s", stepsLine(path, m))
	if d := m.Drive; d != nil {
		c.print("drive %s dB, bias %s: the model does what the machine did within %s dB, its harmonics within %s %% of the fundamental",
			ui.Fixed(float64(d.Gain), 1), ui.Fixed(d.Bias, 3), ui.Fixed(float64(m.Fit.Level), 2), ui.Fixed(float64(m.Fit.Harmonics), 2))
	}
	c.print("loudest step: even harmonics %s dB to the odd ones, upper peak %s dB to the lower",
		ui.Signed(float64(m.EvenToOdd), 1), ui.Signed(float64(m.AboveToBelow), 1))
	c.print("level in from the %s", m.From)
	c.print("")
	t := ui.Table{Titles: []string{">in dBFS", ">out dBFS", ">gain dB", ">2nd %", ">3rd %", ">4th %", ">5th %", ">all %"}}
	for _, s := range m.Steps {
		row := []any{ui.Fixed(float64(s.In), 1), ui.Fixed(float64(s.Out), 1), ui.Signed(float64(s.Gain), 2)}
		for _, h := range s.Harmonics {
			row = append(row, ui.Fixed(float64(h), 2))
		}
		t.Add(append(row, ui.Fixed(float64(s.THD), 2))...)
	}
	c.printTable(t)
	if m.Loop != nil {
		c.printDecay(*m.Loop)
	}
}

// shownTurns is how many turns of each step are shown: what a driven machine does
// differently it does at first.
const shownTurns = 4

// printDecay shows how the echoes of soft and of hard bursts decay.
func (c *call) printDecay(l levelsteps.Loop) {
	c.print("")
	c.print("decay of the echoes, %s ms from one to the next: a soft one loses %s dB a turn",
		ui.Fixed(float64(l.Delay), 0), ui.PlusMinus(float64(-l.Gain), float64(l.GainSD), 2))
	t := ui.Table{Titles: []string{">step", ">goes round dBFS", ">1st turn dB", ">2nd", ">3rd", ">4th"}}
	for i := 0; i < len(l.Turns); {
		step := l.Turns[i].Step
		row := []any{step, ui.Fixed(float64(l.Turns[i].Level), 1)}
		for ; i < len(l.Turns) && l.Turns[i].Step == step; i++ {
			if l.Turns[i].Number <= shownTurns {
				row = append(row, ui.Signed(float64(l.Turns[i].Gain), 2))
			}
		}
		t.Add(row...)
	}
	c.printTable(t)
}

// stepsLine is what was found in a sentence.
func stepsLine(path string, m levelsteps.Result) string {
	bent := "no step is compressed by 1 dB"
	if m.OneDB != nil {
		bent = fmt.Sprintf("1 dB less from %s dBFS on", ui.Fixed(float64(*m.OneDB), 1))
	}
	return fmt.Sprintf("%s: gain %s dB for soft sounds, %s", path, ui.Signed(float64(m.Gain), 1), bent)
}

// stepsView is what scripts get of level steps.
type stepsView struct {
	Unit     string        `json:"unit,omitempty"` // to which the drive was added
	Origin   originView    `json:"origin"`
	Drive    *preset.Drive `json:"drive,omitempty"`
	Steps    stepsFigures  `json:"steps"`
	Warnings []string      `json:"warnings"`
}

type stepsFigures struct {
	From         levelsteps.Source `json:"level_in_from"`
	Delay        preset.Millis     `json:"delay_ms,omitempty"`
	Gain         preset.Decibels   `json:"gain_db"`
	OneDB        *preset.Decibels  `json:"compression_dbfs,omitempty"`
	EvenToOdd    preset.Decibels   `json:"even_to_odd_db"`
	AboveToBelow preset.Decibels   `json:"above_to_below_db"`
	Fit          *levelsteps.Fit   `json:"fit,omitempty"`
	Loop         *levelsteps.Loop  `json:"loop,omitempty"`
	Steps        []levelsteps.Step `json:"step"`
}

func viewSteps(unit string, origin originView, m levelsteps.Result) stepsView {
	return stepsView{Unit: unit, Origin: origin, Drive: m.Drive, Warnings: warningWords(m.Warnings), Steps: stepsFigures{
		From: m.From, Delay: m.Delay, Gain: m.Gain, OneDB: m.OneDB,
		EvenToOdd: m.EvenToOdd, AboveToBelow: m.AboveToBelow, Fit: m.Fit, Loop: m.Loop, Steps: m.Steps,
	}}
}
