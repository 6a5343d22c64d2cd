package compare

import (
	"cmp"
	"math"
	"math/cmplx"
	"slices"

	"gonum.org/v1/gonum/dsp/fourier"

	"echowright/preset"
	"echowright/preset/fastlength"
)

const (
	windowRate   = 12000.0 // Hz, at least: echoes are dull
	finer        = 8       // places of a response between two samples of it
	lowest       = 200.0   // Hz
	highest      = 4500.0  // Hz
	windowTime   = 0.0015  // s to either side of an echo that is compared
	reachTime    = 0.015   // s that an echo may lie elsewhere in B
	nearestHead  = 0.02    // s: no head stands nearer to the record head
	farthestEcho = 4.0     // s
	phrase       = 8.0     // s of playing, where its direct sound is known, tell enough
	regular      = 0.01    // of the note's mean power, added before dividing by it
	overNoise    = 6.0     // deviations that an echo stands out
	mostEchoes   = 48      // that stand out: where there are more, none are echoes of a note
	rippleTime   = 0.06    // s
	ripple       = 0.2
	// Noise apart, no echo is known better: machines of other tone shape it otherwise.
	surestMillis = 0.01
	surestDB     = 0.1
)

// A response is what the direct sound made of itself, in finer steps than samples.
type response struct {
	h     []float64
	step  float64 // s
	noise float64 // standard deviation, from the most of it in which nothing stands
	width float64 // RMS bandwidth of its pulses, rad/s
}

// byWindows compares echoes where they stand out of the response to the first note:
// those of A with B as it lies. Where the direct sound has no channel of its own,
// it is what comes before the first echo, in each take by itself: so the echoes are
// held against their own direct sound, whatever became of that.
func (r *Result) byWindows(a Take, f fit) []Echo {
	rate := float64(r.Traces.Rate)
	step := math.Max(1, math.Floor(rate/windowRate))
	both := thinned([][]float64{r.Traces.A, r.Traces.B}, step)
	rate /= step
	if a.Dry > 0 {
		dry := thinned([][]float64{a.Channels[a.Dry-1][f.from:f.to]}, step)[0]
		on, _ := note(dry, rate)
		end := min(len(dry), on+int(phrase*rate))
		return compareEchoes(dry[on:end], both[0][on:end], dry[on:end], both[1][on:end], rate)
	}
	on, end := note(both[0], rate)
	x, y := both[0][on:end], both[1][on:end]
	length := 0.03
	for range 2 { // once the first echo is known, the note may last up to it
		direct := gated(x, int(length*rate), rate)
		ha := respond(direct, x, rate, trust(len(x), rate, direct))
		first := ha.peaks(nearestHead)
		if len(first) == 0 {
			return nil
		}
		if longer := math.Min(0.2, 0.95*float64(first[0])*ha.step); longer > length {
			length = longer
		}
	}
	return compareEchoes(gated(x, int(length*rate), rate), x, gated(y, int(length*rate), rate), y, rate)
}

// compareEchoes looks for each echo of a, whose direct sound is known, in b.
func compareEchoes(directA, a, directB, b []float64, rate float64) []Echo {
	both := trust(len(a), rate, directA, directB)
	ha, hb := respond(directA, a, rate, both), respond(directB, b, rate, both)
	var all []Echo
	for _, at := range ha.peaks(nearestHead) {
		all = append(all, ha.compare(hb, at))
	}
	return all
}

// note is where the first note begins and where its echoes end: before the next
// that rises out of a second of softer sound.
func note(x []float64, rate float64) (on, end int) {
	size := max(1, int(0.002*rate))
	e := blockEnergies(x, size)
	if len(e) == 0 {
		return 0, len(x)
	}
	most := slices.Max(e)
	first := slices.IndexFunc(e, func(v float64) bool { return v > 0.003*most })
	end = min(len(x), first*size+int(farthestEcho*rate))
	for i := first + int(rate)/size; i < len(e) && i*size < end; i++ {
		if e[i] > 16*slices.Max(e[i-int(rate)/size:i])+1e-4*most {
			end = (i - 2) * size
			break
		}
	}
	return max(0, (first-1)*size), end
}

// gated is the beginning of x, faded out over 2 ms.
func gated(x []float64, n int, rate float64) []float64 {
	n = min(n, len(x))
	out := slices.Clone(x[:n])
	fade := min(n, int(0.002*rate))
	for i := range fade {
		out[n-1-i] *= float64(i) / float64(fade)
	}
	return out
}

// respond divides the spectrum of y by that of x and gives the response so that
// what x itself would leave has the height 1 at 0. Trust says how much each bin
// counts: see [trust].
func respond(x, y []float64, rate float64, trust []float64) response {
	n := 2 * (len(trust) - 1)
	fft := fourier.NewFFT(n)
	fx, fy := spectrum(fft, x), spectrum(fft, y)
	fine := fourier.NewFFT(finer * n)
	out := make([]complex128, fine.Len()/2+1)
	var height, second float64
	for i, v := range fx {
		height += 2 * trust[i]
		second += 2 * trust[i] * math.Pow(2*math.Pi*float64(i)*rate/float64(n), 2)
		if p := real(v * cmplx.Conj(v)); p > 0 {
			out[i] = fy[i] * cmplx.Conj(v) * complex(trust[i]/p, 0)
		}
	}
	h := fine.Sequence(nil, out)[:min(fine.Len(), finer*len(y), int(farthestEcho*rate*finer))]
	for i := range h {
		h[i] /= math.Max(height, 1e-300)
	}
	return response{h: h, step: 1 / (rate * finer), width: math.Sqrt(second / math.Max(height, 1e-300)), noise: typical(h)}
}

