package render

import (
	"fmt"
	"math"

	"echowright/preset"
)

// A plan says in which order a graph is rendered, how much at a time and how far
// each node lags behind the input. Stop 0 is the input.
type plan struct {
	stops   []stop
	heard   []voice
	latency int
	block   int // samples at a time, at most
	howls   bool
	leaps   []leap // for voices that move; nil where none does
}

// A stop is a node of the plan: the paths that come from nodes before it, and those
// that come back. Its input lags lagIn samples behind the take, its output lag.
type stop struct {
	forward, back []voice
	filter        filter
	curve         *curve // nil without drive
	lagIn, lag    int
	reach         int  // samples of its past that are read
	between       bool // it is read between samples
}

// A voice is a path made ready for a sample rate.
type voice struct {
	from   int     // stop
	delay  float64 // samples
	gain   float64
	whole  bool // read at samples alone
	kernel kernel
	late   []float64 // of a path that the carrier moves: its delay for each sample of the block
}

// mostAtOnce keeps what a block works on in the nearest cache.
const mostAtOnce = 512

// rounding is what the decibels of a loop that just does not die away may lose.
const rounding preset.Decibels = 1e-9

// newPlan settles when each node may read what. A node that reads a path of delay d
// for the time t needs its source up to t − d, and ahead more where that lies
// between samples. From a node before it, it gets that in the same block, if it
// lags far enough behind; from itself or a later one it has what was rendered
// before the block, which must therefore be shorter than the shortest loop.
func newPlan(g Graph, rate, sway float64) (plan, error) {
	p := plan{stops: make([]stop, 1, 1+len(g.Nodes)), block: mostAtOnce, howls: g.LoopGain(preset.Hertz(rate)) > -rounding}
	for i, n := range g.Nodes {
		s := stop{filter: newFilter(n.Tone, n.Levelled, rate)}
		for _, path := range n.From {
			v := newVoice(path, rate, sway)
			if path.From >= i {
				s.back = append(s.back, v)
				continue
			}
			s.forward = append(s.forward, v)
			s.lagIn = max(s.lagIn, p.stops[v.from].lag+v.needs(sway))
		}
		if s.lag = s.lagIn; n.Drive != nil {
			s.curve = newCurve(*n.Drive)
			s.lag += driveLatency
		}
		p.stops = append(p.stops, s)
	}
	for _, path := range g.Heard {
		v := newVoice(path, rate, sway)
		p.heard = append(p.heard, v)
		p.latency = max(p.latency, p.stops[v.from].lag+v.needs(sway))
	}
	if err := p.fitBlock(rate, sway); err != nil {
		return plan{}, err
	}
	p.reachBack(sway)
	p.makeRoom(sway)
	return p, nil
}

func newVoice(path Path, rate, sway float64) voice {
	v := voice{from: path.From + 1, delay: path.Delay.Samples(preset.Hertz(rate)), gain: path.Gain}
	const nearly = 1e-7 // samples: what the reckoning in milliseconds may lose
	if n := math.Round(v.delay); math.Abs(v.delay-n) < nearly {
		v.delay, v.whole = n, true
	}
	if v.moves(sway) {
		v.whole = false
		return v
	}
	v.kernel = kernelAt(math.Ceil(v.delay) - v.delay).times(path.Gain)
	return v
}

func (v voice) moves(sway float64) bool { return sway > 0 && v.delay > 0 }

// needs is how many samples the source must be further than the place that the
// voice reads at rest would have it.
func (v voice) needs(sway float64) int {
	if v.whole {
		return -int(v.delay)
	}
	return ahead - int(math.Floor(v.delay*(1-sway)))
}

// fitBlock makes the blocks shorter than the shortest loop.
func (p *plan) fitBlock(rate, sway float64) error {
	for i, s := range p.stops {
		for _, v := range s.back {
			most := s.lagIn - p.stops[v.from].lag - v.needs(sway)
			if p.block = min(p.block, most); most < 1 {
				least := preset.SamplesToMillis((math.Floor(v.delay)+1-float64(most))/(1-sway), preset.Hertz(rate))
				return fmt.Errorf("node %d: a loop of %.3g ms is too short to be rendered at %v: %.3g ms at the least",
					i-1, float64(preset.SamplesToMillis(v.delay, preset.Hertz(rate))), preset.Hertz(rate), float64(least))
			}
		}
	}
	return nil
}

// reachBack notes how far back the memory of each stop is read.
func (p *plan) reachBack(sway float64) {
	note := func(v voice, lag int) {
		s := &p.stops[v.from]
		s.reach = max(s.reach, int(math.Ceil(v.delay*(1+sway)))+lag-s.lag+p.block+2*ahead)
		s.between = s.between || !v.whole
	}
	for _, s := range p.stops {
		for _, v := range s.forward {
			note(v, s.lagIn)
		}
		for _, v := range s.back {
			note(v, s.lagIn)
		}
	}
	for _, v := range p.heard {
		note(v, p.latency)
	}
	for i := range p.stops {
		p.stops[i].reach = max(p.stops[i].reach, p.block+2*ahead)
	}
}

// makeRoom gives every voice that moves its room for the delays of a block.
func (p *plan) makeRoom(sway float64) {
	p.eachVoice(func(v *voice, _ int) {
		if v.moves(sway) {
			if p.leaps == nil {
				p.leaps = newLeaps()
			}
			v.late = make([]float64, p.block)
		}
	})
}

// eachVoice calls do with every voice and with how far what reads it lags.
func (p *plan) eachVoice(do func(v *voice, lag int)) {
	for i := range p.stops {
		s := &p.stops[i]
		for k := range s.forward {
			do(&s.forward[k], s.lagIn)
		}
		for k := range s.back {
			do(&s.back[k], s.lagIn)
		}
	}
	for k := range p.heard {
		do(&p.heard[k], p.latency)
	}
}
