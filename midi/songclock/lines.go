package songclock

import "math"

// longest is how many clocks the longest line goes through: 16 beats, after which
// 2 ms of jitter leave 0.005 % at 120 BPM.
const longest = 16 * PerBeat

// A mark is one clock: its number, and when it came. One that is aside came so far
// off its place that it is not to bend the line.
type mark struct {
	at     float64 // ms
	number int
	aside  bool
}

// lines are the straight lines through the last clocks.
type lines struct {
	marks [longest]mark
	next  int
	n     int
}

func (l *lines) clear() { l.n = 0 }

func (l *lines) add(m mark) {
	l.marks[l.next] = m
	l.next = (l.next + 1) % longest
	l.n = min(longest, l.n+1)
}

// back is the mark so many before the newest.
func (l *lines) back(i int) *mark { return &l.marks[(l.next-1-i+longest)%longest] }

func (l *lines) newest() mark { return *l.back(0) }

// believe takes the last few for what they are, strays or not.
func (l *lines) believe(last int) {
	for i := range min(last, l.n) {
		l.back(i).aside = false
	}
}

// renumber numbers the clocks that were gathered, by the gaps between them: one
// much wider than usual may have missed some, one much narrower may hold a double.
// It gives the number of the newest, and whether there is a tempo like that.
func (l *lines) renumber(median, sigma float64) (steps int, ok bool) {
	if median < fastest || median > slowest {
		return 0, false
	}
	usual := l.usualGap(median)
	for i := l.n - 2; i >= 0; i-- {
		before, m := l.back(i+1), l.back(i)
		step := 1
		if gap := m.at - before.at; math.Abs(gap-usual) > usual/2 {
			jump, sd := l.jump(i, usual, sigma)
			if math.Abs(jump-usual) > misplaced*sd {
				step = max(0, int(math.Round(jump/usual)))
			}
		}
		m.number, m.aside = before.number+step, step == 0
	}
	return l.newest().number - l.back(l.n-1).number, true
}

// usualGap is the mean of the gaps that are neither much wider nor much narrower
// than the median: in a mean, what one clock is late by cancels.
func (l *lines) usualGap(median float64) float64 {
	sum, n := 0.0, 0.0
	for i := range l.n - 1 {
		if gap := l.back(i).at - l.back(i+1).at; math.Abs(gap-median) <= median/2 {
			sum += gap
			n++
		}
	}
	return sum / n
}

// jump is how far the clocks from the i-th newest on lie after those before it, by
// the mean of a few on each side, with its deviation: where one is merely late,
// those after it are not.
func (l *lines) jump(i int, usual, sigma float64) (ms, sd float64) {
	var before, after, n, m float64
	for j := range few {
		if i-j >= 0 {
			after += l.back(i-j).at - float64(j)*usual
			n++
		}
		if i+1+j < l.n {
			before += l.back(i+1+j).at + float64(j)*usual
			m++
		}
	}
	return after/n - before/m, sigma * math.Sqrt(1/n+1/m)
}

// An estimate is what a line says: the period of the clocks with its standard
// deviation, and when the next one is due; all in ms.
type estimate struct {
	period, sd, next float64
}

// agree is how far the periods of two lines may differ, in standard deviations of
// their difference: with jitter alone they do not but once in many millions.
const agree = 5.5

// lengths is how many lines there are, each twice as long as the one before: 24,
// 48, 96, 192 and 384 clocks, and what is left over while they are filled.
const lengths = 6

// estimate is what the longest line says that agrees with all shorter ones. If what
// was known before is known better, and agrees with them too, it is that.
func (l *lines) estimate(sigma float64, known estimate) estimate {
	newest := l.newest()
	var all [lengths]estimate
	var s sums
	drawn, enough := 0, PerBeat
	for i := range l.n {
		m := l.back(i)
		if !m.aside {
			s.add(float64(m.number-newest.number), m.at-newest.at)
		}
		if (m.aside || int(s.n) < enough) && i < l.n-1 {
			continue
		}
		enough *= 2
		e, ok := s.line(sigma)
		if !ok || !e.within(all[:drawn]) {
			break
		}
		e.next += newest.at
		all[drawn] = e
		drawn++
	}
	if drawn == 0 {
		return estimate{}
	}
	best := all[drawn-1]
	if known.sd > 0 && known.sd < best.sd && known.outside(all[:drawn]) {
		known.next = best.next
		return known
	}
	return best
}

// within reports whether a line agrees with shorter ones, whose clocks are among
// its own: then the variance of the difference is that of the shorter less that of
// the longer (both are the best of their clocks).
func (e estimate) within(shorter []estimate) bool {
	for _, s := range shorter {
		if math.Abs(e.period-s.period) > agree*math.Sqrt(max(0, s.sd*s.sd-e.sd*e.sd)) {
			return false
		}
	}
	return true
}

// outside is the same for one that shares no clocks with them.
func (e estimate) outside(others []estimate) bool {
	for _, o := range others {
		if math.Abs(e.period-o.period) > agree*math.Hypot(o.sd, e.sd) {
			return false
		}
	}
	return true
}

// sums are those of least squares.
type sums struct{ n, x, y, xx, xy float64 }

func (s *sums) add(x, y float64) {
	s.n++
	s.x += x
	s.y += y
	s.xx += x * x
	s.xy += x * y
}

// line is the line of least squares y = a + T·x, with T's deviation and y at x = 1.
func (s *sums) line(sigma float64) (estimate, bool) {
	spread := s.n*s.xx - s.x*s.x
	if spread <= 0 {
		return estimate{}, false
	}
	period := (s.n*s.xy - s.x*s.y) / spread
	return estimate{
		period: period,
		sd:     sigma * math.Sqrt(s.n/spread),
		next:   (s.y-period*s.x)/s.n + period,
	}, true
}
