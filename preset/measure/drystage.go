package measure

import "math"

// stage is a stretch of both channels on which a wavering unit is played, at a
// lower rate. Errors count from sample count on.
type stage struct {
	rate     float64
	high     float64 // Hz: end of its band
	noise    float64 // mean square in that band; 0: not known
	start    float64 // s of its first sample
	dry, wet []float64
	count    int
	table    []kernel
	weighing
}

const (
	stageBefore = 2.5  // s played before those that are fitted
	stageMargin = 0.05 // s
	dryMargin   = 64   // samples
)

// newStage is the part of the take that sounds most, of so many seconds at the
// most, thinned.
func newStage(c channels, rate, high, longest float64) *stage {
	step := thinning(c.rate, rate)
	g := &stage{rate: c.rate / float64(step), table: kernelTable()}
	g.high = math.Min(high, 0.37*g.rate)
	g.weighing = newWeighing(g.rate, g.high)
	from, to := c.loudest(longest)
	first := max(0, from-int(stageBefore*c.rate), c.open[0].from-int(stageMargin*c.rate))
	first -= first % step
	margin := min(first, int(stageMargin*c.rate)/step*step)
	end := min(len(c.wet), to+int(stageMargin*c.rate))
	both := slowed(c.rate, band{0, g.high}, step, c.dry[first-margin:end], c.wet[first-margin:end])
	g.start = float64(first) / c.rate
	begin, last := margin/step, (to-first+margin)/step
	g.dry, g.wet = both[0][begin:last], both[1][begin:last]
	g.count = max(0, from-first) / step
	if g.noise = knownNoise(both[1], g.rate); g.noise == 0 {
		g.noise = c.wetNoise * 2 * g.high / c.rate
	}
	return g
}

// loudest is the run of so many seconds that has most energy, without what is no
// more than noise at either end.
func (c channels) loudest(longest float64) (from, to int) {
	size := int(levelBlock * c.rate)
	levels := blockLevels(c.wet, size)
	most := min(len(levels), int(longest/levelBlock))
	sum, best := 0.0, 0.0
	for i, l := range levels {
		sum += l
		if i >= most {
			sum -= levels[i-most]
		}
		if i >= most-1 && sum > best {
			best, from = sum, i-most+1
		}
	}
	to = from + most
	for from < to-1 && levels[from] < speedAbove*c.wetNoise {
		from++
	}
	for to > from+1 && levels[to-1] < speedAbove*c.wetNoise {
		to--
	}
	return from * size, to * size
}
