package arrange

import (
	"cmp"
	"math"
	"slices"

	"echowright/preset"
)

// An ear hears what networks play and compares it with the wish, thousands of
// times for one plan: like [preset.Network.Train] and [preset.PatternError], but
// without listing what nobody reads. It is not for two at a time.
type ear struct {
	wish   *wish
	limit  float64 // ms
	most   int     // arrivals that are followed
	places *places
	work   int // what was done so far, in steps of some 15 ns

	first    []int // of each node's paths in paths
	paths    []preset.Path
	outs     []int // for each path its place among those to the output
	arrivals arrivals
	sounds   []sound
	sigmas   []float64
}

// A sound is one arrival at the output.
type sound struct {
	at, amp float64
	out     int // by which of the paths to the output, in their order
}

const (
	// Arrivals this far below the floor are still followed: some may fall together.
	earFollows preset.Decibels = -12
	// A network with more arrivals than this is not worth listening to.
	earMost = 8_000
	// Arrivals nearer than this are one, as in preset.
	coincide = 0.0002
)

func newEar(w *wish) *ear {
	return &ear{wish: w, limit: float64(w.limit), most: earMost, places: newPlaces(w)}
}

// play lists what reaches the output, sorted by time; false if that is too much.
// Amplitudes are those of the network times scale.
func (e *ear) play(n preset.Network, scale float64) bool {
	e.order(n)
	least := (preset.TrainFloor + earFollows).Amplitude() / math.Max(scale, 1e-3)
	e.sounds = e.sounds[:0]
	e.arrivals = append(e.arrivals[:0], onArrival{amp: 1})
	for seen := 0; len(e.arrivals) > 0; seen++ {
		if e.work += 10; seen > e.most {
			return false
		}
		a := e.arrivals.next()
		for i := e.first[a.node]; i < e.first[a.node+1]; i++ {
			p := &e.paths[i]
			at, amp := a.at+float64(p.Delay), a.amp*p.Gain
			switch {
			case at > e.limit || math.Abs(amp) < least:
			case p.To == preset.Output:
				e.sounds = append(e.sounds, sound{at, amp * scale, e.outs[i]})
			default:
				e.arrivals.push(onArrival{at, amp, p.To})
			}
		}
	}
	e.work += 100 + 8*len(e.sounds)
	slices.SortStableFunc(e.sounds, func(a, b sound) int { return cmp.Compare(a.at, b.at) })
	return true
}

// order sorts the paths by where they begin.
func (e *ear) order(n preset.Network) {
	e.first = append(e.first[:0], make([]int, n.Nodes+2)...)
	for _, p := range n.Paths {
		e.first[p.From+2]++
	}
	for i := 2; i < len(e.first); i++ {
		e.first[i] += e.first[i-1]
	}
	e.paths = append(e.paths[:0], n.Paths...)
	e.outs = append(e.outs[:0], make([]int, len(n.Paths))...)
	out := 0
	for _, p := range n.Paths {
		place := e.first[p.From+1]
		e.first[p.From+1]++
		e.paths[place] = p
		if p.To == preset.Output {
			e.outs[place] = out
			out++
		}
	}
}

// onArrival is sound reaching a node.
type onArrival struct {
	at, amp float64
	node    int
}

// arrivals is a heap, the earliest on top.
type arrivals []onArrival

func (h *arrivals) push(a onArrival) {
	*h = append(*h, a)
	q := *h
	i := len(q) - 1
	for i > 0 {
		up := (i - 1) / 2
		if !sooner(a, q[up]) {
			break
		}
		q[i], i = q[up], up
	}
	q[i] = a
}

// next takes the earliest, with all that reach the same node at the same time.
func (h *arrivals) next() onArrival {
	a := h.pop()
	for len(*h) > 0 && (*h)[0].node == a.node && (*h)[0].at-a.at <= coincide {
		a.amp += h.pop().amp
	}
	return a
}

func (h *arrivals) pop() onArrival {
	q := *h
	top, last := q[0], q[len(q)-1]
	q = q[:len(q)-1]
	*h = q
	i := 0
	for {
		down := 2*i + 1
		if down >= len(q) {
			break
		}
		if down+1 < len(q) && sooner(q[down+1], q[down]) {
			down++
		}
		if !sooner(q[down], last) {
			break
		}
		q[i], i = q[down], down
	}
	if len(q) > 0 {
		q[i] = last
	}
	return top
}

func sooner(a, b onArrival) bool { return a.at < b.at || a.at == b.at && a.node < b.node }
