package compare

import (
	"cmp"
	"math"
	"slices"

	"gonum.org/v1/gonum/dsp/fourier"

	"echowright/preset/fastlength"
)

// A lie says where the sound of a take A lies in B: what is at sample i of A is at
// place at + step·i of B.
type lie struct{ at, step float64 }

const (
	slowRate   = 8000.0 // Hz, about: the rate at which takes are first laid together
	frameTime  = 0.005  // s of an envelope's value
	blockTime  = 0.5    // s of sound that is looked for in the other take
	searchTime = 0.05   // s to either side; a drift of 1000 ppm takes 100 s to get there
	closeTime  = 0.0008 // s that blocks may lie off a line and count for it
	mostDrift  = 1e-3   // 1000 ppm, ten times what quartzes differ by at the worst
	candidates = 6
	mostBlocks = 20
	closer     = 4    // lags looked at in a sample
	novelty    = 20.0 // times that the beginning of a note counts more than what may be an echo
	attackTime = 0.08 // s of it
	// Drift is told only from sound spread more widely in time (standard deviation,
	// s) than the echoes of one note are: else a machine that runs slower looks the
	// same.
	driftSpread = 1.5
)

// A found block of A lies lag samples later in B than where it was looked for.
type found struct {
	at, lag, weight float64
	inverted        bool
}

// coarse finds where b may have the sound of a, to about a sample, the likeliest
// first; both at one rate near slowRate, guide beside guide.
func coarse(a, b [][]float64, rate float64) []lie {
	a, b = brightened(a), brightened(b)
	type guess struct {
		lie
		score float64
	}
	var all []guess
	for _, lag := range envelopeLags(a, b, rate) {
		blocks := findBlocks(a, b, lag, rate, mostBlocks)
		l, s := line(blocks, rate)
		l.at += lag
		if !slices.ContainsFunc(all, func(g guess) bool { return math.Abs(g.at-l.at) < 2 }) {
			all = append(all, guess{l, s})
		}
	}
	slices.SortStableFunc(all, func(p, q guess) int { return cmp.Compare(q.score, p.score) })
	var lies []lie
	for _, g := range all {
		lies = append(lies, g.lie)
	}
	return lies
}

// brightened is each channel's difference from sample to sample: it makes the low
// tones, whose waves all look alike, count less.
func brightened(all [][]float64) [][]float64 {
	out := make([][]float64, len(all))
	for c, x := range all {
		out[c] = make([]float64, len(x))
		for i := 1; i < len(x); i++ {
			out[c][i] = x[i] - x[i-1]
		}
	}
	return out
}

// envelopeLags are the lags of b behind a, in samples, at which their loudness
// rises and falls alike, and that at which both begin.
func envelopeLags(a, b [][]float64, rate float64) []float64 {
	frame := max(1, int(frameTime*rate))
	ea, eb := envelope(a, frame), envelope(b, frame)
	lags := []float64{float64((firstSound(eb) - firstSound(ea)) * frame)}
	n := fastlength.From(len(ea) + len(eb))
	c := correlation(ea, eb, n, 1)
	type peak struct {
		lag   int
		value float64
	}
	var peaks []peak
	for lag := -len(ea) + 1; lag < len(eb); lag++ {
		at := func(l int) float64 { return c[(l+n)%n] }
		if v := at(lag); v >= at(lag-1) && v >= at(lag+1) {
			peaks = append(peaks, peak{lag, v})
		}
	}
	slices.SortFunc(peaks, func(p, q peak) int { return cmp.Compare(q.value, p.value) })
	for _, p := range peaks {
		if len(lags) < candidates {
			lags = append(lags, float64(p.lag*frame))
		}
	}
	return lags
}

// firstSound is where an envelope first comes near its loudest.
func firstSound(e []float64) int {
	low, high := slices.Min(e), slices.Max(e)
	return max(0, slices.IndexFunc(e, func(v float64) bool { return v > low+0.2*(high-low) }))
}

func envelope(channels [][]float64, frame int) []float64 {
	e := make([]float64, (len(channels[0])+frame-1)/frame)
	mean := 0.0
	for i := range e {
		for _, x := range channels {
			e[i] += energy(x[i*frame : min(len(x), (i+1)*frame)])
		}
		e[i] = math.Sqrt(e[i])
		mean += e[i] / float64(len(e))
	}
	for i := range e {
		e[i] -= mean
	}
	return e
}

// power is the energy of all channels.
func power(channels [][]float64) float64 {
	sum := 0.0
	for _, x := range channels {
		sum += energy(x)
	}
	return sum
}

func energy(x []float64) float64 {
	sum := 0.0
	for _, v := range x {
		sum += v * v
	}
	return sum
}

