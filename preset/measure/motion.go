package measure

// Rates of motion that a fit is started from, Hz: near enough to each other that
// the true one lies in the valley of its neighbour.
var (
	slowRates = []float64{0.35, 0.5, 0.7, 0.9, 1.15, 1.45, 1.8, 2.3, 2.9, 3.6}
	fastRates = []float64{4.3, 5, 5.8, 6.6, 7.4, 8.2, 9, 10, 11, 12.5, 14, 16}
)

// likelyRate is the rate at which motion (0 slow, 1 fast) would explain most of
// what f leaves unexplained, judged by one step of the fit, and the share of the
// sum of squares that would then be left.
func (s sound) likelyRate(f fitted, which int, rates []float64) (rate, left float64) {
	p := s.player(f.lasting)
	with := f.free
	if which == 0 {
		with.slow = true
	} else {
		with.fast = true
	}
	rate, left = rates[0], 1
	for _, hz := range rates {
		m := f.machine.clone()
		m.wow[which] = motion{rate: hz}
		knobs := m.knobs(with)
		pr, x := p.problem(&m, knobs[:len(knobs)-1]) // the rate itself stays
		if now, after := pr.promise(x); after < left*now {
			rate, left = hz, after/now
		}
	}
	return rate, left
}
