package measure

import (
	"cmp"
	"math"
	"slices"

	"gonum.org/v1/gonum/mat"
)

const (
	// A carrier is thought of as moving where the still unit leaves so many times
	// the noise, and taken for moving where that leaves less than worthSway of it.
	restlessFrom = 1.5
	worthSway    = 0.5
	worthFlutter = 0.7
	swaysTried   = 2

	dullStage, dullHigh = 2400.0, 600.0 // Hz: rate at the least, and band, in which wow is looked for
	lowStage, lowHigh   = 5000.0, 1600.0
	fineStage, fineHigh = 11_000.0, 3300.0
	longStage           = 9.0 // s
	shortStage          = 4.0
)

// restless tells whether the still unit leaves more than noise.
func (e explanation) restless() bool {
	if e.c.wetNoise == 0 {
		return meanSquare(e.left) > 1e-4*meanSquare(e.c.wet)
	}
	return meanSquare(e.left) > restlessFrom*e.c.wetNoise
}

// sway looks for a motion of the carrier and takes it up if it explains much of
// what is left.
func (e *explanation) sway(s *spectra) {
	m, ok := newStage(e.c, dullStage, dullHigh, longStage).search(e.dull(s), 0, wowRates(e.seconds()))
	if !ok {
		return
	}
	low := newStage(e.c, lowStage, lowHigh, shortStage)
	m = low.fit(m.awake(), 8, 1e-3).unit.withoutWeakFeeds()
	if with, ok := low.search(m, 1, flutterRates()); ok {
		m = with
	}
	fine := newStage(e.c, fineStage, fineHigh, longStage)
	f := fine.fit(m.awake(), 10, 1e-5)
	f.unit.tone.step = 1 / e.c.rate
	computed := fine.fit(f.unit, 6, 1e-5)
	f.unit.tone.step = 0
	if computed.cost < f.cost {
		f = computed
	}
	rest := make([]float64, len(fine.wet))
	if f.unit.sways[0].peak() == 0 || !fine.rest(&f.unit, rest) || f.normal == nil {
		return
	}
	if meanSquare(rest[fine.count:]) < worthSway*meanSquare(e.left) {
		e.adopt(f, rest, fine)
	}
}

// dull is the still unit fitted to so low a band that motion matters little.
func (e *explanation) dull(s *spectra) swaying {
	u := e.unit.withAllFeeds()
	if !e.leakSeen { // the still unit took a motion for it
		u.leaks, u.leak = false, 0
	}
	u.parts = []turned{turnHigh, turnLow}
	u.tone = shape{high: roughHigh, low: roughLow}
	s.assume(math.Max(e.c.wetNoise, 1e-4*meanSquare(e.c.wet)))
	return swaying{still: s.fit(u, s.blocks(60, dullHigh, fewBins), 10, 1e-3).unit}
}

func (m swaying) awake() swaying {
	m.still = m.still.awake()
	return m
}

func (m swaying) withoutWeakFeeds() swaying {
	m = m.clone()
	top := 0.0
	for _, g := range m.fed {
		top = math.Max(top, math.Abs(g))
	}
	for k, g := range m.fed {
		if math.Abs(g) < math.Max(0.02, 0.15*top) {
			m.feeds[k], m.fed[k] = false, 0
		}
	}
	return m
}

// adopt takes a wavering unit for what the take holds.
func (e *explanation) adopt(f swayed, rest []float64, g *stage) {
	e.unit = f.unit.still
	e.moves = &f.unit
	e.fitted = span{g.start + float64(g.count)/g.rate, g.start + float64(len(g.wet))/g.rate}
	// What is left is no white noise: it lies where the sound is.
	e.told = figuresOf(f.unit.still, f.covariance())
	e.left = make([]float64, len(e.c.wet))
	step := int(math.Round(e.c.rate / g.rate))
	from := int(math.Round(g.start * e.c.rate))
	for i := range e.left {
		if k := (i - from) / step; i >= from && k < len(rest) {
			e.left[i] = rest[k]
		}
	}
}

func (e explanation) seconds() float64 {
	return math.Min(longStage, float64(len(e.c.wet))/e.c.rate)
}

// wowRates are so near to each other that the true one lies in the valley of its
// neighbour over a take of that many seconds.
func wowRates(seconds float64) []float64 {
	var all []float64
	for hz := 0.25; hz < 4.2; hz += math.Max(0.35/seconds, 0.04*hz) {
		all = append(all, hz)
	}
	return all
}

