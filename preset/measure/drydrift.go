package measure

import "math"

const (
	driftPart   = 4.0   // s of the take that are compared with the next
	driftParts  = 3     // at least
	driftHigh   = 700.0 // Hz: so low that a part's own drift does not matter
	driftReach  = 0.004 // s from part to part
	driftRounds = 3
	leastDrift  = 2e-8
	// A drift found in the fit is corrected if it makes the fit so much likelier
	// (twice the logarithm), and moves a sound at the end of the take by this share
	// of a sample.
	surelyDrifts = 25.0
	driftMatters = 0.002
)

// drift is by how much the dry channel's clock runs faster than the wet one's, by
// how the correlation of the two moves from part to part of the take; 0 where the
// take is too short to tell or where it does not move.
func (c channels) drift() float64 {
	total := 0.0
	for range driftRounds {
		d := channels{rate: c.rate, dry: c.dry, wet: c.withoutDrift(total)}
		step := d.driftStep()
		total += step
		if math.Abs(step) < 2e-7 {
			break
		}
	}
	if length := float64(len(c.wet)) / c.rate; math.Abs(total)*length < 2e-5 {
		return 0 // the fit finds so little by itself
	}
	return total
}

func (c channels) driftStep() float64 {
	step := thinning(c.rate, 3.5*driftHigh)
	rate := c.rate / float64(step)
	b := band{60, driftHigh}
	dry, wet := thin(c.dry, c.rate, b, step), thin(c.wet, c.rate, b, step)
	size := int(driftPart * rate)
	reach := int(sightLatest / 2 * rate)
	var before []float64
	up, down := 0.0, 0.0
	parts := 0
	for at := 0; at+size+reach <= len(wet); at += size {
		now := partCorrelation(dry[at:at+size], wet[at:at+size+reach], rate, reach)
		if now == nil {
			before = nil
			continue
		}
		parts++
		if before != nil {
			lag, weight := lagOf(before, now, int(driftReach*rate))
			up += weight * lag / rate
			down += weight * driftPart
		}
		before = now
	}
	if parts < driftParts || down == 0 {
		return 0
	}
	// Sound that comes later and later is of a slower clock in the wet channel's
	// favour: its samples are too many.
	return up / down
}

// partCorrelation is the evened-out correlation of a part of both channels, for
// lags from 0 to reach; nil where the dry part is silent.
func partCorrelation(dry, wet []float64, rate float64, reach int) []float64 {
	if meanSquare(dry) < 1e-12 {
		return nil
	}
	n := quickLength(len(dry) + len(wet))
	x, y := spectrum(dry, n), spectrum(wet, n)
	power := 0.0
	for _, v := range x {
		power += real(v)*real(v) + imag(v)*imag(v)
	}
	deep := 1e-2 * power / float64(len(x))
	for i, v := range x {
		p := real(v)*real(v) + imag(v)*imag(v)
		y[i] *= complex(real(v)/(p+deep), -imag(v)/(p+deep))
	}
	return waveform(y, n)[:reach]
}

// lagOf is by how many samples b is later than a: the top of their correlation
// nearest to 0 and how high it is.
func lagOf(a, b []float64, reach int) (lag, weight float64) {
	at := func(lag int) float64 {
		sum := 0.0
		for i := reach; i < len(a)-reach; i++ {
			sum += a[i] * b[i+lag]
		}
		return sum
	}
	k := 0
	for k < reach-1 && at(k+1) > at(k) {
		k++
	}
	for k > -reach+1 && at(k-1) > at(k) {
		k--
	}
	l, c, r := at(k-1), at(k), at(k+1)
	if c <= 0 {
		return 0, 0
	}
	u := 0.0
	if d := l - 2*c + r; d < 0 {
		u = 0.5 * (l - r) / d
	}
	return float64(k) + u, c
}

// withoutDrift is the wet channel as the dry one's clock would have taken it,
// turned about the middle of the take.
func (c channels) withoutDrift(drift float64) []float64 {
	if math.Abs(drift) < leastDrift {
		return c.wet
	}
	n := len(c.wet)
	margin := int(math.Abs(drift)*float64(n)) + 2*taps
	memory := make([]float64, n+2*margin)
	copy(memory[margin:], c.wet)
	places := make([]float64, n)
	for i := range places {
		places[i] = -drift * (float64(i) - float64(n)/2)
	}
	out := make([]float64, n)
	readMoving(out, memory, margin, places, kernelTable())
	return out
}

// driftOf is what drift of the clocks a fit still shows, 0 if none that matters.
func (s *spectra) driftOf(f settled) float64 {
	s.late = s.lateness(&f.unit)
	u := f.unit.clone()
	u.drifts = true
	some := s.thinned(f.blocks)
	plain := s.fit(f.unit, some, 4, roughly)
	g := s.fit(u, some, 4, roughly)
	s.late = nil
	if d := g.unit.drift; s.gain(plain, g) > surelyDrifts && math.Abs(d)*float64(s.length) > driftMatters {
		return d
	}
	return 0
}

// lateness is the spectrum of −(t − middle)·wet′(t): what the wet channel changes by
// if it is later and later.
func (s *spectra) lateness(u *still) []complex128 {
	made := s.made(u)
	for i := range made {
		made[i] *= complex(0, float64(i)*s.width)
	}
	slope := s.back(made)
	for i := range slope {
		slope[i] *= -(float64(i) - float64(s.length)/2) / s.rate
	}
	clear(slope[s.length:])
	return s.fft.Coefficients(made, slope)
}
