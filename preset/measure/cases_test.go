package measure

import (
	"fmt"
	"math"
	"math/rand"
	"os"
	"slices"
	"strconv"
	"testing"

	"github.com/stretchr/testify/require"

	"echowright/preset"
)

// kindOf a case, and how near a measurement of it has to come to the truth.
type kindOfCase struct {
	name                string
	delay, level, loops float64 // ms, dB, dB
	make                func(rng *rand.Rand) (plucked, unit, recording)
}

func between(rng *rand.Rand, low, high float64) float64 { return low + (high-low)*rng.Float64() }

const caseRate = 48000

func anyNote(rng *rand.Rand) plucked {
	return plucked{
		pitch: between(rng, 80, 420), bright: between(rng, 0.7, 1.6), ring: between(rng, 0.15, 0.6),
		damp: between(rng, 0.06, 0.2), scratch: between(rng, 0.02, 0.4), peak: between(rng, 0.2, 0.5),
	}
}

func anyUnit(rng *rand.Rand, heads int, spacing float64) unit {
	var u unit
	at := 0.0
	for range heads {
		at += spacing * between(rng, 0.85, 1.25)
		u.delays = append(u.delays, at)
		u.levels = append(u.levels, between(rng, -9, 0))
		u.invert = append(u.invert, rng.Float64() < 0.15)
	}
	u.levels[rng.Intn(heads)] = 0
	shift := between(rng, -7, 2)
	for k := range u.levels {
		u.levels[k] += shift
	}
	if rng.Float64() < 0.85 {
		u.feeds = []int{heads - 1}
		if rng.Float64() < 0.3 {
			u.feeds = []int{rng.Intn(heads)}
		}
		u.loop = between(rng, -12, -4)
	}
	return u
}

func onePole(rng *rand.Rand) []biquad {
	var t []biquad
	if rng.Float64() < 0.8 {
		t = append(t, highPass1(between(rng, 40, 150), caseRate*over), lowPass1(between(rng, 2000, 7000), caseRate*over))
	}
	return t
}

func quiet(rng *rand.Rand) recording {
	return recording{rate: caseRate, lead: between(rng, 0.1, 0.4), seconds: 4, noise: between(rng, -76, -64)}
}

// kinds are the cases of which many are made; the limits are those that the
// project sets itself.
var kinds = []kindOfCase{
	{"plain", 0.05, 0.1, 0.2, func(rng *rand.Rand) (plucked, unit, recording) {
		n, u := anyNote(rng), anyUnit(rng, 1+rng.Intn(4), between(rng, 90, 160))
		u.tone = onePole(rng)
		return n, u, quiet(rng)
	}},
	{"overlapping", 0.1, 0.3, 0.3, func(rng *rand.Rand) (plucked, unit, recording) {
		n, u := anyNote(rng), anyUnit(rng, 4+rng.Intn(3), 50)
		n.damp = between(rng, 0.15, 0.3)
		u.tone = onePole(rng)
		return n, u, quiet(rng)
	}},
	{"other tone", 0.3, 0.5, 0.7, func(rng *rand.Rand) (plucked, unit, recording) {
		n, u := anyNote(rng), anyUnit(rng, 2+rng.Intn(2), between(rng, 90, 160))
		r := caseRate * float64(over)
		u.tone = []biquad{highPass1(between(rng, 50, 120), r), lowPass2(between(rng, 2000, 5000), between(rng, 0.6, 1.1), r)}
		if rng.Float64() < 0.5 {
			u.tone = append(u.tone, hump(between(rng, 150, 2500), between(rng, 2, 4), 0.8, r))
		}
		return n, u, quiet(rng)
	}},
	{"hum", 0.3, 0.5, 0.7, func(rng *rand.Rand) (plucked, unit, recording) {
		n, u := anyNote(rng), anyUnit(rng, 2+rng.Intn(2), between(rng, 90, 160))
		u.tone = onePole(rng)
		r := quiet(rng)
		r.hum, r.lead = -50, 0.4
		return n, u, r
	}},
	{"ringing", 1, 1, 1.5, func(rng *rand.Rand) (plucked, unit, recording) {
		n, u := anyNote(rng), anyUnit(rng, 2+rng.Intn(2), between(rng, 90, 160))
		n.damp, n.ring = 0, between(rng, 0.3, 0.8)
		u.tone = onePole(rng)
		return n, u, quiet(rng)
	}},
	{"driven", 0.3, 1, 1, func(rng *rand.Rand) (plucked, unit, recording) {
		n, u := anyNote(rng), anyUnit(rng, 2+rng.Intn(2), between(rng, 90, 160))
		u.tone = onePole(rng)
		u.drive, u.bias = between(rng, 0.7, 2.5)/n.peak, between(rng, -0.3, 0.3)
		return n, u, quiet(rng)
	}},
	{"wow", 0.3, 0.5, 0.7, func(rng *rand.Rand) (plucked, unit, recording) {
		n, u := anyNote(rng), anyUnit(rng, 2+rng.Intn(2), between(rng, 90, 160))
		u.tone = onePole(rng)
		u.wow[0] = [2]float64{0.002, between(rng, 0.5, 2.5)}
		if rng.Float64() < 0.5 {
			u.wow[1] = [2]float64{0.0005, between(rng, 5, 12)}
		}
		return n, u, quiet(rng)
	}},
}

