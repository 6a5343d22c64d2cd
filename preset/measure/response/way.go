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
	Curve    []Point         `json:"curve"`
	Wander   preset.Millis   `json:"wander_ms,omitempty"` // standard deviation of the delay from one response to the next
	Gate     Gate            `json:"-"`
}

// A Point of a response, of a twelfth of an octave. Delay is that of the group,
// told from 300 Hz to 3 kHz, 0 elsewhere.
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
	p := phaseFit{q: q, tone: w.Tone, from: int(from / float64(q.Bin)), to: int(to / float64(q.Bin))}
	w.Delay, w.Inverted, w.PhaseRMS = p.fit()
	w.DelaySD = p.deviation(w.PhaseRMS, gate.Seconds(t.Rate))
	for i, point := range w.Curve {
		if f := float64(point.Hz); f >= from && f <= to {
			w.Curve[i].Delay = after + groupDelay(q, point.Hz)
		}
	}
	w.Delay += after
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

// phaseFit looks for the delay that a way has beside the delay of its tone.
type phaseFit struct {
	q        Spectrum
	tone     preset.Tone
	from, to int // bins
}

// plain is bin i of the quotient without the phase of the tone.
func (p phaseFit) plain(i int) complex128 {
	f := float64(p.q.Bin) * float64(i)
	return p.q.Values[i] * cmplx.Rect(1, -phase(p.tone, f))
}

// phase of the analogue one-pole cuts at f, in radians.
func phase(t preset.Tone, f float64) float64 {
	a := 0.0
	if t.LowCut > 0 {
		a += math.Atan2(float64(t.LowCut), f)
	}
	if t.HighCut > 0 {
		a -= math.Atan2(f, float64(t.HighCut))
	}
	return a
}

// fit tries the whole band first. Where the speed wavered while a sweep passed,
// the upper part of it says nothing of where to begin: then the lower part does.
func (p phaseFit) fit() (delay preset.Millis, inverted bool, rms float64) {
	rms = math.Inf(1)
	for _, to := range []int{p.to, min(p.to, 3*p.from)} {
		d, turned := p.search(to)
		d, left := p.refine(d, turned)
		if left < 0.7*rms {
			delay, inverted, rms = d, turned, left
		}
	}
	return delay, inverted, rms
}

// search takes the delay near the gate's place at which the frequencies up to a
// bin agree best, and their sign.
func (p phaseFit) search(to int) (preset.Millis, bool) {
	var turn complex128
	for i := p.from; i < to; i++ {
		turn += p.plain(i+1) * cmplx.Conj(p.plain(i))
	}
	middle := -cmplx.Phase(turn) / (2 * math.Pi * float64(p.q.Bin)) * 1000
	best, at := 0.0, middle
	for d := -searched; d <= searched; d += searchStep { // a tenth of a period at 3 kHz and less
		if c := p.agreement(middle+d, to); math.Abs(c) > math.Abs(best) {
			best, at = c, middle+d
		}
	}
	return preset.Millis(at), best < 0
}

func (p phaseFit) agreement(ms float64, to int) float64 {
	sum := 0.0
	for i := p.from; i <= to; i++ {
		sum += real(p.plain(i) * p.advance(i, ms))
	}
	return sum
}

func (p phaseFit) advance(i int, ms float64) complex128 {
	return cmplx.Rect(1, 2*math.Pi*float64(p.q.Bin)*float64(i)*ms/1000)
}

// refine fits a line through the origin to the phase that is left, followed from
// bin to bin through its turns and weighted by power; rms is what it leaves.
func (p phaseFit) refine(delay preset.Millis, inverted bool) (preset.Millis, float64) {
	sign := complex(1, 0)
	if inverted {
		sign = -1
	}
	weights, slope, square, left := 0.0, 0.0, 0.0, 0.0
	angle, before := 0.0, complex(1, 0)
	for i := p.from; i <= p.to; i++ {
		v := sign * p.plain(i) * p.advance(i, float64(delay))
		angle += cmplx.Phase(v * cmplx.Conj(before))
		before = v
		w := real(v)*real(v) + imag(v)*imag(v)
		omega := 2 * math.Pi * float64(p.q.Bin) * float64(i)
		weights += w
		slope += w * omega * angle
		square += w * omega * omega
		left += w * angle * angle
	}
	if weights == 0 {
		return delay, math.Pi
	}
	return delay - preset.Millis(1000*slope/square), math.Sqrt(math.Max(0, left-slope*slope/square) / weights)
}

// deviation of the delay by the phase's scatter; a gate of s seconds makes bins
// 1/s apart independent.
func (p phaseFit) deviation(rms, seconds float64) preset.Millis {
	independent := math.Max(2, float64(p.to-p.from)*float64(p.q.Bin)*seconds)
	middle := 2 * math.Pi * float64(p.q.Bin) * math.Sqrt((float64(p.from*p.from)+float64(p.to*p.to)+float64(p.from*p.to))/3)
	return preset.Millis(1000 * rms / middle / math.Sqrt(independent))
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
