package arrange

import (
	"math"
	"sort"

	"echowright/preset"
)

// A sheet is the axis on which trains of echoes are drawn. [preset.PatternError]
// spreads every echo by a Gaussian and integrates the square of a difference;
// here the Gaussians are sampled at steps of half their width, each sample times
// the root of its share of the axis, so that an integral of a product is a sum of
// products, exact to far below a thousandth of a decibel. What is drawn once is
// then compared with anything at the cost of a few hundred multiplications.
type sheet struct {
	at   []float64 // ms
	root []float64
}

// reach is how many widths of a Gaussian are drawn: what is left out is below
// −80 dB of its top.
const reach = 4.5

func newSheet(limit preset.Millis) *sheet {
	width := func(t float64) float64 { return float64(preset.TimingJND(preset.Millis(t))) / 2 }
	s := &sheet{}
	end := float64(limit) + (reach+1)*width(float64(limit))
	for t := -(reach + 1) * width(0); t < end; t += width(t) / 2 {
		s.at = append(s.at, t)
	}
	s.root = make([]float64, len(s.at))
	for i := range s.at {
		before, after := s.at[max(i-1, 0)], s.at[min(i+1, len(s.at)-1)]
		s.root[i] = math.Sqrt((after - before) / 2)
	}
	return s
}

// draw is the curve of a train, with or without the signs of its echoes.
func (s *sheet) draw(train []preset.Echo, signs bool) []float64 {
	y := make([]float64, len(s.at))
	for _, e := range train {
		a := e.Level.Amplitude()
		if signs && e.Inverted {
			a = -a
		}
		t := float64(e.At)
		sigma := float64(preset.TimingJND(e.At)) / 2
		a /= sigma * math.Sqrt(2*math.Pi)
		for i := sort.SearchFloat64s(s.at, t-reach*sigma); i < len(s.at) && s.at[i] < t+reach*sigma; i++ {
			d := (s.at[i] - t) / sigma
			y[i] += a * s.root[i] * math.Exp(-d*d/2)
		}
	}
	return y
}

func dot(a, b []float64) float64 {
	sum := 0.0
	for i, v := range a {
		sum += v * b[i]
	}
	return sum
}

// apart is the squared length of a − b.
func apart(a, b []float64) float64 {
	sum := 0.0
	for i, v := range a {
		sum += (v - b[i]) * (v - b[i])
	}
	return sum
}
