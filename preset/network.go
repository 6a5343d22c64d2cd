package preset

import (
	"container/heap"
	"errors"
	"fmt"
	"math"
	"slices"
)

// Output is the node at which echoes are heard.
const Output = -1

// A Path carries sound from one node to another: Delay later, times Gain (an
// amplitude ratio with sign). Head, where not 0, names the head that an echo
// leaving by this path is counted for.
type Path struct {
	From, To int
	Delay    Millis
	Gain     float64
	Head     int
}

// A Network is a signal flow of delays and gains: the common ground of a unit's
// pattern and of what any device makes of it. The direct sound enters at node 0
// at time 0; nodes are numbered from 0 to Nodes−1.
type Network struct {
	Nodes int
	Paths []Path
}

// An Echo is one arrival at the output.
type Echo struct {
	At       Millis
	Level    Decibels
	Inverted bool
	Head     int // the head by which it left, 0 if not known
	Turn     int // how often it went round the loop before (paths passed between nodes)
}

// ErrTooDense is returned for a network whose echoes are too many to list.
var ErrTooDense = errors.New("too many echoes to list")

// The limits that pattern_error_db is stated for.
const (
	TrainFloor Decibels = -60
	TrainLimit Millis   = 4000
)

const (
	maxArrivals = 200_000
	// Two arrivals nearer than this are one echo (a hundredth of a sample at 48 kHz).
	together Millis = 0.0002
	// What the decibels of an echo exactly at the floor may lose in the reckoning.
	rounding Decibels = 1e-9
	// Paths this far below the floor are followed still: several may add up to an echo above it.
	followBelow Decibels = -30
)

// Train is every echo at the output of level floor or above, up to and with
// limit, sorted by time. Arrivals at the same time are added with their signs.
// The error is [ErrTooDense], or says which path is impossible.
func (n Network) Train(floor Decibels, limit Millis) ([]Echo, error) {
	if err := n.check(); err != nil {
		return nil, err
	}
	t := n.walk(floor, limit)
	if t.dense {
		return nil, fmt.Errorf("within %v and down to %v: %w", limit, floor, ErrTooDense)
	}
	return t.heard(floor), nil
}

func (n Network) check() error {
	for _, p := range n.Paths {
		switch {
		case p.From < 0 || p.From >= n.Nodes || p.To < Output || p.To >= n.Nodes:
			return fmt.Errorf("path from node %d to %d: nodes run from 0 to %d", p.From, p.To, n.Nodes-1)
		case !finite(float64(p.Delay)) || p.Delay < 0:
			return fmt.Errorf("path from node %d to %d: delay %v", p.From, p.To, p.Delay)
		case !finite(p.Gain):
			return fmt.Errorf("path from node %d to %d: gain %v", p.From, p.To, p.Gain)
		}
	}
	return nil
}

// arrival is sound reaching a node.
type arrival struct {
	at   Millis
	node int
	amp  float64
	turn int
}

type queue []arrival

func (q queue) Len() int { return len(q) }
func (q queue) Less(i, j int) bool {
	return q[i].at < q[j].at || q[i].at == q[j].at && q[i].node < q[j].node
}
func (q queue) Swap(i, j int) { q[i], q[j] = q[j], q[i] }
func (q *queue) Push(x any)   { *q = append(*q, x.(arrival)) }
func (q *queue) Pop() any {
	last := len(*q) - 1
	x := (*q)[last]
	*q = (*q)[:last]
	return x
}

type train struct {
	queue queue
	out   []Echo // Level holds no dB yet: amplitudes stand in amps
	amps  []float64
	dense bool
}

// walk follows the sound in order of time, so that arrivals which fall together
// are merged before they are passed on: without that their number would double
// with every turn of a loop with two returns.
func (n Network) walk(floor Decibels, limit Millis) *train {
	loudest := 0.0
	for _, p := range n.Paths {
		loudest = math.Max(loudest, math.Abs(p.Gain))
	}
	least := (floor + followBelow).Amplitude() / math.Max(1, loudest)
	t := &train{queue: queue{{amp: 1}}}
	for seen := 0; len(t.queue) > 0; seen++ {
		if seen > maxArrivals {
			t.dense = true
			return t
		}
		a := t.next()
		for _, p := range n.Paths {
			if p.From == a.node {
				t.pass(a, p, least, limit)
			}
		}
	}
	return t
}

func (t *train) next() arrival {
	a := heap.Pop(&t.queue).(arrival)
	for len(t.queue) > 0 && t.queue[0].node == a.node && t.queue[0].at-a.at <= together {
		a.amp += heap.Pop(&t.queue).(arrival).amp
	}
	return a
}

func (t *train) pass(a arrival, p Path, least float64, limit Millis) {
	at, amp := a.at+p.Delay, a.amp*p.Gain
	if at > limit || math.Abs(amp) < least {
		return
	}
	if p.To == Output {
		t.out = append(t.out, Echo{At: at, Head: p.Head, Turn: a.turn})
		t.amps = append(t.amps, amp)
		return
	}
	heap.Push(&t.queue, arrival{at: at, node: p.To, amp: amp, turn: a.turn + 1})
}

// heard sorts what reached the output, adds what fell together and drops what
// lies below the floor.
func (t *train) heard(floor Decibels) []Echo {
	order := make([]int, len(t.out))
	for i := range order {
		order[i] = i
	}
	slices.SortStableFunc(order, func(a, b int) int { return compareDelay(t.out[a].At, t.out[b].At) })
	var echoes []Echo
	for i := 0; i < len(order); {
		e, amp := t.out[order[i]], t.amps[order[i]]
		for i++; i < len(order) && t.out[order[i]].At-e.At <= together; i++ {
			amp += t.amps[order[i]]
		}
		e.Level, e.Inverted = FromAmplitude(amp), amp < 0
		if e.Level >= floor-rounding {
			echoes = append(echoes, e)
		}
	}
	return echoes
}
