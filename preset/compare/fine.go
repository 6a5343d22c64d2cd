package compare

import "math"

// fineTime in s is the length of the blocks of which each has a weight of its own:
// short against the delays of an echo machine.
const fineTime = 0.02

// tempering times what is left on the whole is added to what each block left, less
// in every turn.
const tempering = 10

// sums of a block: products of a, of b as it lies now, and of b's slope d.
type sums struct{ n, aa, ab, bb, ad, bd, dd float64 }

// A fit says how a lies in b, and what is known of it. Gain carries the sign.
type fit struct {
	lie
	gain                 float64
	shift                [2]float64 // times the gain, still to be made at the middle of the takes, and more of it towards their end
	atSD, stepSD, gainSD float64    // of the place in samples, of the step, of the gain as a ratio
	drifts               bool       // whether the takes tell drift at all
	from, to             int        // samples of a that have b beside them
	blocks               []sums
	worth                []float64 // of each block as evidence
	size                 int
}

// fitting is the work of a fit.
type fitting struct {
	a, b  [][]float64
	rate  float64
	floor float64 // mean square of what cannot be told, of all guides together
	reader
}

// fine fits the lie to a small part of a sample. Each turn reads b anew where the
// last one found it; a shift of a hundredth of a sample is left to a straight line.
func (w fitting) fine(l lie, turns int) fit {
	const enough = 1e-4
	var f fit
	for range turns {
		f = w.blocks(l)
		at, slope := f.solve(w.floor)
		l.at, l.step = l.at+at, l.step+slope
		f.lie = l
		if math.Abs(at)+math.Abs(slope)*float64(f.to) < enough {
			break
		}
	}
	return f
}

// beside is which samples of a have all of b beside them that reading needs.
func (w fitting) beside(l lie) (from, to int) {
	margin := float64(w.half + 1)
	first := (margin - l.at) / l.step
	last := (float64(len(w.b[0])) - margin - l.at) / l.step
	from = max(0, int(math.Ceil(first)))
	to = min(len(w.a[0]), int(last))
	return from, max(from, to)
}

// laid is channel x of b as it lies beside samples from to to of a.
func (w fitting) laid(x []float64, l lie, from, to int) []float64 {
	return w.read(x, l.at+float64(from)*l.step, l.step, to-from)
}

func (w fitting) blocks(l lie) fit {
	f := fit{lie: l, size: max(64, int(fineTime*w.rate))}
	f.from, f.to = w.beside(l)
	f.blocks = make([]sums, (f.to-f.from+f.size-1)/f.size)
	for c := range w.a {
		b := w.laid(w.b[c], l, f.from, f.to)
		d := slope(b)
		a := w.a[c][f.from:f.to]
		for k := range f.blocks {
			end := min((k+1)*f.size, len(a))
			f.blocks[k].add(a[k*f.size:end], b[k*f.size:end], d[k*f.size:end])
		}
	}
	for k := range f.blocks {
		f.worth = append(f.worth, 1+novelty*novel(k, f.blocks, ofA)*novel(k, f.blocks, ofB))
	}
	return f
}

func (s *sums) add(a, b, d []float64) {
	b, d = b[:len(a)], d[:len(a)]
	var aa, ab, bb, ad, bd, dd float64
	for i, x := range a {
		y, z := b[i], d[i]
		aa, ab, bb = aa+x*x, ab+x*y, bb+y*y
		ad, bd, dd = ad+x*z, bd+y*z, dd+z*z
	}
	s.n += float64(len(a))
	s.aa, s.ab, s.bb, s.ad, s.bd, s.dd = s.aa+aa, s.ab+ab, s.bb+bb, s.ad+ad, s.bd+bd, s.dd+dd
}

// left is the energy that a block leaves of a where b is taken off with gain g and
// shifted by p/g.
func (s sums) left(g, p float64) float64 {
	return math.Max(0, s.aa+g*g*s.bb+p*p*s.dd-2*g*s.ab-2*p*s.ad+2*g*p*s.bd)
}

// weight is one over what the block leaves per sample, floor added, and falls to
// nothing for a block of which B explains nothing: it has other echoes, which
// would draw the gain down.
func (s sums) weight(g, p, floor float64) float64 {
	left := s.left(g, p)
	if s.aa <= 0 || left >= s.aa {
		return 0
	}
	return (1 - left/s.aa) * s.n / (left + s.n*floor)
}

// solve finds gain, shift and slope of the shift by weighted least squares. A
// block's weight is one over what it left per sample, which is what makes the
// result most likely if every block has noise of a level of its own. That is begun
// in two ways, of which the likelier is kept: with all blocks counting nearly alike,
// so that the few that happen to fit do not decide; and with both takes as loud as
// each other, as they are where little but the direct sound is the same.
func (f *fit) solve(floor float64) (at, slope float64) {
	var all sums
	for _, s := range f.blocks {
		all = all.with(s)
	}
	if all.bb == 0 || all.aa == 0 {
		f.gain = 0
		return 0, 0
	}
	least := all.ab / all.bb
	loud := math.Sqrt(all.aa / all.bb)
	even := tempering * math.Max(0, all.aa-all.ab*least) / all.n
	f.drifts = f.long()
	best, cost := state{}, math.Inf(1)
	for _, start := range []struct{ gain, even float64 }{{least, even}, {loud, 0}, {-loud, 0}} {
		s := f.weigh(state{g: start.gain}, start.even, floor)
		if c := f.cost(s, floor); s.g != 0 && c < cost {
			best, cost = s, c
		}
	}
	f.gain, f.shift = best.g, best.p
	if best.g == 0 {
		return 0, 0
	}
	f.deviate(best.normal)
	slope = held(best.p[1]/best.g) / f.halfLength()
	return held(best.p[0]/best.g) - slope*f.centre(), slope
}

