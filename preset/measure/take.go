package measure

import (
	"fmt"
	"math"

	"echowright/preset"
)

// A Take is one channel of a recording. Dry is the direct sound if it was
// recorded by itself, sample for sample beside Samples (which then hold the
// machine's output alone); else nil, and Samples hold both.
type Take struct {
	Rate    preset.Hertz
	Samples []float64 // in fractions of full scale
	Dry     []float64
}

// Options of a measurement.
type Options struct {
	// Heads are the numbers of the heads that were on, in order of delay. With
	// none, their number is found, with a warning, and they count from 1.
	Heads []int
	// Progress, if not nil, is told the share that is done, 0 to 1, rising.
	Progress func(done float64)
}

// A Warning says what is doubtful about a measurement and what to do about it.
type Warning struct {
	What string `json:"what"`
	Do   string `json:"do"`
}

func (w Warning) String() string { return w.What + ": " + w.Do }

// An Echo is one echo of the take as the fitted unit makes it.
type Echo struct {
	At      preset.Millis   // after the onset
	SD      preset.Millis   // of the delay, 0 where not known
	Level   preset.Decibels // to the direct sound, at 1 kHz
	LevelSD preset.Decibels // 0 where not known
	Head    int
	Turn    int // how often it went round the loop before
}

// A Note is what one note of the take tells.
type Note struct {
	Onset    preset.Millis // from the start of the take
	Heads    []preset.Head
	Feedback *preset.Feedback
}

// A Result is what a take tells. Unit has neither name, kind nor origin: they
// are the caller's to fill in. The rest is for a picture and for judging.
type Result struct {
	Unit     preset.Unit
	Warnings []Warning
	Onsets   []preset.Millis // of each note that was measured, from the start of the take
	Notes    []Note          // what each of them tells by itself; Unit holds their means
	Note     preset.Millis   // how long the direct sound of a note lasts
	Echoes   []Echo          // down to the noise, by time
	Noise    preset.Decibels // of the take, re full scale (RMS)
	Residual preset.Decibels // what the unit does not explain, re full scale (RMS)
	// Left is the level (RMS, re full scale) of what the unit's echoes leave of
	// the take, a value every LeftStep from the start: the direct sound, then
	// noise. NaN where nothing was fitted.
	Left     []preset.Decibels
	LeftStep preset.Millis
	// Speed is how far the machine's speed lay from its mean, in percent, a value
	// for the middle of every SpeedStep from the start of the take; NaN where nothing
	// tells, nil where no motion was found.
	Speed     []float64
	SpeedStep preset.Millis
}

// Limits of what is measured.
const (
	maxHeads  = 16
	minRate   = 8000
	maxRate   = 384_000
	maxLength = 120 // s: longer takes are cut, with a warning
	minLength = 0.1 // s
)

func (t Take) check() error {
	rate := float64(t.Rate)
	if math.IsNaN(rate) || rate < minRate || rate > maxRate {
		return fmt.Errorf("sample rate %v: takes from %d to %d Hz can be measured", t.Rate, minRate, maxRate)
	}
	if t.Dry != nil && len(t.Dry) != len(t.Samples) {
		return fmt.Errorf("the dry channel has %d samples, the wet one %d: both must be of one length", len(t.Dry), len(t.Samples))
	}
	for _, x := range [][]float64{t.Samples, t.Dry} {
		for i, v := range x {
			if math.IsNaN(v) || math.Abs(v) > 1e6 {
				return &Refusal{Reason: NotFinite, Detail: fmt.Sprintf("sample %d (at %.4f s) is %v", i, float64(i)/rate, v)}
			}
		}
	}
	if float64(len(t.Samples)) < minLength*rate {
		return &Refusal{Reason: TooShort, Detail: fmt.Sprintf("it lasts %.0f ms", 1000*float64(len(t.Samples))/rate)}
	}
	return nil
}

func (o Options) check() error {
	if len(o.Heads) > maxHeads {
		return fmt.Errorf("%d heads: %d at most can be measured in one take", len(o.Heads), maxHeads)
	}
	for i, h := range o.Heads {
		switch {
		case h < 1 || h > preset.MaxHeads:
			return fmt.Errorf("head %d: heads are numbered from 1 to %d", h, preset.MaxHeads)
		case i > 0 && h <= o.Heads[i-1]:
			return fmt.Errorf("heads %v: name them in order of delay, each once", o.Heads)
		}
	}
	return nil
}

func (o Options) progress(done float64) {
	if o.Progress != nil {
		o.Progress(done)
	}
}
