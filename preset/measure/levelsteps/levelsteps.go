// Package levelsteps turns the recording of tone bursts from soft to hard that
// went through a unit into its curve of level in against level out: where it
// compresses, which harmonics it adds, whether it treats both halves of a wave
// alike, how its repeats decay at each level, and the drive of the domain's model
// that does the same.
//
// The bursts are found by their frequency and spacing (find.go), each is taken
// apart into harmonics by least squares (harmonics.go), and the model is fitted
// to fundamentals and harmonics of all of them together (fit.go). Where the loop
// is on, the repeats tell what one turn makes of each level (loop.go).
package levelsteps

import (
	"fmt"
	"math"

	"echowright/preset"
	"echowright/preset/measure"
	"echowright/preset/signals"
)

// Options of a measurement: what is known of the head by which the bursts came.
type Options struct {
	// Tone weakens the harmonics on their way; the zero Tone leaves them as they are.
	Tone preset.Tone
	// Inverted is whether the head turns the sound over. It decides the sign of
	// the drive's bias.
	Inverted bool
}

// highestOrder of the harmonics that are told.
const highestOrder = 5

// A Step is one burst. Levels are in dBFS, 0 being a sine that reaches full scale.
type Step struct {
	In   preset.Decibels `json:"in_dbfs"`
	Out  preset.Decibels `json:"out_dbfs"` // of the fundamental
	Gain preset.Decibels `json:"gain_db"`
	// Harmonics are those of order 2 to 5 in percent of the fundamental, as they
	// stand in the take, and THD is the root of the sum of their squares.
	Harmonics [highestOrder - 1]preset.Percent `json:"harmonics_percent"`
	THD       preset.Percent                   `json:"thd_percent"`
	// Above and Below are the peaks of the wave without its noise, in fractions
	// of full scale.
	Above float64 `json:"above"`
	Below float64 `json:"below"`
	// Noise is how far Harmonics may be off by the noise in the take.
	Noise preset.Percent `json:"noise_percent"`

	even float64 // the second harmonic with the sign that the wave gives it
}

// Source is where the level in was had from.
type Source string

// The sources.
const (
	DryChannel  Source = "dry channel"
	DirectSound Source = "direct sound"
	SignalFile  Source = "signal file"
)

// A Result is what the steps tell.
type Result struct {
	Steps []Step          `json:"step"`
	From  Source          `json:"level_in_from"`
	Delay preset.Millis   `json:"delay_ms,omitempty"` // of the echo that was measured, to a few ms; 0 if not known
	Gain  preset.Decibels `json:"gain_db"`            // for soft sounds
	// OneDB is the level in at which the gain is 1 dB below that for soft sounds,
	// nil if no step gets there.
	OneDB *preset.Decibels `json:"compression_dbfs,omitempty"`
	// EvenToOdd compares the second and fourth harmonic with the third and fifth
	// in the loudest step, AboveToBelow its two peaks.
	EvenToOdd    preset.Decibels `json:"even_to_odd_db"`
	AboveToBelow preset.Decibels `json:"above_to_below_db"`
	// Drive is the nearest of the domain's model, with level in counted in full
	// scale of the take; nil if the machine was not driven.
	Drive *preset.Drive `json:"drive,omitempty"`
	Fit   *Fit          `json:"fit,omitempty"`
	// Loop tells how the driven echoes decay; nil if no repeats were heard.
	Loop *Loop `json:"loop,omitempty"`

	Warnings []measure.Warning `json:"warnings"`
}

// A Fit says how well the drive does what the machine did (RMS), and how surely
// its figures are known (standard deviations; 0 where the steps do not tell).
type Fit struct {
	Level     preset.Decibels `json:"level_db"`
	Harmonics preset.Percent  `json:"harmonics_percent"` // of the fundamental
	GainSD    preset.Decibels `json:"gain_sd_db"`
	BiasSD    float64         `json:"bias_sd"`
}

// Measure measures the steps in take, which may begin anywhere in it. In a take
// of one channel the first sound is taken for the direct one and the next for
// the echo; the burst must end before the echo begins. The error is a
// [*signals.Refusal] where the take does not show the steps apart; anything else
// is a wrong call.
func Measure(take measure.Take, s signals.Signal, o Options) (Result, error) {
	if err := check(take, s); err != nil {
		return Result{}, err
	}
	wet := newWatch(take.Samples, s)
	found, err := find(take, wet)
	if err != nil {
		return Result{}, err
	}
	r := Result{From: found.from, Delay: found.delay}
	in, ins := inputs(take, s, found)
	for k, start := range s.Starts() {
		h := takeApart(found.echo.cut(take.Samples, start), s)
		if h.size[0] <= 0 {
			return Result{}, &signals.Refusal{Problem: fmt.Sprintf("step %d is silent", k+1), Do: "record it again, louder"}
		}
		r.Steps = append(r.Steps, h.step(in[k], o))
	}
	r.judge()
	nominal := float64(s.Steps.Step) * float64(s.Steps.Count-1)
	if !r.noDirect(nominal) {
		r.fit(o, float64(s.Steps.Frequency))
	}
	heard := found.repeats(wet)
	r.Loop = r.loop(heard)
	r.Warnings = append(r.warnings(take, nominal, ins), r.loopWarnings(heard, *s.Steps)...)
	return r, nil
}

// inputs are the levels in as amplitudes, and what was heard of them, if
// anything was.
func inputs(take measure.Take, s signals.Signal, f found) (amplitudes []float64, heard []harmonics) {
	source := take.Dry
	if f.from == DirectSound {
		source = take.Samples
	}
	for k, level := range s.StepLevels() {
		if f.from == SignalFile {
			amplitudes = append(amplitudes, level.Amplitude())
			continue
		}
		h := takeApart(f.direct.cut(source, s.Starts()[k]), s)
		heard = append(heard, h)
		amplitudes = append(amplitudes, math.Max(h.size[0], 1e-9))
	}
	return amplitudes, heard
}

func check(take measure.Take, s signals.Signal) error {
	if err := s.CheckTake(signals.KindSteps, take.Rate, take.Samples, take.Dry); err != nil {
		return err
	}
	if periods := s.Steps.Burst.Seconds() * float64(s.Steps.Frequency); periods < fewestPeriods/wholePart {
		return fmt.Errorf("bursts of %.1f periods: they are too short to tell harmonics, use %.0f or more", periods, math.Ceil(fewestPeriods/wholePart))
	}
	return nil
}
