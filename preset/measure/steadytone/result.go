package steadytone

import (
	"fmt"
	"math"

	"echowright/preset"
	"echowright/preset/measure"
	"echowright/preset/signals"
)

const (
	leastTime  = settling + 1.0 // s of tone without which there are no figures
	statistics = 5.0            // s that the 2-sigma figure of AES6 is to be taken over
	wowEnds    = 4.0            // Hz: slower is wow, faster is flutter (usage)
	faintTone  = -60.0          // dBFS
	wavering   = 0.1            // RMS of the tone's amplitude
	confusion  = 0.02           // parts of speed within which 3,000 Hz was taken for 3,150 or the other way round
)

func tooShort(seconds float64) error {
	return &signals.Refusal{
		Problem: fmt.Sprintf("only %.1f s of the take can be used", seconds),
		Do:      "record ten seconds of steady tone or more",
	}
}

// Result is what the blocks so far tell; the meter is used up. The error is a
// [*signals.Refusal]: the take is silent, too short, or not a steady tone.
func (m *Meter) Result() (Result, error) {
	if m.demod == nil {
		return Result{}, m.lock.refusal()
	}
	s := m.speed
	if s.seconds() < leastTime || s.weighted.count < s.rate {
		return Result{}, tooShort(s.seconds())
	}
	s.plain.finish()
	r := Result{
		Tone:       preset.Hertz(m.demod.tone * (1 + s.mean())),
		Level:      preset.FromAmplitude(s.amplitude()),
		Measured:   s.seconds(),
		Unweighted: s.plain.figures(),
		Rates:      s.plain.rates(m.o.Through.Seconds()),
		Weighted: Figures{
			Peak:     percent(s.weighted.greatest),
			RMS:      percent(s.weighted.rms()),
			TwoSigma: percent(s.weighted.below(twoSigmaOf)),
		},
	}
	r.SpeedRatio = float64(r.Tone / m.o.Nominal)
	r.aboutMean(1 / (1 + s.mean()))
	r.Motion = motion(r, m.o.Through)
	r.Warnings = m.warnings(r)
	return r, nil
}

// aboutMean turns deviations that were reckoned from the oscillator's frequency
// into such from the tone's mean.
func (r *Result) aboutMean(ratio float64) {
	for _, p := range []*preset.Percent{
		&r.Weighted.Peak, &r.Weighted.RMS, &r.Weighted.TwoSigma, &r.Unweighted.Peak, &r.Unweighted.RMS,
	} {
		*p *= preset.Percent(ratio)
	}
	for i := range r.Rates {
		r.Rates[i].Peak *= preset.Percent(ratio)
		r.Rates[i].Carrier *= preset.Percent(ratio)
	}
}

// motion holds the strongest wow and the strongest flutter.
func motion(r Result, through preset.Millis) preset.Motion {
	var m preset.Motion
	if through == 0 {
		m.SpeedRatio = r.SpeedRatio
	}
	for _, rate := range r.Rates {
		switch {
		case rate.Hz < wowEnds && rate.Carrier > m.WowPercent:
			m.WowPercent, m.WowHz = rate.Carrier, rate.Hz
		case rate.Hz >= wowEnds && rate.Hz <= 100 && rate.Carrier > m.FlutterPercent:
			m.FlutterPercent, m.FlutterHz = rate.Carrier, rate.Hz
		}
	}
	return m
}

func (m *Meter) warnings(r Result) []measure.Warning {
	var all []measure.Warning
	warn := func(when bool, what, do string) {
		if when {
			all = append(all, measure.Warning{What: what, Do: do})
		}
	}
	s := m.speed
	weighted := s.weighted.count / s.rate
	warn(weighted < statistics,
		fmt.Sprintf("the 2-sigma figure is of %.1f s, AES6 asks for %g s", weighted, statistics), "record ten seconds or more")
	warn(m.clip.clipped > 0, fmt.Sprintf("clipped in %d places", m.clip.clipped), "record it again at a lower level; the speed is told all the same")
	warn(m.dropped > 0, fmt.Sprintf("%d samples are no numbers", m.dropped), "export the take again")
	warn(r.Level < faintTone, fmt.Sprintf("the tone has only %.0f dBFS", float64(r.Level)), "record it louder: noise reads as flutter")
	warn(s.dropouts > 0, fmt.Sprintf("the tone dropped out %d times", s.dropouts), "clean the heads or use fresh tape; these places were left out")
	warn(s.waver() > wavering, fmt.Sprintf("the tone's level wavers by %.0f %%", 100*s.waver()),
		"turn the direct sound and all heads but one off: two sounds of one tone beat against each other and bend the figures")
	for _, other := range [][2]float64{{3000, 3150}, {3150, 3000}} {
		mistaken := float64(m.o.Nominal) == other[0] && math.Abs(float64(r.Tone)/other[1]-1) < confusion
		warn(mistaken, fmt.Sprintf("the tone is %+.2f %% off %g Hz and near %g Hz", 100*(r.SpeedRatio-1), other[0], other[1]),
			fmt.Sprintf("if it was made with %g Hz, name that frequency", other[1]))
	}
	warn(m.o.Through > 0 && len(r.Rates) > 0 && r.Rates[0].Carrier == 0,
		"the strongest wavering hides in one pass through this head", "measure through another head too")
	return all
}
