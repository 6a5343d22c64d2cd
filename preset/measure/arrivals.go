package measure

import (
	"cmp"
	"math"
	"slices"
)

// arrival is a peak of the deconvolved take: an echo of the direct sound, so
// much later and by so much (amplitude ratio with sign).
type arrival struct {
	at, amp float64
	turn    int // how often it went round the loop before, where that is known
}

const (
	nearest    = 0.020 // s: echoes nearer to the direct sound than this are not looked for
	apart      = 0.003 // s between two arrivals that count as two
	faintest   = 0.03  // of the direct sound: the least arrival that is believed
	aboveHaze  = 6     // times the standard deviation of what lies between arrivals
	attackBand = 2500  // Hz: the attack stands out up to here, whatever the tone of the unit
)

// attack is a take with the ringing of its note filtered out, so that every echo
// begins with a short burst.
type attack struct {
	white []float64 // from a little before the onset on
	part  []float64 // its first milliseconds: the direct sound only
	noise float64   // mean square of the noise in white
}

// attackOf whitens a sound by a predictor learnt from the first span seconds
// after its onset. Before is the mean square of the noise.
func attackOf(s sound, span float64) attack {
	end := min(len(s.take), s.lead+int(span*s.rate))
	white := s.take
	if a := ringing(s.take[:end], s.rate, s.noise, s.lead+int(0.004*s.rate)); a != nil {
		white = filter(a, s.take)
	}
	w := attack{white: white, noise: noiseFloor(white, s.rate), part: slices.Clone(white[:end])}
	for i := range w.part {
		w.part[i] *= 1 - rise(float64(i), float64(end)-0.005*s.rate, float64(end))
	}
	return w
}

// arrivals finds the echoes of the attack, the loudest first, at most most of
// them and none later than latest (s).
func (a attack) arrivals(rate float64, most int, latest float64) []arrival {
	h := deconvolve(a.white, a.part, rate, 4*a.noise*float64(len(a.part)), band{100, math.Min(attackBand, 0.38*rate)})
	from, to := int(nearest*rate), min(len(h)-1, int(latest*rate))
	if from >= to {
		return nil
	}
	least := math.Max(faintest, aboveHaze*haze(h[from:to]))
	var found []arrival
	for i := from; i < to; i++ {
		v := math.Abs(h[i])
		if v >= least && v >= math.Abs(h[i-1]) && v > math.Abs(h[i+1]) {
			found = append(found, peak(h, i, rate))
		}
	}
	slices.SortStableFunc(found, func(x, y arrival) int { return cmp.Compare(math.Abs(y.amp), math.Abs(x.amp)) })
	return thinOut(found, most)
}

// haze is the standard deviation of h, peaks left out: by the median.
func haze(h []float64) float64 {
	m := make([]float64, len(h))
	for i, v := range h {
		m[i] = math.Abs(v)
	}
	return 1.4826 * quantile(m, 0.5)
}

// peak is the top of the parabola through three points.
func peak(h []float64, i int, rate float64) arrival {
	l, c, r := h[i-1], h[i], h[i+1]
	u := 0.0
	if d := l - 2*c + r; d != 0 {
		u = 0.5 * (l - r) / d
	}
	return arrival{at: (float64(i) + u) / rate, amp: c - 0.25*(l-r)*u}
}

// thinOut keeps, of arrivals with the loudest first, those that stand apart.
func thinOut(found []arrival, most int) []arrival {
	var kept []arrival
	for _, f := range found {
		near := slices.ContainsFunc(kept, func(k arrival) bool { return math.Abs(k.at-f.at) < apart })
		if !near && len(kept) < most {
			kept = append(kept, f)
		}
	}
	return kept
}
