package response

import (
	"math"
	"math/cmplx"

	"echowright/preset"
)

// A Way is the way from the direct sound to the output of a head.
type Way struct {
	Delay    preset.Millis   `json:"delay_ms"` // for the band 300 Hz to 3 kHz, its tone's own taken off
	DelaySD  preset.Millis   `json:"delay_sd_ms"`
	Level    preset.Decibels `json:"level_db"` // at 1 kHz, to the direct sound
	LevelSD  preset.Decibels `json:"level_sd_db"`
	Inverted bool            `json:"inverted"`
	Tone     preset.Tone     `json:"tone"`
	Misfit   preset.Decibels `json:"misfit_db"`     // RMS distance of Curve from Tone
	PhaseRMS float64         `json:"phase_rms_rad"` // what a plain delay and Tone leave of the phase
	// Wander is the standard deviation of the delay while a sweep passed, or from
	// one response to the next; 0 where it was not seen.
	Wander preset.Millis `json:"wander_ms,omitempty"`
	Curve  []Point       `json:"curve"`
	Gate   Gate          `json:"-"`
}

// A Point of a response, of a twelfth of an octave. Delay is that of the group,
// told from 300 Hz to 3 kHz and where the speed does not waver, 0 elsewhere.
type Point struct {
	Hz    preset.Hertz    `json:"hz"`
	Level preset.Decibels `json:"level_db"`
	Delay preset.Millis   `json:"delay_ms,omitempty"`
}

const (
	pointsPerOctave = 12
	levelOctaves    = 1.0 / 3 // for the level at 1 kHz and the delay of the group
	curveFloor      = 40.0    // dB below the top of a curve, where it ends
	overNoiseDB     = 6.0
	periodsInGate   = 1.5 // of the lowest frequency that a gate tells
	lowEdge         = 1.8 // the ends of the band are left out by these factors: the
	highEdge        = 1.2 // ringing of its lower end is longer than a gate
	searched        = 2.0 // ms to each side of the mean delay
	searchStep      = 0.02
)

// between holds the head's spectrum against that of the direct sound, whose gate
// stands by after before the head's. Noise is the RMS of a sample of the trace.
func (t Trace) between(direct, head Spectrum, gate Gate, after preset.Millis, noise float64) Way {
	q := head.over(direct)
	floor := noise * math.Sqrt(gate.energy()) // of a bin of head
	low := math.Max(lowEdge*float64(t.Low), periodsInGate/gate.Seconds(t.Rate))
	high := math.Min(float64(t.High), 0.45*float64(t.Rate)) / highEdge

	w := Way{Gate: gate}
	w.Curve = curve(direct, head, floor, low, high)
	w.Tone, w.Misfit = fitTone(w.Curve)
	from, to := math.Max(lookLow, low), math.Min(lookHigh, high)
	p := phaseFit{q: q, tone: w.Tone, from: int(from / float64(q.Bin)), to: int(to / float64(q.Bin)), lowest: int(low/float64(q.Bin)) + 1, seconds: gate.Seconds(t.Rate)}
	f := p.fit()
	w.Delay, w.DelaySD, w.Wander, w.Inverted, w.PhaseRMS = after+f.delay, f.sd, f.wander, f.inverted, f.rms
	for i, point := range w.Curve {
		if f := float64(point.Hz); f >= from && f <= to && w.PhaseRMS <= smeared {
			w.Curve[i].Delay = after + groupDelay(q, point.Hz)
		}
	}
	one := head.Magnitude(preset.Reference, levelOctaves)
	w.Level = preset.FromAmplitude(one / direct.Magnitude(preset.Reference, levelOctaves))
	bins := math.Max(1, float64(preset.Reference)*levelOctaves*math.Ln2*gate.Seconds(t.Rate)) // that are independent
	w.LevelSD = preset.FromAmplitude(1 + floor/one/math.Sqrt(2*bins))
	return w
}

func curve(direct, head Spectrum, floor, low, high float64) []Point {
	var all []Point
	const octaves = 1.0 / pointsPerOctave
	top := math.Inf(-1)
	// Twelfths of an octave counted from 1 kHz.
	for k := math.Ceil(pointsPerOctave * math.Log2(low/1000)); ; k++ {
		f := preset.Hertz(1000 * math.Exp2(k/pointsPerOctave))
		if float64(f) > high {
			return all
		}
		h, d := head.Magnitude(f, octaves), direct.Magnitude(f, octaves)
		if d == 0 || 20*math.Log10(h/floor) < overNoiseDB {
			continue
		}
		level := 20 * math.Log10(h/d)
		top = math.Max(top, level)
		if level > top-curveFloor {
			all = append(all, Point{Hz: f, Level: preset.Decibels(level)})
		}
	}
}

// groupDelay is the mean turning of the phase from bin to bin around f, in ms.
func groupDelay(q Spectrum, f preset.Hertz) preset.Millis {
	from, to := q.around(f, levelOctaves)
	var turn complex128
	for i := from; i < to && i+1 < len(q.Values); i++ {
		turn += q.Values[i+1] * cmplx.Conj(q.Values[i])
	}
	return preset.Millis(-1000 * cmplx.Phase(turn) / (2 * math.Pi * float64(q.Bin)))
}
