package songclock

import (
	"math"
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/require"
	"gonum.org/v1/gonum/stat"
)

// marked are lines through clocks of a period with jitter, some of them aside.
func marked(r *rand.Rand, n int, period, sigma float64) (l lines, x, y []float64) {
	for i := range n {
		m := mark{at: 1e6 + float64(i)*period + sigma*r.NormFloat64(), number: i, aside: r.IntN(10) == 0}
		l.add(m)
		if !m.aside {
			x, y = append(x, float64(i)), append(y, m.at)
		}
	}
	return l, x, y
}

// Gonum's linear regression is another hand at the same line.
func TestALineIsThatOfGonum(t *testing.T) {
	random := rand.New(rand.NewPCG(31, 32))
	for range 200 {
		n := PerBeat + random.IntN(PerBeat/2)
		l, x, y := marked(random, n, 20, 1)
		if len(x) <= PerBeat/2 {
			continue
		}
		a, period := stat.LinearRegression(x, y, nil, false)
		got := l.estimate(1e6, estimate{}) // nothing disagrees with so much jitter
		// Times near 1e6 ms have 1e-10 ms of rounding.
		require.InDelta(t, period, got.period, 1e-7)
		require.InDelta(t, a+period*float64(n), got.next, 1e-5)
	}
}

func TestTheLongestLineThatAgreesIsTaken(t *testing.T) {
	for _, c := range []struct {
		name         string
		before, last float64 // periods: of 400 clocks, then of 60
		sigma        float64
		clocks       float64 // that the estimate rests on
	}{
		{"one tempo", 20, 20, 1, longest},
		{"one tempo, small jitter", 20, 20, 0.01, longest},
		{"another for 60 clocks", 20, 19, 1, 48},
		{"another, hidden by jitter", 20, 19.99, 2, longest},
	} {
		t.Run(c.name, func(t *testing.T) {
			random := rand.New(rand.NewPCG(33, 34))
			var l lines
			at := 0.0
			for i := range 460 {
				if at += c.before; i >= 400 {
					at += c.last - c.before
				}
				l.add(mark{at: at + c.sigma*random.NormFloat64(), number: i})
			}
			got := l.estimate(c.sigma, estimate{})
			require.InDelta(t, cramerRao(c.sigma, int(c.clocks)), got.sd, 1e-9, "the deviation is that of its clocks")
		})
	}
}

func TestWhatWasKnownIsKeptWhileItAgrees(t *testing.T) {
	l, _, _ := marked(rand.New(rand.NewPCG(35, 36)), 30, 20, 1)
	fresh := l.estimate(1, estimate{})
	for _, c := range []struct {
		name  string
		known estimate
		kept  bool
	}{
		{"surer, and alike", estimate{period: fresh.period + fresh.sd, sd: fresh.sd / 10}, true},
		{"surer, and far away", estimate{period: fresh.period + 10*fresh.sd, sd: fresh.sd / 10}, false},
		{"not as sure", estimate{period: fresh.period + fresh.sd, sd: fresh.sd * 2}, false},
		{"nothing", estimate{}, false},
	} {
		got := l.estimate(1, c.known)
		require.Equal(t, c.kept, got.period == c.known.period, c.name)
		require.Equal(t, fresh.next, got.next, c.name)
	}
}

func TestGatheredClocksAreNumbered(t *testing.T) {
	for _, c := range []struct {
		name string
		at   []float64 // in periods of 20 ms
		want []int
	}{
		{"all there", []float64{0, 1, 2, 3, 4, 5, 6, 7}, []int{0, 1, 2, 3, 4, 5, 6, 7}},
		{"one lost", []float64{0, 1, 2, 4, 5, 6, 7, 8}, []int{0, 1, 2, 4, 5, 6, 7, 8}},
		{"three lost", []float64{0, 1, 2, 6, 7, 8, 9, 10}, []int{0, 1, 2, 6, 7, 8, 9, 10}},
		{"one doubled", []float64{0, 1, 2, 3, 3.1, 4, 5, 6}, []int{0, 1, 2, 3, 3, 4, 5, 6}},
		{"one late", []float64{0, 1, 2, 3.45, 4, 5, 6, 7}, []int{0, 1, 2, 3, 4, 5, 6, 7}},
		{"one lost at the end", []float64{0, 1, 2, 3, 4, 5, 6, 8}, []int{0, 1, 2, 3, 4, 5, 6, 8}},
		{"one lost at the beginning", []float64{0, 2, 3, 4, 5, 6, 7, 8}, []int{0, 2, 3, 4, 5, 6, 7, 8}},
	} {
		var l lines
		for i, at := range c.at {
			l.add(mark{at: 20 * at, number: i})
		}
		steps, ok := l.renumber(20, leastSigma)
		require.True(t, ok, c.name)
		var got []int
		for i := range c.at {
			got = append(got, l.back(len(c.at)-1-i).number)
		}
		require.Equal(t, c.want, got, c.name)
		require.Equal(t, c.want[len(c.want)-1], steps, c.name)
	}
	for _, median := range []float64{0, 2.4, 251, math.Inf(1)} { // 60000/(24·1000) = 2.5, 60000/(24·10) = 250 ms
		var l lines
		_, ok := l.renumber(median, leastSigma)
		require.False(t, ok, "%v ms a clock is no tempo", median)
	}
}

func TestTheRingForgetsTheOldest(t *testing.T) {
	var l lines
	for i := range 3*longest + 5 {
		l.add(mark{number: i})
		require.Equal(t, i, l.newest().number)
		require.Equal(t, max(0, i-longest+1), l.back(l.n-1).number)
	}
	l.clear()
	require.Zero(t, l.n)
}
