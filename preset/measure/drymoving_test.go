package measure

import (
	"math"
	"math/rand"
	"slices"
	"testing"

	"github.com/stretchr/testify/require"
)

// swayingStage is a stage of noise with a unit that wavers on it.
func swayingStage(feeds ...bool) (*stage, swaying) {
	rng := rand.New(rand.NewSource(12))
	g := &stage{rate: 6000, high: 1600, table: kernelTable(), weighing: newWeighing(6000, 1600), count: 500}
	g.dry, g.wet = hissed(rng, make([]float64, 4000), -10), hissed(rng, make([]float64, 4000), -10)
	m := swaying{still: still{
		delay: []float64{0.03, 0.05}, gain: []float64{0.7, -0.4}, fed: []float64{0, 0}, feeds: feeds,
		leaks: true, leak: 0.2, leakAt: 1e-4, tone: shape{high: 4e-5, low: 500}, parts: []turned{turnHigh, turnLow},
	}}
	for k, on := range feeds {
		if on {
			m.fed[k] = 0.3
		}
	}
	m.sways[0] = sway{sine: 1e-3, cosine: 5e-4, rate: 1.3}
	return g, m
}

// Playing only what a turned dial changes gives the same as playing everything.
func TestALightRehearsalIsAFullOne(t *testing.T) {
	for _, feeds := range [][]bool{{false, true}, {false, false}, {true, true}} {
		g, m := swayingStage(feeds...)
		dials := m.dials()
		p, x := g.problem(&m, dials)
		once := make([]float64, p.length)
		require.True(t, p.residuals(x, once))
		for i := range dials {
			moved := slices.Clone(x)
			moved[i] += 10 * p.step[i]
			light, full := make([]float64, p.length), make([]float64, p.length)
			require.True(t, p.residuals(moved, light))
			fresh, _ := g.problem(&m, dials)
			require.True(t, fresh.residuals(moved, full))
			for k := range full {
				require.InDelta(t, full[k], light[k], 1e-12, "dial %d, sample %d", i, k)
			}
		}
	}
}

// What a unit plays leaves nothing of what it has played: fitting begins at zero.
func TestAUnitExplainsWhatItPlayed(t *testing.T) {
	g, m := swayingStage(false, true)
	g.wet = make([]float64, len(g.dry))
	p, ok := g.play(&m)
	require.True(t, ok)
	for i := range g.wet {
		g.wet[i] = -p.rest[i]
	}
	away := m.clone()
	away.delay[0] += 2e-5
	away.gain[1] *= 1.1
	away.sways[0].sine *= 0.8
	f := g.fit(away, 20, 1e-9)
	require.Less(t, f.cost, 1e-6*dot(g.wet, g.wet))
	require.InDelta(t, m.delay[0], f.unit.delay[0], 1e-7, "a fiftieth of the aim")
	require.InDelta(t, m.sways[0].peak(), f.unit.sways[0].peak(), 1e-5)
}

func TestAUnitThatCannotBePlayed(t *testing.T) {
	g, m := swayingStage(false, true)
	m.delay[0] = 0.002 // 12 samples: nothing can be read of the memory so early
	_, ok := g.play(&m)
	require.False(t, ok)
	g, m = swayingStage(true, true)
	m.fed = []float64{9, 9}
	_, ok = g.play(&m)
	require.False(t, ok, "it runs away")
}

// The band in which a motion is looked for is the dullest that sounds.
func TestTheDullestBandThatSounds(t *testing.T) {
	const rate, noise = 8000.0, 1e-8
	for hz, want := range map[float64]float64{200: 600, 800: 1000, 1400: 1600, 3000: 1600} {
		x := make([]float64, int(rate))
		for i := range x {
			x[i] = 0.1 * math.Sin(2*math.Pi*hz*float64(i)/rate) * math.Sin(math.Pi*float64(i)/rate)
		}
		require.Equal(t, want, newSpectra(x, x, rate).dullest(noise), "a tone of %g Hz", hz)
	}
}

// A head named first stays first though a wavering carrier throws shadows ahead of
// it; something loud and by itself before it stays a head.
func TestShadowsAreNoHeads(t *testing.T) {
	loud, shadow, early := arrival{at: 0.1, amp: 1}, arrival{at: 0.09, amp: 0.2}, arrival{at: 0.05, amp: 0.2}
	require.False(t, outspokenBefore([]arrival{shadow, loud}, 1, 0.1))
	require.True(t, outspokenBefore([]arrival{early, loud}, 1, 0.1))
	require.False(t, outspokenBefore([]arrival{early, loud}, 1, 0.3))
	best := guesses([]arrival{loud, shadow}, 1, 1)
	require.InDelta(t, 0.1, best[0].heads[0].at, 1e-12)
}

// A correlation without a top of its own must not lead out of it.
func TestAFlatCorrelationHasItsArrivalsInside(t *testing.T) {
	n := 4000
	p := pursuit{rate: 1000, own: make([]float64, n), seen: make([]float64, n)}
	p.own[0] = 1
	for i := range p.seen {
		p.seen[i] = 1 - 1e-15*float64(i%3) // three in a row are all but a straight line
	}
	for _, a := range p.arrivals(2).arrivals {
		require.True(t, a.at >= 0 && a.at <= 2.1, "%v", a)
	}
}
