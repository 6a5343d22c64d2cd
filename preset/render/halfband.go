package render

// A pairing sums pairs of samples around the middle of a window: the values
// half-way between samples. Line holds what is needed of the past.
type pairing struct {
	weights []float64
	line    []float64
}

func newPairing(pairs int, beta float64) pairing {
	return pairing{weights: halfWeights(pairs, beta), line: make([]float64, 2*len(halfWeights(pairs, beta)))}
}

// take puts a block behind what is kept of the past.
func (p *pairing) take(x []float64) {
	p.line = append(p.line, x...)
}

// drop forgets n samples.
func (p *pairing) drop(n int) {
	p.line = p.line[:copy(p.line, p.line[n:])]
}

// half is the value half-way behind sample i+pairs−1 of the line.
func (p *pairing) half(i int) float64 {
	n := len(p.weights)
	s := p.line[i : i+2*n]
	sum := 0.0
	for j, w := range p.weights {
		sum += w * (s[n-1-j] + s[n+j])
	}
	return sum
}

// A doubler doubles the rate of sound: each sample stays, and the value half-way to
// the next comes after it. All comes pairs samples late.
type doubler struct {
	pairing
	out []float64
}

func newDoubler(pairs int, beta float64) doubler { return doubler{pairing: newPairing(pairs, beta)} }

// process gives two samples for each of x; they are good until the next call.
func (d *doubler) process(x []float64) []float64 {
	d.take(x)
	n := len(d.weights)
	d.out = d.out[:0]
	for i := range x {
		d.out = append(d.out, d.line[i+n], d.half(i+1))
	}
	d.drop(len(x))
	return d.out
}

// A halver halves the rate of sound. Of a window, every second sample but the
// middle one has no weight, so the samples half-way are summed in pairs and the
// middle one is added. All comes pairs samples (of the lower rate) late.
type halver struct {
	pairing
	even []float64 // the samples that are kept, as far as they have to wait
	out  []float64
}

func newHalver(pairs int, beta float64) halver {
	return halver{pairing: newPairing(pairs, beta), even: make([]float64, pairs)}
}

// process gives a sample for each two of x; they are good until the next call.
func (h *halver) process(x []float64) []float64 {
	for i := 0; i+1 < len(x); i += 2 {
		h.even = append(h.even, x[i])
		h.line = append(h.line, x[i+1])
	}
	h.out = h.out[:0]
	n := len(x) / 2
	for i := range n {
		h.out = append(h.out, (h.even[i]+h.half(i))/2)
	}
	h.drop(n)
	h.even = h.even[:copy(h.even, h.even[n:])]
	return h.out
}
