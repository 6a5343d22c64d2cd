package measure

import (
	"math"

	"gonum.org/v1/gonum/mat"
)

// A tone is played as the poles of its cuts and a few weights of samples before and
// after: those that come nearest to the formula within the band of what is played.
const (
	weightsBefore = 4 // weights of later samples: what is recorded comes so many samples late
	weightsAll    = 10
	weightPoints  = 60
	// Above the band the weights are held so loosely, so that they stay small.
	looseWeight = 0.02
)

// weighing finds those weights for a rate and a band.
type weighing struct {
	rate   float64
	omegas []float64
	solve  *mat.Dense // from the wanted response, real and imaginary parts, to the weights
}

func newWeighing(rate, high float64) weighing {
	w := weighing{rate: rate}
	a := mat.NewDense(2*weightPoints, weightsAll, nil)
	hold := make([]float64, 2*weightPoints)
	for i := range weightPoints {
		along := (float64(i) + 0.5) / weightPoints
		omega := math.Pi * rate * along * along
		// The poles lift what is low, and with it the error.
		hold[2*i] = 1 / (0.02 + omega/rate)
		if omega > 2.2*math.Pi*high {
			hold[2*i] *= looseWeight
		}
		hold[2*i+1] = hold[2*i]
		w.omegas = append(w.omegas, omega)
		for n := range weightsAll {
			sin, cos := math.Sincos(-omega / rate * float64(n-weightsBefore))
			a.Set(2*i, n, hold[2*i]*cos)
			a.Set(2*i+1, n, hold[2*i]*sin)
		}
	}
	held := mat.NewDiagDense(len(hold), hold)
	w.solve = &mat.Dense{}
	if w.solve.Solve(a, held) != nil { // cannot be: the columns are independent
		w.solve = mat.NewDense(weightsAll, 2*weightPoints, nil)
	}
	return w
}

// recorder plays a tone.
type recorder struct {
	weights [weightsAll]float64
	past    [weightsAll]float64 // inputs, the last one first
	p, q    float64             // poles
	y, z    float64             // last outputs of each
}

// recorder for a tone, beginning in silence.
func (w weighing) recorder(t *shape) recorder {
	r := recorder{p: t.pole(t.high, w.rate), q: t.lowPole(w.rate)}
	want := mat.NewVecDense(2*len(w.omegas), nil)
	for i, omega := range w.omegas {
		sin, cos := math.Sincos(-omega / w.rate)
		h := t.at(omega) * complex(1-r.p*cos, -r.p*sin) * complex(1-r.q*cos, -r.q*sin)
		want.SetVec(2*i, real(h))
		want.SetVec(2*i+1, imag(h))
	}
	got := mat.NewVecDense(weightsAll, r.weights[:])
	got.MulVec(w.solve, want)
	return r
}

// pole is that of a one-pole cut with a time constant in s, where it is played at a
// rate.
func (t *shape) pole(constant, rate float64) float64 {
	switch {
	case constant <= 0:
		return 0
	case t.step > 0: // (1 − e^(−jω·step))/step instead of jω
		return math.Pow(constant/(constant+t.step), 1/(t.step*rate))
	}
	return math.Exp(-1 / (constant * rate))
}

func (t *shape) lowPole(rate float64) float64 {
	if t.low <= 0 {
		return 0
	}
	return t.pole(1/t.low, rate)
}

// step takes a sample and gives the one that is recorded, weightsBefore samples
// late.
func (r *recorder) step(x float64) float64 {
	copy(r.past[1:], r.past[:weightsAll-1])
	r.past[0] = x
	v := 0.0
	for n, w := range r.weights {
		v += w * r.past[n]
	}
	r.y = v + r.p*r.y
	r.z = r.y + r.q*r.z
	return r.z
}
