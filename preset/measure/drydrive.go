package measure

import (
	"cmp"
	"math"
	"slices"
)

const (
	driveBlock  = 0.03 // s
	driveClear  = 30.0 // times the noise
	driveBlocks = 9
	driveRange  = 4.0  // times the power that loud parts must have of soft ones
	driveTold   = 0.12 // dB
	steepRest   = 1.5  // slope of the level of what is left against that of the sound
)

// drive is what of a rest looks like saturation.
type drive struct {
	// softer is by how many dB less comes back of the loud third of the sound than of
	// the soft one.
	softer float64
	steep  bool // what is left grows faster than the sound does
}

// moment is a block of the wet channel: power of what the unit makes of the dry
// one, gain of the wet channel to it, power of what is left.
type moment struct{ made, gain, left float64 }

// findDrive judges what a unit leaves of the wet channel, whose noise is known.
func findDrive(wet, left []float64, rate, noise float64) drive {
	var all []moment
	size := int(driveBlock * rate)
	for at := 0; at+size <= len(wet); at += size {
		var m moment
		for i := at; i < at+size; i++ {
			made := wet[i] - left[i]
			m.made += made * made / float64(size)
			m.gain += made * wet[i] / float64(size)
			m.left += left[i] * left[i] / float64(size)
		}
		if m.made > driveClear*noise {
			m.gain /= m.made
			all = append(all, m)
		}
	}
	if len(all) < driveBlocks {
		return drive{}
	}
	slices.SortFunc(all, func(a, b moment) int { return cmp.Compare(a.made, b.made) })
	soft, loud := all[:len(all)/3], all[len(all)-len(all)/3:]
	if meanMade(loud) < driveRange*meanMade(soft) {
		return drive{}
	}
	return drive{softer: 20 * math.Log10(math.Max(meanGain(soft), 1e-9)/math.Max(meanGain(loud), 1e-9)), steep: steepness(all, noise) > steepRest}
}

func meanMade(all []moment) float64 {
	sum := 0.0
	for _, m := range all {
		sum += m.made
	}
	return sum / float64(len(all))
}

// meanGain is weighted by power, as least squares would.
func meanGain(all []moment) float64 {
	sum := 0.0
	for _, m := range all {
		sum += m.gain * m.made
	}
	return sum / (float64(len(all)) * meanMade(all))
}

// steepness is the slope of the level of what is left over the noise against that
// of the sound: 1 where a linear unit is not quite the true one, 2 or 3 where the
// unit makes harmonics. 0 where too little is left to tell.
func steepness(all []moment, noise float64) float64 {
	var n, sx, sy, sxx, sxy float64
	for _, m := range all {
		if m.left < 4*noise {
			continue
		}
		x, y := math.Log(m.made), math.Log(m.left-noise)
		n, sx, sy, sxx, sxy = n+1, sx+x, sy+y, sxx+x*x, sxy+x*y
	}
	if n < driveBlocks {
		return 0
	}
	return (n*sxy - sx*sy) / math.Max(n*sxx-sx*sx, 1e-12)
}
