package response

import (
	"math"
	"math/cmplx"

	"echowright/preset"
)

// phase is what the phase of a way tells; see [Way].
type phase struct {
	delay, sd, wander preset.Millis
	inverted          bool
	rms               float64
}

const (
	smeared = 0.35 // rad RMS that a steady way does not leave
	torn    = 20.0 // with more than that nothing is left to be followed
)

// phaseFit looks for the delay that a way has beside the delay of its tone.
type phaseFit struct {
	q        Spectrum
	tone     preset.Tone
	from, to int     // bins
	lowest   int     // bin that tells anything
	seconds  float64 // of the gate
}

// plain is bin i of the quotient without the phase of the tone.
func (p phaseFit) plain(i int) complex128 {
	f := float64(p.q.Bin) * float64(i)
	return p.q.Values[i] * cmplx.Rect(1, -toneAngle(p.tone, f))
}

// toneAngle is the phase of the analogue one-pole cuts at f, in radians.
func toneAngle(t preset.Tone, f float64) float64 {
	a := 0.0
	if t.LowCut > 0 {
		a += math.Atan2(float64(t.LowCut), f)
	}
	if t.HighCut > 0 {
		a -= math.Atan2(f, float64(t.HighCut))
	}
	return a
}

// fit goes by the agreement of all frequencies, which a wavering speed destroys:
// then the phase is followed from where it is too slow to be led astray.
func (p phaseFit) fit() phase {
	delay, inverted := p.search()
	delay, rms := p.refine(delay, inverted)
	if rms <= smeared {
		return phase{delay: delay, sd: p.deviation(rms), inverted: inverted, rms: rms}
	}
	return p.fromBelow()
}

const (
	startBelow = 60.0 // Hz, or where the response begins
	startTop   = 300.0
	slowest    = 100.0 // Hz: from here on the phase tells the delay
	// meanOf is by how much the mean of a delay that wanders is better known than
	// it wanders: a sweep sees some turns of a wow.
	meanOf = 3
)

// fromBelow follows the phase from bin to bin from the lowest on. A line through
// its first part meets 0 Hz at a multiple of π, an odd one if the head turns the
// sound over. The delay is the mean of the phase's own over the logarithm of the
// frequency, which for a sweep is the mean over time.
func (p phaseFit) fromBelow() phase {
	low := max(p.lowest, int(startBelow/float64(p.q.Bin)), 1)
	top := max(int(startTop/float64(p.q.Bin)), low+2)
	var turn complex128
	for i := low; i < top; i++ {
		turn += p.plain(i+1) * cmplx.Conj(p.plain(i))
	}
	middle := -cmplx.Phase(turn) / (2 * math.Pi * float64(p.q.Bin)) * 1000
	angles, angle, before := make([]float64, p.to+1), 0.0, complex(1, 0)
	for i := low; i <= p.to; i++ {
		v := p.plain(i) * p.advance(i, middle)
		angle += cmplx.Phase(v * cmplx.Conj(before))
		angles[i], before = angle, v
	}
	halfTurns := math.Round(intercept(angles, low, top) / math.Pi)
	mean, square, weights, left := 0.0, 0.0, 0.0, 0.0
	for i := max(low, int(slowest/float64(p.q.Bin))); i <= p.to; i++ {
		w := 1 / float64(i)
		d := -(angles[i] - math.Pi*halfTurns) / (2 * math.Pi * float64(p.q.Bin) * float64(i)) * 1000
		weights, mean, square = weights+w, mean+w*d, square+w*d*d
	}
	mean /= weights
	wander := math.Sqrt(math.Max(0, square/weights-mean*mean))
	for i := p.from; i <= p.to; i++ {
		off := angles[i] - math.Pi*halfTurns + 2*math.Pi*float64(p.q.Bin)*float64(i)*mean/1000
		left += off * off / float64(p.to-p.from+1)
	}
	return phase{
		delay: preset.Millis(middle + mean), sd: preset.Millis(wander / meanOf), wander: preset.Millis(wander),
		inverted: math.Mod(halfTurns, 2) != 0, rms: math.Sqrt(left),
	}
}

// intercept of the line of least squares through the angles, of which those low
// down weigh more: a wavering speed hardly moves them.
func intercept(angles []float64, from, to int) float64 {
	w, wx, wy, wxx, wxy := 0.0, 0.0, 0.0, 0.0, 0.0
	for i := from; i <= to && i < len(angles); i++ {
		weight, x, y := 1/float64(i), float64(i), angles[i]
		w, wx, wy, wxx, wxy = w+weight, wx+weight*x, wy+weight*y, wxx+weight*x*x, wxy+weight*x*y
	}
	if spread := w*wxx - wx*wx; spread > 0 {
		return (wy*wxx - wx*wxy) / spread
	}
	return 0
}

// search takes the delay near the gate's place at which all frequencies agree
// best, and their sign.
func (p phaseFit) search() (preset.Millis, bool) {
	var turn complex128
	for i := p.from; i < p.to; i++ {
		turn += p.plain(i+1) * cmplx.Conj(p.plain(i))
	}
	middle := -cmplx.Phase(turn) / (2 * math.Pi * float64(p.q.Bin)) * 1000
	best, at := 0.0, middle
	for d := -searched; d <= searched; d += searchStep { // a tenth of a period at 3 kHz and less
		if c := p.agreement(middle + d); math.Abs(c) > math.Abs(best) {
			best, at = c, middle+d
		}
	}
	return preset.Millis(at), best < 0
}

func (p phaseFit) agreement(ms float64) float64 {
	sum := 0.0
	for i := p.from; i <= p.to; i++ {
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
func (p phaseFit) deviation(rms float64) preset.Millis {
	independent := math.Max(2, float64(p.to-p.from)*float64(p.q.Bin)*p.seconds)
	middle := 2 * math.Pi * float64(p.q.Bin) * math.Sqrt((float64(p.from*p.from)+float64(p.to*p.to)+float64(p.from*p.to))/3)
	return preset.Millis(1000 * rms / middle / math.Sqrt(independent))
}
