// Package steadytone turns the recording of a steady tone into speed error, wow
// and flutter: weighted and unweighted, peak, RMS and 2-sigma, and the rates at
// which the speed wavers with what may turn at them.
//
// The tone is demodulated as an analytic signal: turned down to 0 Hz by a
// complex oscillator, limited to ±300 Hz and thinned; the turning of its phase
// is the speed. Weighting, detection and the 2-sigma figure follow AES6-2008
// (the same as IEC 60386). Memory is flat: hours of tone take no more of it than
// a minute.
//
// Read meter.go first, then lock.go (finding the tone), demodulate.go,
// weighting.go, unweighted.go and rates.go.
package steadytone

import (
	"fmt"
	"math"

	"echowright/preset"
	"echowright/preset/measure"
)

// Options of a measurement.
type Options struct {
	Rate preset.Hertz // sample rate
	// Nominal is the frequency that the tone was made with.
	Nominal preset.Hertz
	// Through is the delay of the head by which the tone came, where it was
	// recorded and played back in one pass of the same machine; 0 where it was
	// recorded elsewhere (a test tape). In one pass a wavering of rate f reads
	// 2·|sin(π·f·delay)| of what it is, and a wrong speed cannot be seen at all.
	Through preset.Millis
}

// Figures are deviations of speed.
type Figures struct {
	Peak     preset.Percent `json:"peak_percent"` // half of the greatest swing
	RMS      preset.Percent `json:"rms_percent"`
	TwoSigma preset.Percent `json:"two_sigma_percent,omitempty"` // exceeded for 5 % of the time
}

// A Result is what a steady tone tells.
type Result struct {
	Tone       preset.Hertz      `json:"tone_hz"`     // mean frequency
	SpeedRatio float64           `json:"speed_ratio"` // Tone over the nominal frequency
	Level      preset.Decibels   `json:"level_dbfs"`  // AES17: a sine that reaches full scale has 0 dBFS
	Measured   float64           `json:"measured_s"`  // how much of the take went into the figures
	Weighted   Figures           `json:"weighted"`
	Unweighted Figures           `json:"unweighted"` // 0.2 to 200 Hz
	Rates      []Rate            `json:"rates"`      // the strongest first
	Motion     preset.Motion     `json:"motion"`
	Warnings   []measure.Warning `json:"warnings"`
}

// A Meter takes a recording block by block. Make it with [New].
type Meter struct {
	o       Options
	lock    lock
	clip    clipping
	dropped int // samples that are no numbers
	demod   *demodulator
	speed   *speeds
}

// Limits of the sample rate.
const (
	minRate = 8000
	maxRate = 384_000
)

// New checks the options and makes a meter.
func New(o Options) (*Meter, error) {
	switch rate := float64(o.Rate); {
	case !(rate >= minRate && rate <= maxRate):
		return nil, fmt.Errorf("sample rate %v: from %d to %d Hz", o.Rate, minRate, maxRate)
	case !(o.Nominal >= minTone && float64(o.Nominal) <= rate*0.45):
		return nil, fmt.Errorf("a tone of %v at a sample rate of %v: from %d to %.0f Hz", o.Nominal, o.Rate, minTone, rate*0.45)
	case !(o.Through >= 0 && o.Through <= preset.MaxDelay):
		return nil, fmt.Errorf("a head's delay of %v: from 0 to %v", o.Through, preset.MaxDelay)
	}
	return &Meter{o: o, lock: newLock(o)}, nil
}

// Add takes the next block of samples, in fractions of full scale. Blocks may be
// of any length, and are not kept.
func (m *Meter) Add(block []float64) {
	clean := m.finite(block)
	m.clip.add(clean)
	if m.demod != nil {
		m.follow(clean)
		return
	}
	if !m.lock.add(clean) {
		return
	}
	m.demod = newDemodulator(float64(m.o.Rate), m.lock.tone)
	m.speed = newSpeeds(m.demod.rate, m.lock.amplitude)
	m.follow(m.lock.window)
	m.follow(m.lock.rest)
	m.lock.window, m.lock.rest = nil, nil
}

func (m *Meter) follow(block []float64) {
	const piece = 4096
	for len(block) > 0 {
		n := min(piece, len(block))
		for _, s := range m.demod.add(block[:n]) {
			m.speed.add(s)
		}
		block = block[n:]
	}
}

// finite is block with nan, inf and what no recorder gives put to 0 (and
// counted); block itself where there is nothing to put right.
func (m *Meter) finite(block []float64) []float64 {
	clean := block
	for i, v := range block {
		if math.Abs(v) < 1e6 {
			continue
		}
		if &clean[0] == &block[0] {
			clean = append([]float64(nil), block...)
		}
		clean[i] = 0
		m.dropped++
	}
	return clean
}

// clipping counts runs of samples that stand still near full scale.
type clipping struct {
	run, clipped int
	last         float64
}

func (c *clipping) add(block []float64) {
	for _, v := range block {
		if v == c.last && math.Abs(v) > 0.5 {
			if c.run++; c.run == 2 { // the third alike
				c.clipped++
			}
			continue
		}
		c.run, c.last = 0, v
	}
}
