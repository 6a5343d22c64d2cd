package measure

import (
	"math"
	"math/rand"
	"slices"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"echowright/preset"
)

const dryRate = 16_000.0

// nearness is how close a measurement has to come.
type nearness struct {
	delay preset.Millis
	level preset.Decibels
}

// The project's aim for two channels, without motion, and with.
var (
	steadyAim = nearness{0.005, 0.05}
	movingAim = nearness{0.05, 0.2}
	// The aim for one channel and a tone of another shape is 0.3 ms and 0.5 dB; the
	// dry sound being known, a tenth of the one and a fifth of the other is asked.
	shapedAim = nearness{0.03, 0.1}
)

// holds compares what was measured with the truth.
func (c nearness) holds(t *testing.T, want, got preset.Unit) {
	t.Helper()
	require.Len(t, got.Heads, len(want.Heads))
	for k, w := range want.Heads {
		g := got.Heads[k]
		require.InDelta(t, float64(w.Delay), float64(g.Delay), float64(c.delay), "delay of head %d", k+1)
		require.InDelta(t, float64(w.Level), float64(g.Level), float64(c.level), "level of head %d", k+1)
		require.Equal(t, w.Inverted, g.Inverted, "polarity of head %d", k+1)
	}
	require.InDelta(t, float64(want.Direct.EchoToDirect), float64(got.Direct.EchoToDirect), float64(c.level), "echo to direct")
	if want.Feedback == nil {
		require.Nil(t, got.Feedback)
		return
	}
	require.NotNil(t, got.Feedback)
	require.Equal(t, want.Feedback.Heads, got.Feedback.Heads)
	require.InDelta(t, float64(want.Feedback.Gain), float64(got.Feedback.Gain), float64(c.level), "gain of a turn")
}

func numbered(n int) []int {
	var all []int
	for k := range n {
		all = append(all, k+1)
	}
	return all
}

func measuredPair(t *testing.T, dry, wet []float64, rate float64, heads []int) Result {
	t.Helper()
	r, err := Heads(Take{Rate: preset.Hertz(rate), Dry: dry, Samples: wet}, Options{Heads: heads})
	require.NoError(t, err)
	return r
}

func TestTwoChannelsTellTheUnit(t *testing.T) {
	three := simulated{delays: []float64{101.37, 203.72, 310.05}, levels: []float64{-4, 0, -6}, feeds: []int{2}, loop: []float64{0.5}}
	six := simulated{
		delays: []float64{51.2, 99.7, 150.9, 199.3, 252.6, 301.4}, levels: []float64{-3, -6, 0, -2, -8, -5},
		turned: []int{1, 4}, feeds: []int{5}, loop: []float64{0.4},
	}
	for _, c := range []struct {
		name  string
		unit  simulated
		tone  func(float64) complex128
		notes int
		aim   nearness
	}{
		{"one note", three, cutsAt(70, 4000), 1, steadyAim},
		{"a phrase", three, cutsAt(70, 4000), 7, steadyAim},
		{"six heads, overlapping, some inverted", six, cutsAt(60, 3500), 4, steadyAim},
		{"one head, no loop", simulated{delays: []float64{250.03}, levels: []float64{-9}}, cutsAt(0, 3000), 2, steadyAim},
		{"the loop through the first head", simulated{delays: []float64{90.1, 260.2}, levels: []float64{0, -3}, feeds: []int{0}, loop: []float64{0.45}}, cutsAt(50, 5000), 3, steadyAim},
		{"a loop that inverts", simulated{delays: []float64{120.4, 200.2}, levels: []float64{0, -3}, turned: []int{1}, feeds: []int{1}, loop: []float64{-0.4}}, cutsAt(50, 5000), 3, steadyAim},
		{"two heads feed the loop", simulated{delays: []float64{120.4, 201.3}, levels: []float64{0, -3}, feeds: []int{0, 1}, loop: []float64{0.4, 0.28}}, cutsAt(50, 5000), 3, steadyAim},
		{"no tone", three, flat, 3, steadyAim},
		{"the direct sound in the wet channel too", simulated{delays: three.delays, levels: three.levels, feeds: three.feeds, loop: three.loop, leak: 0.5}, cutsAt(70, 4000), 3, steadyAim},
		{"tone of second order", three, with(cutsAt(70, 0), secondOrder(3000, 0.8)), 4, shapedAim},
		{"resonance", three, with(cutsAt(70, 4500), resonance(700, 4, 1.5)), 4, shapedAim},
		{"gap and distance of the heads", three, with(cutsAt(70, 0), carrierLoss(8, 6, 25)), 4, shapedAim},
	} {
		t.Run(c.name, func(t *testing.T) {
			t.Parallel()
			rng := rand.New(rand.NewSource(3))
			c.unit.tone = c.tone
			x := playing(rng, dryRate, 2.8, c.notes)
			y := c.unit.wet(x, dryRate)
			r := measuredPair(t, hissed(rng, x, -75), hissed(rng, y, -75), dryRate, numbered(len(c.unit.delays)))
			c.aim.holds(t, c.unit.truth(), r.Unit)
			require.Nil(t, r.Unit.Motion)
			require.NotEmpty(t, r.Onsets)
			require.NotEmpty(t, r.Echoes)
		})
	}
}

