package arrange

import (
	"fmt"
	"math"
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/require"

	"echowright/preset"
	"echowright/profiles"
)

// The small devices: one memory with two taps, with few enough codes to try them
// all, fed back from a chosen tap before or after its level, or from the sum.
const (
	tapTimes     = 8 // 40, 60 … 180 ms
	tapLevels    = 8 // silent, −18, −15 … 0 dB
	tapFeedbacks = 6 // 0, 1/6 … 5/6
)

func smallTaps(t *testing.T, from, level string) *profiles.Device {
	text := fmt.Sprintf(`
format = "echowright-device/1"
name = "small"
[manners]
gap_ms = 1
channels = [1, 16]
[scale.time]
unit = "ms"
codes = [0, 7]
linear = { code = 0, is = 40.0, step = 20.0 }
[scale.level]
unit = "dB"
codes = [0, 7]
silent = 0
linear = { code = 1, is = -18.0, step = 3.0 }
[scale.feedback]
unit = "dB"
codes = [0, 5]
silent = 0
amplitude = { full = 6 }
[scale.feedback-tap]
choices = ["tap-1", "tap-2"]
[loop]
from = %q
level = %q
[tap]
names = ["tap-1", "tap-2"]
control_step = 1
[[tap.parameter]]
role = "time"
scale = "time"
control = 20
[[tap.parameter]]
role = "level"
scale = "level"
control = 22
[line]
names = ["memory"]
[[line.parameter]]
role = "feedback"
scale = "feedback"
control = 30
`, from, level)
	if from == "tap" {
		text += `
[[line.parameter]]
role = "feedback-tap"
scale = "feedback-tap"
control = 31
`
	}
	d, err := profiles.Parse("small.toml", []byte(text))
	require.NoError(t, err)
	return d
}

func tapLevel(code int) float64 {
	if code == 0 {
		return 0
	}
	return preset.Decibels(-21 + 3*code).Amplitude()
}

// Every time, level, feedback and choice of tap is tried; the pattern error is
// worked out by its definition. The arranger may be better: it may lay all levels
// a little lower, to meet the steps.
func TestTapsMeetTheErrorOfTryingEverything(t *testing.T) {
	if testing.Short() {
		t.Skip("tries millions of settings: some seconds each")
	}
	for _, test := range []struct{ from, level string }{{"tap", "before"}, {"tap", "after"}, {"sum", "after"}} {
		t.Run(test.from+" "+test.level+" its level", func(t *testing.T) {
			t.Parallel()
			d := smallTaps(t, test.from, test.level)
			rng := rand.New(rand.NewPCG(27, 18))
			units := exhaustiveUnits(10)
			met, worst := 0, preset.Decibels(0)
			for range units {
				u := smallUnit(rng)
				p := pattern(t, u)
				r := arranged(t, p, d)
				best := tryAllTaps(t, p, test.from, test.level)
				if r.Error <= best+0.01 {
					met++
				}
				if off := r.Error - best; off > 0.01 {
					worst = max(worst, off)
					t.Logf("%.2f dB worse than the least, %.2f: %+v %+v", off, best, u.Heads, u.Feedback)
				}
			}
			t.Logf("the least error is met in %d of %d units, at worst %.2f dB off", met, units, worst)
			require.GreaterOrEqual(t, met*100, units*99)
			require.LessOrEqual(t, worst, preset.Decibels(0.3))
		})
	}
}

// tapsSetting is one setting of the small device.
type tapsSetting struct {
	times, levels [2]int
	feedback, fed int
}

// ways are the turns round the loop.
func (s tapsSetting) ways(from, level string) []tapsWay {
	f := float64(s.feedback) / tapFeedbacks
	if f == 0 {
		return nil
	}
	var all []tapsWay
	for i := range s.times {
		gain := f
		if level == "after" {
			gain *= tapLevel(s.levels[i])
		}
		if gain > 0 && (from == "sum" || i == s.fed) {
			all = append(all, tapsWay{int(smallTime(s.times[i])), gain})
		}
	}
	return all
}

type tapsWay struct {
	delay int // ms
	gain  float64
}