// miss is how far a measurement is from the truth.
type miss struct{ delay, level, loop, direct float64 }

func missOf(got, want preset.Unit) miss {
	var m miss
	for k, h := range want.Heads {
		g := got.Heads[k]
		m.delay = math.Max(m.delay, math.Abs(float64(g.Delay-h.Delay)))
		m.level = math.Max(m.level, math.Abs(float64(g.Level-h.Level)))
		if g.Inverted != h.Inverted {
			m.level = math.Inf(1)
		}
	}
	m.direct = math.Abs(float64(got.Direct.EchoToDirect - want.Direct.EchoToDirect))
	switch {
	case want.Feedback == nil && got.Feedback == nil:
	case want.Feedback == nil || got.Feedback == nil, !slices.Equal(want.Feedback.Heads, got.Feedback.Heads):
		m.loop = math.Inf(1)
	default:
		m.loop = math.Abs(float64(got.Feedback.Gain - want.Feedback.Gain))
	}
	return m
}

// tally counts how often the 95 % interval of a figure holds the truth.
type tally struct{ delays, levels, loops [2]int }

func (t *tally) add(got, want preset.Unit) {
	within := func(c *[2]int, miss, sd float64) {
		c[1]++
		if math.Abs(miss) <= 1.96*sd {
			c[0]++
		}
	}
	for k, h := range want.Heads {
		g := got.Heads[k]
		within(&t.delays, float64(g.Delay-h.Delay), float64(g.DelaySD))
		if g.LevelSD > 0 {
			within(&t.levels, float64(g.Level-h.Level), float64(g.LevelSD))
		}
	}
	if want.Feedback != nil && got.Feedback != nil {
		within(&t.loops, float64(got.Feedback.Gain-want.Feedback.Gain), float64(got.Feedback.GainSD))
	}
}

func (t tally) String() string {
	return fmt.Sprintf("%d of %d delays, %d of %d levels, %d of %d loops", t.delays[0], t.delays[1], t.levels[0], t.levels[1], t.loops[0], t.loops[1])
}

func (u unit) String() string {
	s := fmt.Sprintf("loop %v %.1f drive %.1f", u.feeds, u.loop, u.drive)
	for k := range u.delays {
		s += fmt.Sprintf(" %.1f/%.1f", u.delays[k], u.levels[k])
	}
	return s
}

var allHeads = []int{1, 2, 3, 4, 5, 6, 7, 8}

// casesWanted is the share of the takes of each kind that has to come out within
// its limits.
const casesWanted = 0.8

// With ECHOWRIGHT_MEASURE_CASES=n, n takes of each kind are measured and their
// errors told case by case: go test -run TestManyTakes -v ./preset/measure
// ECHOWRIGHT_MEASURE_SEED moves on to other takes.
func TestManyTakes(t *testing.T) {
	n, _ := strconv.Atoi(os.Getenv("ECHOWRIGHT_MEASURE_CASES"))
	if n == 0 {
		t.Skip("set ECHOWRIGHT_MEASURE_CASES=10 to measure ten takes of each kind and see the errors")
	}
	seed, _ := strconv.ParseInt(os.Getenv("ECHOWRIGHT_MEASURE_SEED"), 10, 64)
	for ki, kind := range kinds {
		t.Run(kind.name, func(t *testing.T) {
			good, counts := 0, tally{}
			for i := range n {
				if kind.measure(t, seed*1000+int64(100*ki+i), &counts) {
					good++
				}
			}
			t.Logf("%d of %d within %v ms, %v dB, loop %v dB; 95 %% intervals hold %v", good, n, kind.delay, kind.level, kind.loops, counts)
			require.GreaterOrEqual(t, float64(good), casesWanted*float64(n))
		})
	}
}

// measure makes one take, measures it, tells the errors, and whether all are
// within the limits.
func (k kindOfCase) measure(t *testing.T, seed int64, counts *tally) bool {
	t.Helper()
	rng := rand.New(rand.NewSource(seed))
	p, u, rec := k.make(rng)
	x, _, _ := record(rng, p, u, rec)
	heads := allHeads[:len(u.delays)]
	r, err := Heads(Take{Rate: preset.Hertz(rec.rate), Samples: x}, Options{Heads: heads})
	if err != nil {
		t.Logf("%v: %v", u, err)
		return false
	}
	want := u.truth(heads, rec.rate)
	counts.add(r.Unit, want)
	m := missOf(r.Unit, want)
	t.Logf("%.4f ms  %.3f dB  loop %.3f dB  direct %.3f dB  left over noise %.1f dB  note %.0f ms  [%v; %.0f Hz]",
		m.delay, m.level, m.loop, m.direct, r.Residual-r.Noise, r.Note, u, p.pitch)
	return m.delay <= k.delay && m.level <= k.level && m.loop <= k.loops
}
