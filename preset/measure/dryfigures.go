package measure

import (
	"math"

	"gonum.org/v1/gonum/mat"

	"echowright/preset"
)

// No figure of two channels is known better than this: clocks jitter, and the tone
// of a real unit has no formula.
const (
	leastDryDelaySD = 0.0005 // ms
	leastDryLevelSD = 0.005  // dB
	// The same where the carrier wavers and the unit was played at a low rate.
	leastMovingDelaySD = 0.002
	leastMovingLevelSD = 0.01
)

// measured are the figures of a unit with their standard deviations: delays in ms,
// levels in dB to the loudest head, that of the loudest to the direct sound, and
// the gain of one turn by each feeding head.
type measured struct{ value, sd []float64 }

func (u *still) figures() []float64 {
	var all []float64
	top := 0.0
	for k, d := range u.delay {
		all = append(all, 1000*d)
		top = math.Max(top, math.Abs(u.gain[k]))
	}
	for _, a := range u.gain {
		all = append(all, decibels(a/top))
	}
	tone := u.tone.amplitude(float64(preset.Reference))
	all = append(all, decibels(top*tone))
	for k, on := range u.feeds {
		if on {
			all = append(all, decibels(u.fed[k]*tone))
		}
	}
	return all
}

// figuresOf carries the covariance of the dials over to the figures; with none the
// deviations are 0.
func figuresOf(u still, covariance *mat.SymDense) measured {
	u = u.clone()
	m := measured{value: u.figures()}
	if covariance == nil {
		m.sd = make([]float64, len(m.value))
		return m
	}
	dials := u.dials()
	slopes := make([][]float64, len(dials))
	for i, d := range dials {
		was := *d.value
		h := 1e-6*math.Abs(was) + 1e-12
		*d.value += h
		slopes[i] = u.figures()
		*d.value = was
		for j := range slopes[i] {
			slopes[i][j] = (slopes[i][j] - m.value[j]) / h
		}
	}
	for j := range m.value {
		v := 0.0
		for a := range dials {
			for b := range dials {
				v += slopes[a][j] * slopes[b][j] * covariance.At(a, b)
			}
		}
		m.sd = append(m.sd, math.Sqrt(math.Max(v, 0)))
	}
	return m
}

// widen makes the deviations at least those of the fits that are about as likely.
func (m *measured) widen(likely []swayed) {
	for _, f := range likely {
		for i, v := range f.unit.figures() {
			m.sd[i] = math.Max(m.sd[i], math.Abs(v-m.value[i]))
		}
	}
}

// reachTo makes the deviations reach to other figures and theirs.
func (m *measured) reachTo(other measured) {
	for i, v := range other.value {
		m.sd[i] = math.Max(math.Hypot(m.sd[i], v-m.value[i]), other.sd[i])
	}
}

// Where a share of the sound is not explained by anything, what it is may pull at
// the figures by half of it: at levels as such, at delays as at a phase at doubtHz.
const doubtHz = 2000.0

// doubt makes the deviations those of a rest that is no noise, as an amplitude ratio
// to the sound.
func (m *measured) doubt(heads int, rest float64) {
	for i := range m.sd {
		if i < heads {
			m.sd[i] = math.Hypot(m.sd[i], 1000*rest/2/(2*math.Pi*doubtHz))
		} else if m.value[i] != 0 { // the loudest head is 0 dB by definition
			m.sd[i] = math.Hypot(m.sd[i], 8.7*rest/2)
		}
	}
}

// profile puts u's figures into the words of the trade; no deviation is below the
// least ones.
func (u *still) profile(m measured, heads []int, rate, leastDelay, leastLevel float64) preset.Unit {
	var out preset.Unit
	n := len(u.delay)
	low, high := u.tone.corners(rate)
	for k := range n {
		out.Heads = append(out.Heads, preset.Head{
			Head:  heads[k],
			Delay: preset.Millis(m.value[k]), DelaySD: preset.Millis(math.Max(m.sd[k], leastDelay)),
			Level: preset.Decibels(m.value[n+k]), LevelSD: preset.Decibels(math.Max(m.sd[n+k], leastLevel)),
			Inverted: u.gain[k] < 0, LowCutHz: preset.Hertz(low), HighCutHz: preset.Hertz(high),
		})
	}
	out.Direct = &preset.Direct{EchoToDirect: preset.Decibels(m.value[2*n])}
	at := 2*n + 1
	for k, on := range u.feeds {
		if !on {
			continue
		}
		gain, sd := preset.Decibels(m.value[at]), preset.Decibels(math.Max(m.sd[at], leastLevel))
		at++
		if out.Feedback == nil {
			out.Feedback = &preset.Feedback{Gain: gain, GainSD: sd}
		} else if gain > out.Feedback.Gain {
			out.Feedback.Gain, out.Feedback.GainSD = gain, sd
		}
		out.Feedback.Heads = append(out.Feedback.Heads, heads[k])
	}
	return out
}

// echoes are the arrivals that the unit makes of a click, down to floor dB below
// the direct sound.
func (u *still) echoes(m measured, heads []int, floor float64) []Echo {
	tone := u.tone.amplitude(float64(preset.Reference))
	net := preset.Network{Nodes: 1}
	index := map[int]int{}
	for k, d := range u.delay {
		index[heads[k]] = k
		net.Paths = append(net.Paths, preset.Path{To: preset.Output, Delay: preset.Millis(1000 * d), Gain: u.gain[k] * tone, Head: heads[k]})
		if u.feeds[k] {
			net.Paths = append(net.Paths, preset.Path{Delay: preset.Millis(1000 * d), Gain: u.fed[k] * tone})
		}
	}
	train, err := net.Train(preset.Decibels(floor), preset.TrainLimit)
	if err != nil {
		return nil // too dense to be told apart
	}
	var all []Echo
	for _, e := range train {
		echo := Echo{At: e.At, Level: e.Level, Head: e.Head, Turn: e.Turn}
		if k, ok := index[e.Head]; ok && e.Turn == 0 {
			echo.SD, echo.LevelSD = preset.Millis(m.sd[k]), preset.Decibels(m.sd[len(u.delay)+k])
		}
		all = append(all, echo)
	}
	return all
}
