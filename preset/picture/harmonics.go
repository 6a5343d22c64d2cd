package picture

import (
	"fmt"
	"math"
)

// Harmonics shows how much of the multiples of each pitch a head adds to it.
type Harmonics struct {
	Head   int
	Orders []Order
}

// An Order is the level of the n-th harmonic by the frequency of its fundamental.
type Order struct {
	N     int
	Curve []Strength // Level is to the fundamental; empty where the harmonic drowns
}

// orderInk, and orderDash, are those of the n-th harmonic: even ones are drawn in
// one way, odd ones in another.
func orderInk(n int) ink {
	return map[bool]ink{true: firstHeadInk, false: firstHeadInk + 1}[n%2 == 0]
}

func orderDash(n int) dash {
	if n > 3 {
		return broken
	}
	return whole
}

func orderName(n int) string {
	ordinals := map[int]string{2: "2nd", 3: "3rd"}
	if name, ok := ordinals[n]; ok {
		return name + " harmonic"
	}
	return fmt.Sprintf("%dth harmonic", n)
}

func (h Harmonics) draw(s *sheet) {
	s.heading(fmt.Sprintf("What head %d adds to a tone", h.Head))
	var entries []entry
	for _, o := range h.shown() {
		entries = append(entries, entry{orderName(o.N), stroked(orderInk(o.N), 2, orderDash(o.N))})
	}
	s.legend(entries)
	f := s.frame(160, hertz(lowestShown, highestShown), h.scale())
	for _, o := range h.shown() {
		var at, share []float64
		for _, p := range o.Curve {
			at, share = append(at, float64(p.At)), append(share, 100*p.Level.Amplitude())
		}
		f.curve(fmt.Sprintf("order-%d", o.N), at, share, orderInk(o.N), 2, orderDash(o.N))
	}
	s.caption(h.words())
}

func (h Harmonics) words() string {
	if len(h.shown()) == 0 {
		return "No harmonic rises out of the noise: the way through this head leaves tones as they are."
	}
	return "A tone of the frequency below comes back with tones of twice, three times … its frequency beside it: so much of them. " +
		"Even harmonics (2nd, 4th) tell of a machine that treats the two halves of a wave unlike."
}

func (h Harmonics) shown() []Order {
	var all []Order
	for _, o := range h.Orders {
		if len(o.Curve) > 0 {
			all = append(all, o)
		}
	}
	return all
}

func (h Harmonics) scale() scale {
	var all []float64
	for _, o := range h.Orders {
		for _, p := range o.Curve {
			all = append(all, 100*p.Level.Amplitude())
		}
	}
	return shares("harmonic in % of the tone itself", all)
}

// shares is a logarithmic scale of percentages, by powers of ten, that holds the
// values from a thousandth on.
func shares(name string, values []float64) scale {
	least, most := 0.1, 10.0
	if s, ok := spanOf(values); ok {
		most = math.Pow(10, ceil(math.Log10(math.Max(0.1, math.Min(s.high, 1000)))))
		least = math.Pow(10, math.Floor(math.Log10(math.Max(1e-3, math.Min(s.low, 1000)))))
		least = math.Min(least, most/100)
	}
	y := scale{name: name, low: least, high: most, log: true, label: func(v float64) string { return label(v) + " %" }}
	for v := least; v <= most*1.001; v *= 10 {
		y.ticks = append(y.ticks, v)
	}
	return y
}