func flutterRates() []float64 {
	var all []float64
	for hz := 4.2; hz < 20; hz += math.Max(0.12, 0.02*hz) {
		all = append(all, hz)
	}
	return all
}

// swayed is a wavering unit fitted on a stage.
type swayed struct {
	unit   swaying
	cost   float64
	normal *mat.SymDense
	count  int
	band   float64 // share of the stage's band that its sound fills
}

func (f swayed) covariance() *mat.SymDense {
	n := len(f.unit.still.dials())
	cov := inverted(f.normal, f.cost/float64(f.count)*f.band)
	out := mat.NewSymDense(n, nil)
	for i := range n {
		for j := i; j < n; j++ {
			out.SetSym(i, j, cov.At(i, j))
		}
	}
	return out
}

// steps of the difference quotients.
var swaySteps = map[turned]float64{
	turnDelay: 1e-8, turnGain: 1e-6, turnFed: 1e-6, turnLeak: 1e-6, turnLeakAt: 1e-8,
	turnHigh: 1e-9, turnSecond: 1e-13, turnLow: 1e-2, turnSine: 1e-7, turnCosine: 1e-7, turnRate: 1e-5,
}

func (m *swaying) dials() []dial {
	all := m.still.dials()
	for i := range m.sways {
		w := &m.sways[i]
		if w.rate > 0 {
			low, high := 0.15, 4.4
			if i == 1 {
				low, high = 4, 22
			}
			all = append(all, dial{turnSine, i, &w.sine, -0.02, 0.02}, dial{turnCosine, i, &w.cosine, -0.02, 0.02},
				dial{turnRate, i, &w.rate, low, high})
		}
	}
	return all
}

// problem is what m leaves of the stage, as a function of dials.
func (g *stage) problem(m *swaying, dials []dial) (problem, []float64) {
	p := problem{length: len(g.wet) - g.count}
	var x []float64
	for _, d := range dials {
		x = append(x, *d.value)
		p.step = append(p.step, swaySteps[d.what])
		p.low, p.high = append(p.low, d.low), append(p.high, d.high)
	}
	left := make([]float64, len(g.wet))
	p.residuals = func(x, r []float64) bool {
		place(dials, x)
		ok := g.rest(m, left)
		copy(r, left[g.count:])
		return ok
	}
	return p, x
}

func (g *stage) fit(m swaying, rounds int, enough float64) swayed {
	m = m.clone()
	dials := m.dials()
	p, x := g.problem(&m, dials)
	s := p.levenberg(x, rounds, enough)
	place(dials, s.x)
	return swayed{unit: m, cost: s.cost, normal: s.normal, count: p.length, band: math.Max(1, g.rate/2/noteBandwidth)}
}

// noteBandwidth is the band, Hz, in which most of a note lies: what a fit leaves
// lies there too.
const noteBandwidth = 2000.0

// search finds the rate at which the carrier sways: of all rates those that
// promise most by one step of the fit are fitted.
func (g *stage) search(m swaying, which int, rates []float64) (swaying, bool) {
	still := g.fit(m, 6, 1e-2)
	base := still.unit.clone()
	dials := base.dials()
	plain, x := g.problem(&base, dials)
	r := make([]float64, plain.length)
	l := newLines(len(x), plain.length)
	if !plain.residuals(x, r) || !plain.differentiate(x, r, l) {
		return m, false
	}
	now := dot(r, r)
	type promise struct{ rate, left float64 }
	var all []promise
	for _, hz := range rates {
		v := still.unit.clone()
		v.sways[which] = sway{rate: hz}
		more := v.dials()[len(dials):]
		q, y := g.problem(&v, more[:2])
		extra := newLines(2, q.length)
		if !q.differentiate(y, r, extra) {
			continue
		}
		all = append(all, promise{hz, plain.and(q).promise(slices.Concat(x, y), now, l.and(extra, r))})
	}
	slices.SortStableFunc(all, func(a, b promise) int { return cmp.Compare(a.left, b.left) })
	best, ok := still, false
	worth := []float64{worthSway, worthFlutter}[which]
	tried := 0
	var near []float64
	for _, c := range all {
		if tried == swaysTried {
			break
		}
		if slices.ContainsFunc(near, func(f float64) bool { return math.Abs(f-c.rate) < 0.12*f }) {
			continue
		}
		near = append(near, c.rate)
		tried++
		v := still.unit.clone()
		v.sways[which] = sway{rate: c.rate}
		if f := g.fit(v, 8, 1e-2); f.cost < worth*still.cost && f.cost < best.cost {
			best, ok = f, true
		}
	}
	return best.unit, ok
}