// memory is what comes to pass in the memory: m(t) = x(t) + Σ g·m(t − d), times
// being whole tens of milliseconds.
func memoryOf(ways []tapsWay) []float64 {
	const step, end = 20, 4000
	m := make([]float64, end/step+1)
	m[0] = 1
	for i := range m {
		for _, w := range ways {
			if j := i - w.delay/step; j >= 0 {
				m[i] += w.gain * m[j]
			}
		}
	}
	return m
}

func tryAllTaps(t *testing.T, p preset.Pattern, from, level string) preset.Decibels {
	train, err := p.Train(preset.TrainFloor, preset.TrainLimit)
	require.NoError(t, err)
	want, power := onLattice(train), product(train, train)
	least, most := power, 0.0
	for _, r := range p.Returns {
		most += r.Gain.Amplitude()
	}
	for s := range allTapSettings(from) {
		ways := s.ways(from, level)
		if !waysAllowed(ways, p, most) {
			continue
		}
		got := s.played(memoryOf(ways))
		least = min(least, power+latticeRest(want, got))
	}
	return max(preset.LeastError, preset.Decibels(10*math.Log10(math.Max(least, 0)/power)))
}

func allTapSettings(from string) func(yield func(tapsSetting) bool) {
	return func(yield func(tapsSetting) bool) {
		for code := range tapTimes * tapTimes * tapLevels * tapLevels * tapFeedbacks * 2 {
			var s tapsSetting
			s.fed, code = code%2, code/2
			s.feedback, code = code%tapFeedbacks, code/tapFeedbacks
			s.levels[0], code = code%tapLevels, code/tapLevels
			s.levels[1], code = code%tapLevels, code/tapLevels
			s.times[0], s.times[1] = code%tapTimes, code/tapTimes
			twice := s.feedback == 0 && s.fed > 0 || from == "sum" && (s.fed > 0 || s.times[1] < s.times[0])
			if !twice && !yield(s) {
				return
			}
		}
	}
}

func waysAllowed(ways []tapsWay, p preset.Pattern, most float64) bool {
	sum, strongest := 0.0, 0.0
	for _, r := range p.Returns {
		strongest = max(strongest, r.Gain.Amplitude())
	}
	for _, w := range ways {
		sum += w.gain
		if w.gain > strongest*(1+1e-12) {
			return false
		}
	}
	return sum <= most*(1+1e-12)
}

// The lattice is every 20 ms: all times of these devices lie on it.
const (
	latticeStep = 20
	latticeEnd  = 4000/latticeStep + 1
)

// onLattice is how much an echo of amplitude 1 overlaps with a train, by its place.
func onLattice(train []preset.Echo) []float64 {
	q := make([]float64, latticeEnd)
	for i := range q {
		q[i] = product(train, []preset.Echo{{At: preset.Millis(i * latticeStep)}})
	}
	return q
}

// played is what is heard of the memory, without what lies below the floor.
func (s tapsSetting) played(m []float64) []float64 {
	q := make([]float64, latticeEnd)
	for i, time := range s.times {
		level, late := tapLevel(s.levels[i]), int(smallTime(time))/latticeStep
		for j := late; level > 0 && j < latticeEnd; j++ {
			q[j] += level * m[j-late]
		}
	}
	for j, a := range q {
		if a < preset.TrainFloor.Amplitude() {
			q[j] = 0
		}
	}
	return q
}

// kernel is the integral of the product of two echoes of amplitude 1, by their
// places on the lattice: see product.
var kernel = func() [][]float64 {
	k := make([][]float64, latticeEnd)
	for i := range k {
		for j := i; j < latticeEnd; j++ {
			a, b := preset.Millis(i*latticeStep), preset.Millis(j*latticeStep)
			s, u := float64(preset.TimingJND(a))/2, float64(preset.TimingJND(b))/2
			v, d := s*s+u*u, float64(a-b)
			if d*d >= 40*v {
				break
			}
			k[i] = append(k[i], math.Exp(-d*d/(2*v))/math.Sqrt(2*math.Pi*v))
		}
	}
	return k
}()

// latticeRest is ∫q² − 2·∫p·q.
func latticeRest(p, q []float64) float64 {
	sum := 0.0
	for i, row := range kernel {
		if q[i] == 0 {
			continue
		}
		sum += q[i] * (q[i]*row[0] - 2*p[i])
		for j := 1; j < len(row); j++ {
			sum += 2 * q[i] * q[i+j] * row[j]
		}
	}
	return sum
}
