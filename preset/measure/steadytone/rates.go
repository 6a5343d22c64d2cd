package steadytone

import (
	"cmp"
	"fmt"
	"math"
	"slices"
	"strconv"

	"echowright/preset"
)

// A Rate is one steady wavering of the speed.
type Rate struct {
	Hz   preset.Hertz   `json:"hz"`
	Peak preset.Percent `json:"peak_percent"` // as it reads in the take
	// Carrier is the peak deviation of the machine's own speed: that of the take,
	// or what one pass through a head makes of it; 0 where that hides it.
	Carrier preset.Percent `json:"carrier_percent"`
	Cause   string         `json:"cause"` // the likely one, in words
}

const (
	mostRates = 6
	lowest    = 0.15 // Hz: below it lies drift
	// A peak of the spectrum counts when it stands this far above the middle of
	// what surrounds it, and has this part of the strongest one (the window's
	// side lobes lie 31 dB down).
	overMedian  = 4.0
	ofStrongest = 0.05
	around      = 30 // bins
	// seenLeast is how much of a wavering one pass must show for it to be told:
	// what shows less is mostly noise made greater.
	seenLeast = 0.3
)

// rates are the peaks of the spectrum of the deviation, the strongest first.
// Through is the head's delay in s, or 0.
func (u *unweighted) rates(through float64) []Rate {
	if u.used == 0 {
		return nil
	}
	amp := make([]float64, len(u.power))
	for i, p := range u.power {
		amp[i] = math.Sqrt(p/float64(u.used)) * 4 / float64(u.length) // a sine's amplitude at its own bin
	}
	bin := u.rate / float64(u.length)
	var found []Rate
	for i := max(3, int(math.Ceil(lowest/bin))); float64(i)*bin < flutterTop && i+1 < len(amp); i++ {
		if amp[i] < amp[i-1] || amp[i] <= amp[i+1] || amp[i] < overMedian*median(amp[max(0, i-around):min(len(amp), i+around+1)]) {
			continue
		}
		offset, peak := interpolate(amp[i-1], amp[i], amp[i+1])
		found = append(found, Rate{Hz: preset.Hertz((float64(i) + offset) * bin), Peak: percent(peak)})
	}
	slices.SortStableFunc(found, func(a, b Rate) int { return cmp.Compare(b.Peak, a.Peak) })
	for i := range found {
		if i == mostRates || found[i].Peak < ofStrongest*found[0].Peak {
			found = found[:i]
			break
		}
		found[i].Carrier = carrier(found[i], through)
	}
	explain(found, bin)
	return found
}

// interpolate finds a sine between the bins of a Hann window: with r the ratio
// of the larger neighbour to the greatest bin, it lies (2r − 1)/(1 + r) bins off.
func interpolate(before, at, after float64) (offset, amplitude float64) {
	r, side := after/at, 1.0
	if before > after {
		r, side = before/at, -1
	}
	d := math.Max(0, (2*r-1)/(1+r))
	if d == 0 {
		return 0, at
	}
	return side * d, at * math.Pi * d * (1 - d*d) / math.Sin(math.Pi*d)
}

// carrier undoes what one pass through a head makes of a wavering: it is written
// and read by the same speed, so that 2·|sin(π·f·delay)| of it shows.
func carrier(r Rate, through float64) preset.Percent {
	if through == 0 {
		return r.Peak
	}
	shown := 2 * math.Abs(math.Sin(math.Pi*float64(r.Hz)*through))
	if shown < seenLeast {
		return 0
	}
	return r.Peak / preset.Percent(shown)
}

// explain names a likely cause for each rate: mains, a multiple of a slower one,
// or something that turns once in its period.
func explain(rates []Rate, bin float64) {
	for i := range rates {
		rates[i].Cause = cause(rates, rates[i], bin)
	}
}

func cause(all []Rate, r Rate, bin float64) string {
	f := float64(r.Hz)
	for _, mains := range []float64{50, 60, 100, 120} {
		if math.Abs(f-mains) < 0.005*mains {
			return fmt.Sprintf("%s Hz: the mains, by hum in the take or by the motor", number(mains))
		}
	}
	for _, slow := range all {
		times := math.Round(f / float64(slow.Hz))
		if times >= 2 && times <= 6 && slow.Peak > r.Peak/2 && math.Abs(f-times*float64(slow.Hz)) < bin*(1+times)/4 {
			return fmt.Sprintf("%.3g Hz: %.0f times per turn of what causes %.3g Hz", f, times, float64(slow.Hz))
		}
	}
	return fmt.Sprintf("%.3g Hz: once per turn of something that turns %.3g times a minute", f, 60*f)
}

func median(x []float64) float64 {
	s := slices.Clone(x)
	slices.Sort(s)
	return s[len(s)/2]
}

func percent(ratio float64) preset.Percent { return preset.Percent(100 * ratio) }

func number(v float64) string { return strconv.FormatFloat(v, 'g', -1, 64) }
