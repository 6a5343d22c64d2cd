package measure

import (
	"math"

	"gonum.org/v1/gonum/mat"
)

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

// gain is by how much more likely g is than f, as twice the logarithm of the ratio,
// the noise of either being what it leaves itself.
func (g *stage) gain(f, than swayed) float64 {
	return float64(f.count) * 2 * g.high / g.rate * math.Log(f.cost/than.cost)
}

// power is the sum of squares, within what is fitted and its band, of a signal that
// runs along the whole take.
func (g *stage) power(x []float64, rate float64) float64 {
	thin := slowed(rate, band{0, g.high}, int(math.Round(rate/g.rate)), x)[0]
	from := int(math.Round(g.start * g.rate))
	part := thin[from+g.count : from+len(g.wet)]
	return dot(part, part)
}

// steps of the difference quotients.
var swaySteps = map[turned]float64{
	turnDelay: 1e-8, turnGain: 1e-6, turnFed: 1e-6, turnLeak: 1e-6, turnLeakAt: 1e-8,
	turnHigh: 1e-9, turnSecond: 1e-13, turnLow: 1e-2, turnSine: 1e-7, turnCosine: 1e-7, turnRate: 1e-5,
}

func (m *swaying) dials() []dial {
	all := m.still.dials()
	for i, d := range all {
		if d.what == turnDelay && m.reach > 0 {
			all[i].low, all[i].high = math.Max(d.low, *d.value-m.reach), *d.value+m.reach
		}
	}
	for i := range m.sways {
		w := &m.sways[i]
		if w.rate > 0 {
			low, high := 0.15, mostWow
			if i == 1 {
				low, high = 4, 22
			}
			all = append(all, dial{turnSine, i, &w.sine, -0.02, 0.02}, dial{turnCosine, i, &w.cosine, -0.02, 0.02},
				dial{turnRate, i, &w.rate, low, high})
		}
	}
	return all
}

// mostWow is the fastest wow, Hz; flutter begins below.
const mostWow = 4.4

// problem is what m leaves of the stage, as a function of dials.
func (g *stage) problem(m *swaying, dials []dial) (problem, []float64) {
	p := problem{length: len(g.wet) - g.count}
	var x []float64
	for _, d := range dials {
		x = append(x, *d.value)
		p.step = append(p.step, swaySteps[d.what])
		p.low, p.high = append(p.low, d.low), append(p.high, d.high)
	}
	r := rehearsal{stage: g, unit: m, dials: dials}
	p.residuals = r.residuals
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
