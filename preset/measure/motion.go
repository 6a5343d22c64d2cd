package measure

// Rates of motion that a fit is started from, Hz: near enough to each other that
// the true one lies in the valley of its neighbour.
var (
	slowRates = []float64{0.35, 0.5, 0.7, 0.9, 1.15, 1.45, 1.8, 2.3, 2.9, 3.6}
	fastRates = []float64{4.3, 5, 5.8, 6.6, 7.4, 8.2, 9, 10, 11, 12.5, 14, 16}
)

// wowRungs are the lengths of the note that the search for wow begins with, of
// noteLengths, the likeliest first.
var wowRungs = []int{4, 3, 2, 5}

// slowest is the least rate of wow that a take of some seconds can tell, Hz.
const slowest = 0.25

// likelyRate is the rate at which motion (0 slow, 1 fast) would explain most of
// what f leaves unexplained, judged by one step of the fit, and the share of the
// sum of squares that would then be left.
func (s sound) likelyRate(f fitted, which int, rates []float64) (rate, left float64) {
	p := player{sound: s}
	m := f.machine.clone()
	rate, left = rates[0], 1
	p.lasting(noteLengths[f.rung])
	rest := make([]float64, len(s.take))
	if !p.rest(&m, rest) {
		return rate, left
	}
	p.weigh(rest)
	knobs := m.knobs(f.free)
	fixed := len(knobs)
	w := &m.wow[which]
	knobs = append(knobs, knob{&w.sine, 1e-7, -1, 1}, knob{&w.cosine, 1e-7, -1, 1})
	pr, x := p.problem(&m, knobs)
	r := make([]float64, pr.length)
	if !pr.residuals(x, r) {
		return rate, left
	}
	now := dot(r, r)
	lines := newLines(len(x), pr.length)
	ok := pr.differentiate(x, r, lines, 0, fixed)
	for _, hz := range rates {
		w.rate = hz
		if ok && pr.differentiate(x, r, lines, fixed, len(x)) {
			if after := pr.promise(x, now, lines); after < left*now {
				rate, left = hz, after/now
			}
		}
	}
	return rate, left
}