func TestTheNumberOfHeadsIsFound(t *testing.T) {
	t.Parallel()
	rng := rand.New(rand.NewSource(8))
	u := simulated{delays: []float64{121.3, 263.1, 405.9}, levels: []float64{-7, 0, -2}, feeds: []int{2}, loop: []float64{0.45}, tone: cutsAt(70, 4000)}
	x := playing(rng, dryRate, 3.5, 3)
	r := measuredPair(t, hissed(rng, x, -75), hissed(rng, u.wet(x, dryRate), -75), dryRate, nil)
	steadyAim.holds(t, u.truth(), r.Unit)
	require.True(t, warned(r, "3 were found"), "%v", r.Warnings)
}

func warned(r Result, words string) bool {
	return slices.ContainsFunc(r.Warnings, func(w Warning) bool { return strings.Contains(w.What, words) })
}

// The wet channel's clock runs 30 ppm slow: what it takes for t is t·(1 + 30e-6).
func TestADriftOfTheClocksIsTakenOut(t *testing.T) {
	t.Parallel()
	const ppm = 30
	rng := rand.New(rand.NewSource(4))
	u := simulated{delays: []float64{101.37, 203.72}, levels: []float64{-4, 0}, feeds: []int{1}, loop: []float64{0.45}, tone: cutsAt(70, 4000)}
	x := playing(rng, dryRate, 18, 24)
	y := u.wet(x, dryRate)
	late := make([]float64, len(y))
	for i := range late {
		middle := float64(len(y)) / 2
		late[i] = between64(y, middle+(float64(i)-middle)*(1+ppm*1e-6))
	}
	r := measuredPair(t, hissed(rng, x, -75), hissed(rng, late, -75), dryRate, []int{1, 2})
	steadyAim.holds(t, u.truth(), r.Unit)
	require.True(t, warned(r, "ppm"), "%v", r.Warnings)
}

func TestAWaveringCarrierIsFollowed(t *testing.T) {
	t.Parallel()
	const peak, hz, cut = 0.0015, 0.9, 4000.0
	rng := rand.New(rand.NewSource(6))
	u := simulated{delays: []float64{121.37, 243.72}, levels: []float64{-4, 0}, feeds: []int{1}, loop: []float64{0.45}, tone: cutsAt(0, cut)}
	x := playing(rng, dryRate, 4, 3)
	y := u.wavering(x, dryRate, cut, peak, hz)
	r := measuredPair(t, hissed(rng, x, -72), hissed(rng, y, -72), dryRate, []int{1, 2})
	movingAim.holds(t, u.truth(), r.Unit)
	require.NotNil(t, r.Unit.Motion)
	require.InEpsilon(t, 100*peak, float64(r.Unit.Motion.WowPercent), 0.2) // the project's aim: within a fifth
	require.InDelta(t, hz, float64(r.Unit.Motion.WowHz), 0.05)
}

