package measure

import (
	"fmt"
	"math"

	"echowright/preset"
)

// channels are the two channels of a take made ready: without direct current, the
// dry one silent where it holds only noise.
type channels struct {
	rate     float64
	step     float64 // s between two samples of the take itself
	from     float64 // s of the take before the part that is measured
	dry, wet []float64
	raw      []float64 // wet as its own clock took it
	drifted  float64   // by how much the dry channel's clock ran faster, which wet has no more
	dryNoise float64   // mean square of what noise is left in dry, over its whole length; 0: not known
	dryHiss  float64   // the same where the dry channel sounds
	wetNoise float64   // mean square; 0: not known
	open     []stretch // samples where dry was not silenced
	cut      bool      // the take was longer than what is measured
	clipped  []spot
}

// spot is where a channel is clipped: at which samples.
type spot struct {
	channel string
	at      []int
}

const (
	levelBlock = 0.005 // s
	quietShare = 0.1   // of the blocks that are taken for quiet
	// A channel whose quietest tenth is not this far below its loudest block says
	// nothing of its noise, unless it is so far below and white, for no playing is:
	// as strong in what its third differences show as by itself.
	quietBelow  = 1e-3
	noisyBelow  = 0.1
	noisyWhite  = 1.5
	quietSpread = 2.0 // times the quietest tenth: blocks up to there hold noise only
	gateAbove   = 4.0 // times the noise's power
	gateAhead   = 0.02
	gateHold    = 0.12 // s
)

// newChannels prepares a take. The error is a refusal.
func newChannels(take Take) (channels, error) {
	short, from := take.shortened()
	rate, n := float64(short.Rate), len(short.Samples)
	c := channels{rate: rate, step: 1 / float64(take.Rate), from: from, dry: centred(short.Dry), wet: centred(short.Samples)}
	for _, x := range []struct {
		name    string
		samples []float64
	}{{"dry", c.dry}, {"wet", c.wet}} {
		if peakOf(x.samples) < 1e-7 {
			return c, &Refusal{Reason: Silence, Detail: "the " + x.name + " channel holds nothing"}
		}
	}
	c.raw, c.cut = c.wet, len(take.Samples) > int(dryLongest*float64(take.Rate))
	c.clipped = take.clippedAt(short, from)
	if alike(c.dry, c.wet) {
		return c, &Refusal{Reason: NoEcho, Detail: "the wet channel is a copy of the dry one"}
	}
	c.wetNoise = knownNoise(c.wet, rate)
	noise := knownNoise(c.dry, rate)
	if noise == 0 {
		c.open = []stretch{{0, n}}
		return c, nil
	}
	c.open = openParts(c.dry, rate, noise)
	if len(c.open) == 0 {
		return c, &Refusal{Reason: OnlyNoise, Detail: fmt.Sprintf("the dry channel: noise %.0f dBFS", 10*math.Log10(noise))}
	}
	kept := silenceBetween(c.dry, c.open, int(0.005*rate))
	c.dryHiss, c.dryNoise = noise, noise*float64(kept)/float64(n)
	return c, nil
}

// alike tells whether y is x, louder or softer or turned over, and nothing else.
func alike(x, y []float64) bool {
	xx, yy, xy := dot(x, x), dot(y, y), dot(x, y)
	return xy*xy > (1-1e-9)*xx*yy
}

// knownNoise is the mean square of the noise of x, 0 where the channel is never
// quiet.
func knownNoise(x []float64, rate float64) float64 {
	levels := blockLevels(x, max(1, int(levelBlock*rate)))
	if len(levels) == 0 {
		return 0
	}
	least, top := quantile(levels, quietShare), quantile(levels, 1)
	if least > quietBelow*top && (least > noisyBelow*top || least > noisyWhite*hissOf(x, rate)) {
		return 0
	}
	sum, n := 0.0, 0.0
	for _, l := range levels {
		if l <= quietSpread*least {
			sum += l
			n++
		}
	}
	return math.Max(sum/n, 1e-14*top)
}

// hissOf is the mean square of white noise that leaves no more of its third
// differences than the quietest blocks of x show.
func hissOf(x []float64, rate float64) float64 {
	d := make([]float64, max(0, len(x)-3))
	for i := range d {
		d[i] = x[i+3] - 3*x[i+2] + 3*x[i+1] - x[i]
	}
	const power = 1 + 9 + 9 + 1 // of white noise, by the differences
	return quantile(blockLevels(d, max(1, int(levelBlock*rate))), quietShare) / power
}

// openParts are the parts of x that hold more than noise, with what comes shortly
// before and after.
func openParts(x []float64, rate, noise float64) []stretch {
	size := max(1, int(levelBlock*rate))
	ahead, hold := int(gateAhead*rate), int(gateHold*rate)
	var all []stretch
	for i, level := range blockLevels(x, size) {
		if level < gateAbove*noise {
			continue
		}
		s := stretch{max(0, i*size-ahead), min(len(x), (i+1)*size+hold)}
		if last := len(all) - 1; last >= 0 && s.from <= all[last].to {
			all[last].to = s.to
		} else {
			all = append(all, s)
		}
	}
	return all
}

// silenceBetween makes x silent outside the open parts, with ramps, and says how
// many samples it kept.
func silenceBetween(x []float64, open []stretch, ramp int) int {
	kept, at := 0, 0
	for _, s := range open {
		clear(x[at:s.from])
		for i := range min(ramp, (s.to-s.from)/2) {
			g := rise(float64(i), 0, float64(ramp))
			x[s.from+i] *= g
			if s.to < len(x) {
				x[s.to-1-i] *= g
			}
		}
		kept += s.to - s.from
		at = s.to
	}
	clear(x[at:])
	return kept
}

// onsets are when the open parts begin to sound.
func (c channels) onsets() []preset.Millis {
	var all []preset.Millis
	noise := math.Max(c.dryNoise, 1e-12)
	for _, s := range c.open {
		on := max(0, firstOnset(c.dry[s.from:s.to], c.rate, noise))
		all = append(all, preset.Millis(1000*c.from)+preset.SamplesToMillis(float64(s.from+on), preset.Hertz(c.rate)))
	}
	return all
}

// noteLength is how long the first open part sounds.
func (c channels) noteLength() preset.Millis {
	on, last := c.onsets()[0], c.open[0]
	end := preset.Millis(1000*c.from) + preset.SamplesToMillis(float64(last.to), preset.Hertz(c.rate)) - 1000*gateHold
	return max(0, end-on)
}
