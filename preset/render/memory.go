package render

// A memory holds the latest samples of a node, and the values half-way between
// them where it is read there. Times are samples of the take, counted from 0.
type memory struct {
	samples []float64
	halves  []float64 // halves[i] lies between samples i and i+1; nil where nobody reads them
	weights []float64
	leaps   []leap
	begin   int // time of samples[0]
	end     int // index behind the last sample
	halved  int // index behind the last value of halves
	reach   int
}

// newMemory makes the memory of a node that lags so many samples: silence so far.
func newMemory(reach, lag int, between bool, leaps []leap) memory {
	const least = 1 << 14 // between two times that everything is moved down
	m := memory{samples: make([]float64, reach+max(least, reach/2)), begin: -lag - reach, end: reach, reach: reach, leaps: leaps}
	if between {
		m.halves = make([]float64, len(m.samples))
		m.halved = reach - halfPairs
		m.weights = halfWeights(halfPairs, halfBeta)
	}
	return m
}

// write adds the next samples.
func (m *memory) write(block []float64) {
	if m.end+len(block) > len(m.samples) {
		m.moveDown()
	}
	m.end += copy(m.samples[m.end:], block)
	if m.halves != nil {
		n := m.end - halfPairs
		halfway(m.halves[m.halved:n], m.samples[m.halved-halfPairs+1:m.end], (*[halfPairs]float64)(m.weights))
		m.halved = n
	}
}

func (m *memory) moveDown() {
	by := m.end - m.reach
	copy(m.samples, m.samples[by:m.end])
	if m.halves != nil {
		copy(m.halves, m.halves[by:m.halved])
		m.halved -= by
	}
	m.end, m.begin = m.reach, m.begin+by
}

// halfway fills out[i] with the value between x[i+15] and x[i+16], two at a time,
// since neighbours share all but two of their samples.
func halfway(out, x []float64, w *[halfPairs]float64) {
	i := 0
	for ; i+2 <= len(out); i += 2 {
		s := (*[2*halfPairs + 1]float64)(x[i:])
		var a, b, c, d float64
		left, right := s[halfPairs], s[halfPairs]
		for j := 0; j < halfPairs; j += 2 {
			l, r := s[halfPairs-1-j], s[halfPairs+1+j]
			a += w[j] * (l + right)
			b += w[j] * (left + r)
			left, right = s[halfPairs-2-j], s[halfPairs+2+j]
			c += w[j+1] * (left + r)
			d += w[j+1] * (l + right)
		}
		out[i], out[i+1] = a+c, b+d
	}
	if i < len(out) {
		s, sum := x[i:], 0.0
		for j, v := range w {
			sum += v * (s[halfPairs-1-j] + s[halfPairs+j])
		}
		out[i] = sum
	}
}

// add adds to sum what the voice reads, the first sample for the time at.
func (m *memory) add(sum []float64, v *voice, at int) {
	switch {
	case v.late != nil:
		m.addMoving(sum, v, at-m.begin)
	case v.whole:
		from := at - m.begin - int(v.delay)
		for i, x := range m.samples[from : from+len(sum)] {
			sum[i] += v.gain * x
		}
	default:
		m.addBetween(sum, &v.kernel, at-m.begin-ceil(v.delay))
	}
}

func ceil(v float64) int {
	n := int(v)
	if float64(n) < v {
		n++
	}
	return n
}

// addBetween reads with a kernel of a constant delay, the place behind index from
// on: four sums at a time, which share most of their points.
func (m *memory) addBetween(sum []float64, k *kernel, from int) {
	near, far := m.grids(k.swapped, from)
	n := len(sum)
	near, far = near[:n+points-1], far[:n+points-1]
	i := 0
	for ; i+4 <= n; i += 4 {
		p, q, out := (*[points + 3]float64)(near[i:]), (*[points + 3]float64)(far[i:]), (*[4]float64)(sum[i:])
		w0, w1, w2, w3 := k.near[0], k.near[1], k.near[2], k.near[3]
		p0, p1, p2, p3, p4, p5, p6 := p[0], p[1], p[2], p[3], p[4], p[5], p[6]
		a := (w0*p0 + w1*p1) + (w2*p2 + w3*p3)
		b := (w0*p1 + w1*p2) + (w2*p3 + w3*p4)
		c := (w0*p2 + w1*p3) + (w2*p4 + w3*p5)
		d := (w0*p3 + w1*p4) + (w2*p5 + w3*p6)
		w0, w1, w2, w3 = k.far[0], k.far[1], k.far[2], k.far[3]
		p0, p1, p2, p3, p4, p5, p6 = q[0], q[1], q[2], q[3], q[4], q[5], q[6]
		out[0] += a + ((w0*p0 + w1*p1) + (w2*p2 + w3*p3))
		out[1] += b + ((w0*p1 + w1*p2) + (w2*p3 + w3*p4))
		out[2] += c + ((w0*p2 + w1*p3) + (w2*p4 + w3*p5))
		out[3] += d + ((w0*p3 + w1*p4) + (w2*p5 + w3*p6))
	}
	for ; i < n; i++ {
		sum[i] += dot(&k.near, near[i:]) + dot(&k.far, far[i:])
	}
}

// grids are the points that the near and the far weights of a kernel go with, for
// reading behind the sample of that index.
func (m *memory) grids(swapped bool, index int) (near, far []float64) {
	if swapped {
		return m.halves[index-1:], m.samples[index-1:]
	}
	return m.samples[index-1:], m.halves[index-2:]
}

func dot(w *[points]float64, x []float64) float64 {
	s := (*[points]float64)(x)
	return (w[0]*s[0] + w[1]*s[1]) + (w[2]*s[2] + w[3]*s[3])
}

// addMoving reads with a delay of its own for every sample, the first for index at.
func (m *memory) addMoving(sum []float64, v *voice, at int) {
	for i := range sum {
		place := 2 * (float64(at+i) - v.late[i])
		grid := int(place)
		row := (place - float64(grid)) * fine
		l := &m.leaps[int(row)]
		row -= float64(int(row))
		near, far := m.grids(grid&1 == 1, grid/2)
		here := dot(&l.near, near) + dot(&l.far, far)
		on := dot(&l.nearOn, near) + dot(&l.farOn, far)
		sum[i] += v.gain * (here + row*on)
	}
}
