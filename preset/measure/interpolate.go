package measure

import (
	"math"

	"echowright/preset/window"
)

// Reading between samples: a sinc of 16 points under a Kaiser window, β = 7.
// It is flat to about three quarters of half the rate.
const (
	taps  = 16
	ahead = taps / 2 // samples needed beyond the place that is read
	beta  = 7.0
	fine  = 512 // places between two samples in the table for moving delays
)

type kernel [taps]float64

// kernelAt weights the samples i−7 … i+8 for reading at i+u, 0 ≤ u ≤ 1.
func kernelAt(u float64) kernel {
	var k kernel
	for j := range k {
		x := float64(j-ahead+1) - u
		k[j] = window.Sinc(x) * window.Kaiser(x/ahead, beta)
	}
	return k
}

// kernelFor is the kernel for reading with a delay in samples.
func kernelFor(delay float64) kernel { return kernelAt(math.Ceil(delay) - delay) }

// read fills out with what stood delay samples before at, at+1, … in memory, k
// being the delay's kernel. All of it must lie within memory.
func read(out, memory []float64, at int, delay float64, k *kernel) {
	from := at - int(math.Ceil(delay)) - ahead + 1
	whole := len(out) &^ 3
	for i := 0; i < whole; i += 4 { // four at a time: each weight is fetched once for all
		s := (*[taps + 3]float64)(memory[from+i:])
		var a, b, c, d float64
		for j, w := range k {
			a += w * s[j]
			b += w * s[j+1]
			c += w * s[j+2]
			d += w * s[j+3]
		}
		out[i], out[i+1], out[i+2], out[i+3] = a, b, c, d
	}
	for i := whole; i < len(out); i++ {
		out[i] = k.times((*kernel)(memory[from+i:]))
	}
}

func (k *kernel) times(s *kernel) float64 {
	return ((k[0]*s[0] + k[1]*s[1]) + (k[2]*s[2] + k[3]*s[3])) +
		((k[4]*s[4] + k[5]*s[5]) + (k[6]*s[6] + k[7]*s[7])) +
		(((k[8]*s[8] + k[9]*s[9]) + (k[10]*s[10] + k[11]*s[11])) +
			((k[12]*s[12] + k[13]*s[13]) + (k[14]*s[14] + k[15]*s[15])))
}

// kernelTable holds kernels at fine+1 places from one sample to the next.
func kernelTable() []kernel {
	t := make([]kernel, fine+1)
	for i := range t {
		t[i] = kernelAt(float64(i) / fine)
	}
	return t
}

// readMoving is read with a delay of its own for every sample.
func readMoving(out, memory []float64, at int, delay []float64, table []kernel) {
	for i := range out {
		place := float64(at+i) - delay[i]
		whole := int(place)
		u := (place - float64(whole)) * fine
		row := int(u)
		u -= float64(row)
		s := (*kernel)(memory[whole-ahead+1:])
		before, after := table[row].times(s), table[row+1].times(s)
		out[i] = before + u*(after-before)
	}
}