func TestTwoChannelsThatCannotBeMeasured(t *testing.T) {
	t.Parallel()
	rng := rand.New(rand.NewSource(2))
	n := int(2 * dryRate)
	silence, hiss := make([]float64, n), hissed(rng, make([]float64, n), -60)
	constant := make([]float64, n)
	for i := range constant {
		constant[i] = 0.3
	}
	x, other := playing(rng, dryRate, 2, 2), playing(rng, dryRate, 2, 3)
	u := simulated{delays: []float64{101.37, 203.72}, levels: []float64{-4, 0}, tone: cutsAt(70, 4000)}
	wet := u.wet(x, dryRate)
	for _, c := range []struct {
		name     string
		dry, wet []float64
		heads    int
		reasons  []Reason
		words    string
	}{
		{"a silent dry channel", silence, wet, 2, []Reason{Silence}, "dry channel"},
		{"a silent wet channel", x, silence, 2, []Reason{Silence}, "wet channel"},
		{"direct current only", constant, wet, 2, []Reason{Silence}, "dry channel"},
		{"hiss in the wet channel", x, hiss, 2, []Reason{NoEcho}, "only noise"},
		{"hiss in both", hissed(rng, silence, -50), hiss, 2, []Reason{OnlyNoise, NoEcho}, ""},
		{"a copy of the dry channel", x, x, 1, []Reason{NoEcho}, "copy"},
		{"a copy with other noise", hissed(rng, x, -70), hissed(rng, x, -70), 1, []Reason{NoEcho}, "direct sound only"},
		{"another take", hissed(rng, x, -70), hissed(rng, u.wet(other, dryRate), -70), 2, []Reason{OtherTake}, "one take"},
		{"channels exchanged", hissed(rng, wet, -70), hissed(rng, x, -70), 1, []Reason{WrongChannel}, "exchanged"},
		{"more heads than echoes", hissed(rng, x, -70), hissed(rng, wet, -70), 9, []Reason{FewerEchoes}, "9 heads"},
	} {
		t.Run(c.name, func(t *testing.T) {
			_, err := Heads(Take{Rate: dryRate, Dry: c.dry, Samples: c.wet}, Options{Heads: numbered(c.heads)})
			var refusal *Refusal
			require.ErrorAs(t, err, &refusal)
			require.Contains(t, c.reasons, refusal.Reason, refusal.Error())
			require.Contains(t, refusal.Error(), c.words)
		})
	}
}

// White noise through one head without tone: the delay's variance can be no less
// than that of Cramér and Rao, σ² = 1/(SNR·Σs′²) for a template s of power 1 (S.
// Kay, Fundamentals of Statistical Signal Processing I, 1993, example 3.13). For
// a template white up to half the rate that is 3/(π²·N·SNR) samples².
func crlbRatio(t testing.TB, snr float64, takes int) float64 {
	const n, lead, after, late = 2400, 200, 700, 311.37 // samples
	rng := rand.New(rand.NewSource(int64(snr)))
	u := simulated{delays: []float64{1000 * late / dryRate}, levels: []float64{0}, tone: flat}
	sum, bound := 0.0, 0.0
	for range takes {
		x := make([]float64, lead+n+after)
		for i := range n {
			x[lead+i] = 0.1 * rng.NormFloat64()
		}
		noise := 0.1 * math.Pow(10, -snr/20)
		y := u.wet(x, dryRate)
		slope := 0.0
		for i, c := range fourierOf(x) {
			w := 2 * math.Pi * float64(i) / float64(len(x))
			slope += 2 * w * w * (real(c)*real(c) + imag(c)*imag(c)) / float64(len(x))
		}
		for i := range y {
			y[i] += noise * rng.NormFloat64()
		}
		r, err := Heads(Take{Rate: dryRate, Dry: x, Samples: y}, Options{Heads: []int{1}})
		require.NoError(t, err)
		off := r.Unit.Heads[0].Delay.Samples(dryRate) - late
		sum += off * off
		bound += noise * noise / slope
	}
	return math.Sqrt(sum / bound)
}

// Of 25 takes the ratio scatters by 14 % (1/√50); 1.2 is the project's limit for
// many. The seed is fixed.
func TestTheDelayIsAsSureAsPhysicsAllows(t *testing.T) {
	t.Parallel()
	for _, snr := range []float64{10, 60} {
		require.Less(t, crlbRatio(t, snr, 25), 1.2, "at %g dB", snr)
	}
}

func BenchmarkDelayAgainstCramerRao(b *testing.B) {
	for _, snr := range []float64{10, 20, 30, 40, 50, 60} {
		b.Run(preset.Decibels(snr).String(), func(b *testing.B) {
			ratio := 0.0
			for b.Loop() {
				ratio = crlbRatio(b, snr, 100)
			}
			b.ReportMetric(ratio, "rmse/bound")
		})
	}
}

func fourierOf(x []float64) []complex128 { return spectrum(x, len(x)) }