// correlation of length n: at lag l (n+l for l < 0) the sum of a(i)·b(i+l). With
// more than one place a sample the lags lie closer, by so much.
func correlation(a, b []float64, n, places int) []float64 {
	fft := fourier.NewFFT(n)
	padded := make([]float64, n)
	copy(padded, a)
	fa := fft.Coefficients(nil, padded)
	clear(padded)
	copy(padded, b)
	fb := fft.Coefficients(nil, padded)
	for i, v := range fa {
		fb[i] *= complex(real(v)/float64(n), -imag(v)/float64(n))
	}
	if places == 1 {
		return fft.Sequence(padded, fb)
	}
	wide := fourier.NewFFT(n * places)
	return wide.Sequence(nil, append(fb, make([]complex128, n*places/2+1-len(fb))...))
}

// findBlocks looks for blocks of a in b, near lag.
func findBlocks(a, b [][]float64, lag, rate float64, most int) []found {
	var all []found
	louder := power(b) / math.Max(power(a), 1e-300)
	for _, block := range onsets(a, rate, most) {
		if f, ok := findBlock(a, b, block, rate, louder, int(lag)); ok {
			all = append(all, f)
		}
	}
	return all
}

// An onset is where a block begins. Novel ones come out of what was softer before:
// notes, where others may be echoes of them.
type onset struct {
	at, size int
	worth    float64
}

// onsets are the steepest rises of the loudest half seconds, most at the most. A
// block that begins before the sound does has it whole.
func onsets(channels [][]float64, rate float64, most int) []onset {
	frame, cell := int(frameTime*rate), int(blockTime/frameTime)
	e := make([]float64, len(channels[0])/frame)
	for _, x := range channels {
		for i, v := range blockEnergies(x, frame) {
			e[i] += v
		}
	}
	var all []onset
	for from := 0; from < len(e); from += cell {
		to := min(len(e), from+cell)
		best, rise := from, -1.0
		for i := from; i < to; i++ {
			if r := e[i] - e[max(0, i-1)]; r > rise {
				best, rise = i, r
			}
		}
		sound := sum(e[best:min(len(e), best+cell)])
		if sound <= 0 {
			continue
		}
		before := greatest(e[max(0, best-2*cell):max(0, best-1)])
		after := greatest(e[best:min(len(e), best+4)])
		novel := math.Max(0, 1-4*before/after)
		size := blockTime * rate
		if novel > 0.5 { // before an echo may come
			size = attackTime * rate
		}
		all = append(all, onset{at: max(0, (best-2)*frame), size: int(size), worth: math.Sqrt(sound) * (1 + novelty*novel)})
	}
	slices.SortStableFunc(all, func(a, b onset) int { return cmp.Compare(b.worth, a.worth) })
	return all[:min(most, len(all))]
}

// greatest is 0 of none.
func greatest(x []float64) float64 { return slices.Max(append([]float64{0}, x...)) }

func sum(x []float64) float64 {
	s := 0.0
	for _, v := range x {
		s += v
	}
	return s
}

// findBlock correlates a block with every place of b within reach of where it is
// looked for. A place where b is soft is not scaled up: of a tone that dies away,
// every wave is like the one before but for that. Louder is how much more energy B
// has than A on the whole.
func findBlock(a, b [][]float64, o onset, rate, louder float64, lag int) (found, bool) {
	size, reach := min(o.size, len(a[0])-o.at), int(searchTime*rate)
	n := fastlength.From(2 * (size + reach))
	for !fastlength.Is(closer * n) {
		n = fastlength.From(n + 1)
	}
	cross := make([]float64, closer*n)
	here := 0.0
	there := make([]float64, size+2*reach+1) // energy of b up to each sample
	for c := range a {
		x := a[c][o.at : o.at+size]
		y := stretch(b[c], o.at+lag-reach, size+2*reach)
		here += energy(x)
		for i, v := range correlation(x, y, n, closer) {
			cross[i] += v
		}
		e := 0.0
		for i, v := range y {
			e += v * v
			there[i+1] += e
		}
	}
	// Where B is softer than A would be, it is no more alike for it: or a part of a
	// note would do for the whole, and silence for anything.
	least := here * louder
	best, bestAt := 0.0, -1
	for l, v := range cross[:2*reach*closer+1] {
		k := l / closer
		if r := v / math.Sqrt(here*math.Max(least, there[k+size]-there[k])+1e-300); math.Abs(r) > math.Abs(best) {
			best, bestAt = r, l
		}
	}
	if bestAt < 0 {
		return found{}, false
	}
	return found{at: float64(o.at) + float64(size)/2, lag: float64(bestAt)/closer - float64(reach), weight: best * best * o.worth, inverted: best < 0}, true
}

// stretch is n samples of x from the given one on, silent beyond its ends.
func stretch(x []float64, from, n int) []float64 {
	out := make([]float64, n)
	if start := max(0, -from); start < n && from+start < len(x) {
		copy(out[start:], x[from+start:])
	}
	return out
}

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
