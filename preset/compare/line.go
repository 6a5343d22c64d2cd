package compare

import "math"

// line is the line on which most of the blocks lie, by weight. One that needs no
// drift is preferred.
func line(blocks []found, rate float64) (l lie, score float64) {
	l.step = 1
	near := closeTime * rate
	try := func(slope, at float64, inverted bool, prefer float64) {
		s := 0.0
		for _, b := range blocks {
			if off := math.Abs(b.lag - at - slope*b.at); off < near && b.inverted == inverted {
				s += b.weight * (1 - 0.5*off/near)
			}
		}
		if s *= prefer; s > score {
			l, score = lie{at: at, step: 1 + slope}, s
		}
	}
	drifts := spread(blocks) > driftSpread*rate
	defer func() { l = refined(l, blocks, near, drifts) }()
	for i, p := range blocks {
		try(0, p.lag, p.inverted, 1.02)
		for _, q := range blocks[:i] {
			if slope := (p.lag - q.lag) / (p.at - q.at); drifts && math.Abs(slope) <= mostDrift {
				try(slope, p.lag-slope*p.at, p.inverted, 1)
			}
		}
	}
	return l, score
}

// refined is the line of least squares through the blocks near l.
func refined(l lie, blocks []found, near float64, drifts bool) lie {
	var w, wx, wy, wxx, wxy float64
	for _, b := range blocks {
		y := b.lag - l.at - (l.step-1)*b.at
		if math.Abs(y) < near {
			w, wx, wy = w+b.weight, wx+b.weight*b.at, wy+b.weight*y
			wxx, wxy = wxx+b.weight*b.at*b.at, wxy+b.weight*b.at*y
		}
	}
	if w == 0 {
		return l
	}
	slope := 0.0
	if det := w*wxx - wx*wx; drifts && det > 0 {
		slope = (w*wxy - wx*wy) / det
	}
	return lie{at: l.at + (wy-slope*wx)/w, step: l.step + slope}
}

// spread is the standard deviation of the blocks' times, in samples.
func spread(blocks []found) float64 {
	w, mean, sum := 0.0, 0.0, 0.0
	for _, b := range blocks {
		w, mean = w+b.weight, mean+b.weight*b.at
	}
	if w == 0 {
		return 0
	}
	for _, b := range blocks {
		sum += b.weight * math.Pow(b.at-mean/w, 2)
	}
	return math.Sqrt(sum / w)
}