// The slopes that the fit goes by are those of the formula.
func TestSlopesOfTheFormula(t *testing.T) {
	rng := rand.New(rand.NewSource(1))
	s := newSpectra(hissed(rng, make([]float64, 2000), -10), hissed(rng, make([]float64, 2000), -10), dryRate)
	s.assume(0.1)
	s.dryNoise = 20
	s.late = s.transform(hissed(rng, make([]float64, 2000), -10))
	u := still{
		delay: []float64{0.01, 0.02}, gain: []float64{0.7, -0.4}, fed: []float64{0.3, -0.2}, feeds: []bool{true, true},
		leaks: true, leak: 0.2, leakAt: 1e-4, drifts: true, drift: 1e-5,
		tone:  shape{high: 4e-5, second: 1e-9, low: 500, lift: 0.6, middle: 4000, wide: 0.9, linear: 1e-5, square: 1e-10},
		parts: []turned{turnHigh, turnSecond, turnLow, turnLift, turnMiddle, turnWide, turnLinear, turnSquare},
	}
	blocks := s.blocks(100, 9000, math.MaxInt)
	dials := u.dials()
	_, l := s.weigh(&u, dials, blocks)
	for i, d := range dials {
		was := *d.value
		h := 1e-5 * math.Abs(was)
		*d.value = was + h
		up := s.cost(&u, blocks)
		*d.value = was - h
		down := s.cost(&u, blocks)
		*d.value = was
		// The cost is a sum of squares: its slope is twice that of the lines. The
		// quotient's own error is of third order.
		require.InEpsilon(t, (up-down)/(2*h), 2*l.slope[i], 1e-3, "dial %d, kind %d", i, d.what)
	}
}

// Over many takes the 95 % interval has to hold the truth in 90 to 99 % of the
// figures; what has a floor is held more often.
func TestDeviationsAreHonest(t *testing.T) {
	t.Parallel()
	rng := rand.New(rand.NewSource(9))
	held, told := 0, 0
	for range 12 {
		u := simulated{delays: []float64{90 + 40*rng.Float64(), 200 + 60*rng.Float64()}, levels: []float64{-6 * rng.Float64(), 0}, tone: cutsAt(60, 2500+3000*rng.Float64())}
		x := playing(rng, 16_000, 1.2, 1)
		r, err := Heads(Take{Rate: 16_000, Dry: hissed(rng, x, -60), Samples: hissed(rng, u.wet(x, 16_000), -50)}, Options{Heads: []int{1, 2}})
		require.NoError(t, err)
		for k, w := range u.truth().Heads {
			g := r.Unit.Heads[k]
			told += 2
			if math.Abs(float64(g.Delay-w.Delay)) <= 1.96*float64(g.DelaySD) {
				held++
			}
			if math.Abs(float64(g.Level-w.Level)) <= 1.96*float64(g.LevelSD) {
				held++
			}
		}
	}
	require.GreaterOrEqual(t, float64(held)/float64(told), 0.9, "%d of %d", held, told)
}

// A phrase of a minute in two channels; the aim is 5 s on one core.
func BenchmarkPhraseOfAMinute(b *testing.B) {
	rng := rand.New(rand.NewSource(5))
	u := simulated{delays: []float64{101.3, 203.7, 310.2}, levels: []float64{-3, 0, -6}, feeds: []int{2}, loop: []float64{0.5}, tone: cutsAt(70, 4000)}
	x := playing(rng, 48_000, 60, 120)
	take := Take{Rate: 48_000, Dry: hissed(rng, x, -75), Samples: hissed(rng, u.wet(x, 48_000), -75)}
	b.ReportAllocs()
	for b.Loop() {
		_, err := Heads(take, Options{Heads: []int{1, 2, 3}})
		require.NoError(b, err)
	}
	b.ReportMetric(b.Elapsed().Seconds()/float64(b.N), "s/take")
}

// Whatever the samples: no panic, and a figure or a refusal.
func FuzzTwoChannels(f *testing.F) {
	f.Add(int64(1), uint8(2), []byte{200, 1, 2, 3, 90, 255, 0})
	f.Add(int64(2), uint8(0), []byte{0, 0, 0, 0})
	f.Fuzz(func(t *testing.T, seed int64, heads uint8, shape []byte) {
		rng := rand.New(rand.NewSource(seed))
		n := 1600 + rng.Intn(4000)
		dry, wet := make([]float64, n), make([]float64, n)
		for i := range dry {
			if len(shape) > 0 {
				dry[i] = float64(shape[i%len(shape)])/128 - 1
				wet[i] = float64(shape[(i+int(seed&63))%len(shape)])/128 - 1
			}
			if i > n/2 {
				wet[i] += 0.1 * rng.NormFloat64()
			}
		}
		r, err := Heads(Take{Rate: 8000, Dry: dry, Samples: wet}, Options{Heads: numbered(int(heads % 5))})
		if err == nil {
			require.NotEmpty(t, r.Unit.Heads)
			for _, h := range r.Unit.Heads {
				require.False(t, math.IsNaN(float64(h.Delay)) || math.IsNaN(float64(h.Level)))
			}
		}
	})
}
