package compare

import (
	"fmt"
	"math"

	"echowright/preset"
	"echowright/preset/measure"
	"echowright/preset/measure/levelsteps"
	"echowright/preset/signals"
)

// Steps is how the takes compress and bend at each level of a stepped signal.
type Steps struct {
	OneDBA, OneDBB *preset.Decibels // level in at which the gain is 1 dB less; nil if no step gets there
	Steps          []StepPair       // from soft to hard
}

// A StepPair is one burst in both takes. Gain is that of the machine less that for
// soft sounds: 0 until it compresses. Peaks compares the two halves of the wave,
// 0 dB being alike.
type StepPair struct {
	In             preset.Decibels // dBFS, of A
	GainA, GainB   preset.Decibels
	THDA, THDB     preset.Percent
	PeaksA, PeaksB preset.Decibels
	NoiseA, NoiseB preset.Percent // by which the percentages may be off
}

// steps measures the steps of both takes as [levelsteps.Measure] does.
func (r *Result) steps(a, b Take, s signals.Signal) error {
	of := func(name string, t Take) (levelsteps.Result, error) {
		m, err := levelsteps.Measure(t.measured(), s, levelsteps.Options{})
		if err != nil {
			return m, fmt.Errorf("take %s: %w", name, err)
		}
		for _, w := range m.Warnings {
			r.warn("take "+name+": "+w.What, w.Do)
		}
		return m, nil
	}
	ma, err := of("A", a)
	if err != nil {
		return err
	}
	mb, err := of("B", b)
	if err != nil {
		return err
	}
	turned := preset.Decibels(1) // in a take turned over the halves change places
	if r.Alignment.Inverted {
		turned = -1
	}
	r.Steps = &Steps{OneDBA: ma.OneDB, OneDBB: mb.OneDB}
	for k := range min(len(ma.Steps), len(mb.Steps)) {
		x, y := ma.Steps[k], mb.Steps[k]
		r.Steps.Steps = append(r.Steps.Steps, StepPair{
			In: x.In, GainA: x.Gain - ma.Gain, GainB: y.Gain - mb.Gain, THDA: x.THD, THDB: y.THD,
			PeaksA: peaks(x), PeaksB: turned * peaks(y), NoiseA: x.Noise, NoiseB: y.Noise,
		})
	}
	return nil
}

func peaks(s levelsteps.Step) preset.Decibels {
	return preset.FromAmplitude(math.Max(s.Above, 1e-9) / math.Max(s.Below, 1e-9))
}

// measured is the take as rooms that measure want it: its first channel, and the
// direct sound where it stands alone.
func (t Take) measured() measure.Take {
	m := measure.Take{Rate: t.Rate, Samples: t.wet()[0]}
	if t.Dry > 0 {
		m.Dry = t.Channels[t.Dry-1]
	}
	return m
}
