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