// long says whether the sound of both is spread widely enough in time to tell drift.
func (f *fit) long() bool {
	var m moments
	for k, s := range f.blocks {
		m.add(float64(k), s.dd)
	}
	return m.deviation()*fineTime > driftSpread
}

// held keeps a shift to where a straight line may stand for the sound.
func held(shift float64) float64 { return math.Max(-1, math.Min(1, shift)) }

// A state of the weighing: the gain, the shift at the middle of the takes and what
// is added to it towards their end, both times the gain.
type state struct {
	g float64
	p [2]float64
	normal
}

// weigh solves and weighs anew until nothing moves; even is what is added at first
// to the mean square that a block leaves.
func (f *fit) weigh(s state, even, floor float64) state {
	for range mostWeighings {
		s.normal = normal{}
		for k, b := range f.blocks {
			u := f.middle(k)
			s.add(b, u, b.weight(s.g, s.p[0]+s.p[1]*u, floor+even))
		}
		was := s
		s.g, s.p[0], s.p[1] = s.normal.solve(f.drifts)
		still := math.Abs(s.g-was.g) + math.Abs(s.p[0]-was.p[0]) + math.Abs(s.p[1]-was.p[1])
		if s.g == 0 || even < floor && still < 1e-9*math.Abs(s.g) {
			break
		}
		even *= 0.2
	}
	return s
}

// cost is less the likelier a state is: the logarithm of what every block leaves. A
// block that B does not explain counts as it is, however badly B fits.
func (f *fit) cost(s state, floor float64) float64 {
	sum := 0.0
	for k, b := range f.blocks {
		left := b.left(s.g, s.p[0]+s.p[1]*f.middle(k))
		sum += f.worth[k] * b.n * math.Log(math.Min(left, b.aa)/b.n+floor)
	}
	return sum
}

// mostWeighings is how often the weights are taken anew: the most that the least of
// them needs to come down from tempering, and some more.
const mostWeighings = 60

// deviate sets what is known of the fit: the roots of the diagonal of the inverse
// of the normal matrix, as the weights are one over the noise's variance. The place
// is that of A's beginning.
func (f *fit) deviate(n normal) {
	v, ok := n.inverse(f.drifts)
	if !ok {
		return
	}
	root := func(variance float64) float64 { return math.Sqrt(math.Max(0, variance)) }
	back := f.centre() / f.halfLength()
	f.gainSD = root(v[0][0])
	f.atSD = root(v[1][1]-2*back*v[1][2]+back*back*v[2][2]) / math.Abs(f.gain)
	f.stepSD = root(v[2][2]) / math.Abs(f.gain) / f.halfLength()
}

func (f *fit) centre() float64     { return float64(f.from+f.to) / 2 }
func (f *fit) halfLength() float64 { return math.Max(1, float64(f.to-f.from)/2) }

// middle of a block: −1 at the beginning of what both have, 1 at its end.
func (f *fit) middle(k int) float64 {
	return (float64(f.from) + (float64(k)+0.5)*float64(f.size) - f.centre()) / f.halfLength()
}

// normal are the normal equations for gain, shift and slope: their matrix is
// symmetric, their unknowns g, p0 and p1 in g·b + (p0 + p1·u)·d.
type normal struct{ bb, bd, bud, dd, dud, duud, ab, ad, aud float64 }

func (n *normal) add(s sums, u, w float64) {
	n.bb, n.bd, n.bud = n.bb+w*s.bb, n.bd+w*s.bd, n.bud+w*u*s.bd
	n.dd, n.dud, n.duud = n.dd+w*s.dd, n.dud+w*u*s.dd, n.duud+w*u*u*s.dd
	n.ab, n.ad, n.aud = n.ab+w*s.ab, n.ad+w*s.ad, n.aud+w*u*s.ad
}

func (n *normal) inverse(drifts bool) ([3][3]float64, bool) {
	if !drifts {
		det := n.bb*n.dd - n.bd*n.bd
		return [3][3]float64{{n.dd / det, -n.bd / det}, {-n.bd / det, n.bb / det}}, det > 0
	}
	a, b, c, d, e, g := n.bb, n.bd, n.bud, n.dd, n.dud, n.duud
	det := a*(d*g-e*e) - b*(b*g-c*e) + c*(b*e-c*d)
	i := [3][3]float64{
		{d*g - e*e, c*e - b*g, b*e - c*d},
		{c*e - b*g, a*g - c*c, b*c - a*e},
		{b*e - c*d, b*c - a*e, a*d - b*b},
	}
	for r := range i {
		for k := range i[r] {
			i[r][k] /= det
		}
	}
	return i, det > 0
}

func (n *normal) solve(drifts bool) (g, p0, p1 float64) {
	i, ok := n.inverse(drifts)
	if !ok {
		return 0, 0, 0
	}
	right := [3]float64{n.ab, n.ad, n.aud}
	var out [3]float64
	for r := range i {
		for k, v := range i[r] {
			out[r] += v * right[k]
		}
	}
	return out[0], out[1], out[2]
}