// trust is how much each bin counts in responses to x of sound of so many samples:
// the band, and less where x has next to nothing. Where several sounds are given,
// each must have something: responses to them can be held against each other.
func trust(samples int, rate float64, sounds ...[]float64) []float64 {
	n := fineLength(samples + len(sounds[0]))
	fft := fourier.NewFFT(n)
	all := make([]float64, n/2+1)
	for i := range all {
		all[i] = pass(float64(i) * rate / float64(n))
	}
	for _, x := range sounds {
		f := spectrum(fft, x)
		mean, inside := 0.0, 0.0
		for i, v := range f {
			g := pass(float64(i) * rate / float64(n))
			mean, inside = mean+g*real(v*cmplx.Conj(v)), inside+g
		}
		floor := regular*mean/math.Max(inside, 1) + 1e-300
		for i, v := range f {
			p := real(v * cmplx.Conj(v))
			all[i] *= p / (p + floor)
		}
	}
	return all
}

// spectrum is that of x, padded with silence.
func spectrum(fft *fourier.FFT, x []float64) []complex128 {
	padded := make([]float64, fft.Len())
	copy(padded, x)
	return fft.Coefficients(nil, padded)
}

// fineLength is the least even length from n up on which, and on finer times of which, a
// transform is quick.
func fineLength(n int) int {
	for n = fastlength.From(n); n%2 == 1 || !fastlength.Is(finer*n); {
		n = fastlength.From(n + 1)
	}
	return n
}

// pass is a band with raised-cosine edges.
func pass(f float64) float64 {
	rise := func(x float64) float64 { return 0.5 - 0.5*math.Cos(math.Pi*math.Max(0, math.Min(1, x))) }
	return rise((f-lowest/2)/(lowest/2)) * rise((1.3*highest-f)/(0.3*highest))
}

// typical is the standard deviation that noise would have whose median is that of x.
func typical(x []float64) float64 {
	var some []float64
	for i := 0; i < len(x); i += 7 {
		some = append(some, math.Abs(x[i]))
	}
	if len(some) == 0 {
		return 0
	}
	slices.Sort(some)
	return some[len(some)/2] / 0.6745 // of a Gaussian
}

// peaks are the places where echoes stand out, by time, from so many s on.
func (r response) peaks(from float64) []int {
	least := math.Max(overNoise*r.noise, weakestEcho.Amplitude())
	apart := int(0.002 / r.step)
	var tops []int
	for i := max(1, int(from/r.step)); i+1 < len(r.h); i++ {
		if v := math.Abs(r.h[i]); v > least && v >= math.Abs(r.h[i-1]) && v > math.Abs(r.h[i+1]) {
			tops = append(tops, i)
		}
	}
	slices.SortStableFunc(tops, func(i, j int) int { return cmp.Compare(math.Abs(r.h[j]), math.Abs(r.h[i])) })
	// The direct sound and every echo leave ripples beside them, as the division by
	// a note's spectrum is never perfect: what is weak and near to a peak is its own.
	ripples := int(rippleTime / r.step)
	top := func(i int) float64 {
		if i == 0 {
			return 1
		}
		return math.Abs(r.h[i])
	}
	kept := []int{0}
	for _, i := range tops {
		own := slices.ContainsFunc(kept, func(k int) bool {
			d := max(i-k, k-i)
			return d < apart || d < ripples && top(i) < ripple*top(k)
		})
		if !own {
			kept = append(kept, i)
		}
	}
	if len(kept) > mostEchoes {
		return nil
	}
	slices.Sort(kept)
	return kept[1:]
}

// compare correlates what stands round a place with b: how much later it is there,
// and how much louder.
func (r response) compare(b response, at int) Echo {
	half := int(windowTime / r.step)
	from, to := max(0, at-half), min(len(r.h), at+half+1)
	score := func(shift int) (cross, there float64) {
		for i := from; i < to; i++ {
			if k := i + shift; k >= 0 && k < len(b.h) {
				cross += r.h[i] * b.h[k]
				there += b.h[k] * b.h[k]
			}
		}
		return cross, there
	}
	best, bestShift := 0.0, 0
	look := func(from, to, step int) {
		for s := from; s <= to; s += step {
			if c, _ := score(s); c > best {
				best, bestShift = c, s
			}
		}
	}
	reach := int(reachTime / r.step)
	look(-reach, reach, finer/2)
	look(bestShift-finer/2, bestShift+finer/2, 1)
	own := energy(r.h[from:to])
	e := Echo{At: preset.Millis(1000 * r.step * float64(at)), Level: preset.FromAmplitude(r.h[at])}
	if gain := best / own; gain*math.Abs(r.h[at]) < overNoise/2*b.noise || gain < 0.05 {
		e.Missing = true
		return e
	}
	before, _ := score(bestShift - 1)
	after, there := score(bestShift + 1)
	top := vertex(before, best, after)
	e.Delta = preset.Millis(1000 * r.step * (float64(bestShift) + top))
	e.DeltaDB = preset.Decibels(10 * math.Log10(there/own))
	// The bounds for a pulse of that bandwidth in that noise (Kay, 1993): the delay's
	// is noise over slope, the amplitude's noise over height.
	na, nb := r.noise/math.Abs(r.h[at]), b.noise/(math.Abs(r.h[at])*best/own)
	e.DeltaSD = preset.Millis(math.Hypot(1000*math.Hypot(na, nb)/r.width, surestMillis))
	e.DeltaDBSD = preset.Decibels(math.Hypot(nepers*math.Hypot(na, nb), surestDB))
	return e
}

// vertex is where the parabola through three values, at −1, 0 and 1, is highest
// (Smith, Spectral Audio Signal Processing).
func vertex(before, at, after float64) float64 {
	if bend := before - 2*at + after; bend < 0 {
		return (before - after) / (2 * bend)
	}
	return 0
}
