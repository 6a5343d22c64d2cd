package measure

import (
	"math"

	"gonum.org/v1/gonum/floats"
	"gonum.org/v1/gonum/stat"
)

const (
	driftPart   = 4.0   // s of the take that are compared with the next
	driftParts  = 3     // comparisons at least
	driftSure   = 3.0   // standard deviations
	driftLeast  = 2e-5  // s over the whole take
	driftHigh   = 700.0 // Hz: so low that a part's own drift does not matter
	driftReach  = 0.004 // s from part to part
	driftRounds = 3
	leastDrift  = 2e-8
	// A drift found in the fit is corrected if it makes the fit so much likelier
	// (twice the logarithm), and moves a sound at the end of the take by this share
	// of a sample.
	surelyDrifts = 25.0
	driftWorth   = 1.01 // so many times more must be left without
	driftMatters = 0.002
)

// drift is by how much the dry channel's clock runs faster than the wet one's, by
// how the correlation of the two moves from part to part of the take; 0 where the
// take is too short to tell or where it does not move.
func (c channels) drift() float64 {
	step := thinning(c.rate, 3.5*driftHigh)
	both := slowed(c.rate, band{60, driftHigh}, step, c.dry, c.wet)
	low := channels{rate: c.rate / float64(step), dry: both[0], raw: both[1]}
	total := 0.0
	for range driftRounds {
		d := low.corrected(total).driftStep()
		total += d
		if math.Abs(d) < 2e-7 {
			break
		}
	}
	if length := float64(len(c.wet)) / c.rate; math.Abs(total)*length < driftLeast {
		return 0 // the fit finds so little by itself
	}
	return total
}

// driftStep is the mean shift from part to part, 0 if it is not sure.
func (c channels) driftStep() float64 {
	size, reach := int(driftPart*c.rate), int(sightLatest/2*c.rate)
	var before []float64
	var shifts, weights []float64
	for at := 0; at+size+reach <= len(c.wet); at += size {
		now := partCorrelation(c.dry[at:at+size], c.wet[at:at+size+reach], reach)
		if now != nil && before != nil {
			lag, weight := lagOf(before, now, int(driftReach*c.rate))
			shifts, weights = append(shifts, lag/c.rate/driftPart), append(weights, weight)
		}
		before = now
	}
	if len(shifts) < driftParts {
		return 0
	}
	floats.Scale(float64(len(weights))/math.Max(floats.Sum(weights), 1e-300), weights)
	mean, sd := stat.MeanStdDev(shifts, weights)
	if math.Abs(mean) < driftSure*sd/math.Sqrt(float64(len(shifts))) {
		return 0
	}
	return mean
}

// partCorrelation is the evened-out correlation of a part of both channels, for
// lags from 0 to reach; nil where the dry part is silent.
func partCorrelation(dry, wet []float64, reach int) []float64 {
	if meanSquare(dry) < 1e-12 {
		return nil
	}
	n := even(len(dry) + len(wet))
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

// corrected has the wet channel as the dry one's clock would have taken it, turned
// about the middle of the take.
func (c channels) corrected(drift float64) channels {
	c.drifted, c.wet = drift, c.raw
	if math.Abs(drift) < leastDrift {
		c.drifted = 0
		return c
	}
	n := len(c.raw)
	margin := int(math.Abs(drift)*float64(n)) + 2*taps
	memory := make([]float64, n+2*margin)
	copy(memory[margin:], c.raw)
	places := make([]float64, n)
	for i := range places {
		places[i] = -drift * (float64(i) - float64(n)/2)
	}
	c.wet = make([]float64, n)
	readMoving(c.wet, memory, margin, places, kernelTable())
	return c
}

// limit is the frequency, Hz, up to which the wet channel is as it was recorded:
// reading between its samples, and leaving some out, loses what lies above.
func (c channels) limit() float64 {
	switch {
	case c.drifted != 0:
		return flatTo * c.rate
	case c.step*c.rate < 0.9: // samples were left out
		return lowPassFlat * c.rate
	}
	return c.rate / 2
}

const (
	flatTo      = 0.34
	lowPassFlat = 0.4
)

// driftOf is what drift of the clocks a fit still shows, 0 if none that matters.
func (s *spectra) driftOf(f settled) float64 {
	s.late = s.lateness(&f.unit)
	u := f.unit.clone()
	u.drifts = true
	some := s.thinned(f.blocks)
	plain := s.fit(f.unit, some, 4, roughly)
	g := s.fit(u, some, 4, roughly)
	s.late = nil
	if d := g.unit.drift; s.gain(plain, g) > surelyDrifts && plain.cost > driftWorth*g.cost && math.Abs(d)*float64(s.length) > driftMatters {
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
