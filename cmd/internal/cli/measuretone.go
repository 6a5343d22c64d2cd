package cli

import (
	"context"
	"fmt"

	"echowright/cmd/internal/ui"
	"echowright/preset"
	"echowright/preset/measure/steadytone"
	"echowright/preset/picture"
	"echowright/preset/signals"
)

// tone measures speed, wow and flutter, block by block: a tone may be long.
func (o *measureOptions) tone(ctx context.Context, c *call, r *recording, s signals.Signal) error {
	if err := o.inside(r); err != nil {
		return err
	}
	u, head, err := o.added(c)
	if err != nil {
		return err
	}
	through := preset.Millis(o.through)
	if head.Head > 0 {
		through = head.Delay
	}
	if through == 0 {
		c.say("the tone is taken to come from another recording, such as a test tape; " +
			"if it went in and came out in one pass, say by which head with --heads and --into, or --through")
	}
	channel, err := o.wet(ctx, c, r, r.Frames)
	if err != nil {
		return err
	}
	also := func([]float64) {}
	var curve *picture.SpeedCurve
	if o.plot != "" {
		if curve, err = picture.NewSpeedCurve(r.Rate, s.Tone.Frequency); err != nil {
			return misused(fmt.Errorf("--plot: %w", err))
		}
		also = curve.Add
	}
	m, err := c.meter(ctx, r, channel, steadytone.Options{Rate: r.Rate, Nominal: s.Tone.Frequency, Through: through}, also)
	if err != nil {
		return err
	}
	m.Motion = *tidied(preset.Unit{Motion: &m.Motion}).Motion
	if o.keep.into != "" {
		motion := m.Motion
		if motion.SpeedRatio == 0 && u.Motion != nil { // one pass does not show it, but it may be known
			motion.SpeedRatio = u.Motion.SpeedRatio
		}
		u.Motion = &motion
		if err := o.keepAdded(ctx, c, u); err != nil {
			return err
		}
	}
	if curve != nil {
		if err := o.drawInto(c, toneLine(r.path, m, through), tonePanels(curve, m, through)...); err != nil {
			return err
		}
	}
	c.warnAll(m.Warnings)
	if !c.json {
		c.showTone(r.path, m, through)
		return nil
	}
	origin, err := r.origin(c.Now())
	if err != nil {
		return err
	}
	return ui.JSON(c.out, viewTone(o.keep.into, origin, through, m))
}

// meter plays one channel of a recording into a meter, and into what else wants to
// hear it, in flat memory.
func (c *call) meter(ctx context.Context, r *recording, channel int, o steadytone.Options, also func(block []float64)) (steadytone.Result, error) {
	meter, err := steadytone.New(o)
	if err != nil {
		return steadytone.Result{}, aboutTake(r.path, err)
	}
	progress := c.talk.Progress("measuring", c.Now)
	defer progress.End()
	done := 0
	err = r.each(ctx, r.Frames, func(block [][]float64) {
		meter.Add(block[channel])
		also(block[channel])
		done += len(block[channel])
		progress.Set(float64(done) / float64(r.Frames))
	})
	if err != nil {
		return steadytone.Result{}, err
	}
	m, err := meter.Result()
	return m, aboutTake(r.path, err)
}

// toneLine is what was found in a sentence.
func toneLine(path string, m steadytone.Result, through preset.Millis) string {
	speed := fmt.Sprintf("speed %s %% off", ui.Signed(100*(m.SpeedRatio-1), 3))
	if through > 0 {
		speed = fmt.Sprintf("in one pass through a head at %s ms, which hides the speed", ui.Fixed(float64(through), 1))
	}
	return fmt.Sprintf("%s: a tone of %s Hz at %s dBFS for %s s, %s; wow and flutter %s %% (weighted, 2-sigma)",
		path, ui.Fixed(float64(m.Tone), 2), ui.Fixed(float64(m.Level), 1), ui.Fixed(m.Measured, 1), speed, ui.Fixed(float64(m.Weighted.TwoSigma), 3))
}

func (c *call) showTone(path string, m steadytone.Result, through preset.Millis) {
	c.print("%s", toneLine(path, m, through))
	c.print("")
	t := ui.Table{Titles: []string{"deviation of speed", ">peak %", ">RMS %", ">2-sigma %"}}
	t.Add("weighted (AES6, IEC 60386)", percent(m.Weighted.Peak), percent(m.Weighted.RMS), percent(m.Weighted.TwoSigma))
	t.Add("unweighted (0.2 to 200 Hz)", percent(m.Unweighted.Peak), percent(m.Unweighted.RMS), "")
	c.printTable(t)
	c.print("")
	if len(m.Rates) == 0 {
		c.print("no steady rate stands out of it")
		return
	}
	t = ui.Table{Titles: []string{">rate Hz", ">in the take %", ">of the machine %", "likely cause"}}
	for _, rate := range m.Rates {
		machine := percent(rate.Carrier)
		if rate.Carrier == 0 {
			machine = "hidden"
		}
		t.Add(ui.Fixed(float64(rate.Hz), 2), percent(rate.Peak), machine, rate.Cause)
	}
	c.printTable(t)
}

func percent(p preset.Percent) string { return ui.Fixed(float64(p), 3) }

// toneView is what scripts get of a steady tone.
type toneView struct {
	Unit     string        `json:"unit,omitempty"` // to which the motion was added
	Origin   originView    `json:"origin"`
	Motion   preset.Motion `json:"motion"`
	Tone     toneFigures   `json:"tone"`
	Warnings []string      `json:"warnings"`
}

type toneFigures struct {
	Tone       preset.Hertz       `json:"tone_hz"`
	SpeedRatio *float64           `json:"speed_ratio"` // null where one pass hides it
	Level      preset.Decibels    `json:"level_dbfs"`
	Measured   float64            `json:"measured_s"`
	Through    preset.Millis      `json:"through_ms,omitempty"`
	Weighted   steadytone.Figures `json:"weighted"`
	Unweighted steadytone.Figures `json:"unweighted"`
	Rates      []steadytone.Rate  `json:"rate"`
}

func viewTone(unit string, origin originView, through preset.Millis, m steadytone.Result) toneView {
	v := toneView{Unit: unit, Origin: origin, Motion: m.Motion, Warnings: warningWords(m.Warnings), Tone: toneFigures{
		Tone: m.Tone, Level: m.Level, Measured: m.Measured, Through: through,
		Weighted: m.Weighted, Unweighted: m.Unweighted, Rates: append([]steadytone.Rate{}, m.Rates...),
	}}
	if through == 0 {
		v.Tone.SpeedRatio = &m.SpeedRatio
	}
	return v
}
