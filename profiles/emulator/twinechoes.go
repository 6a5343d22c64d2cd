package emulator

import "echowright/preset"

const (
	twinLongest preset.Millis = 1200
	twinTop     preset.Millis = 16383
	// inaudible is where a line is taken to have died away.
	inaudible float64 = 1e-15
)

// arrivals are the turns of both lines, at the tempo of the clock:
//
//	y(t) = x(t − d) + f · y(t − d),  heard = mix · level · y
func (s *twinSound) arrivals(quarter, limit preset.Millis) []arrival {
	var all []arrival
	for n := range twinLines {
		level := float64(s.level[n]) / 127
		gain := float64(s.mix) / 127 * level * level
		f := 0.98 * float64(s.feedback[n]) / 127
		d := s.delay(n, quarter)
		if d == 0 { // all turns at once
			all = append(all, arrival{0, gain / (1 - f)})
			continue
		}
		for turn := 1; gain > inaudible && preset.Millis(turn)*d <= limit; turn++ {
			all = append(all, arrival{preset.Millis(turn) * d, gain})
			gain *= f
		}
	}
	return all
}

// delay is the time of a line: its own, or that of its note value where it is
// clocked and the clock has been heard. What is too long for the line is halved
// until it fits.
func (s *twinSound) delay(line int, quarter preset.Millis) preset.Millis {
	note := noteValues[s.clocked[line]]
	if note == 0 || quarter == 0 {
		return twinLongest * preset.Millis(s.time[line]) / twinTop
	}
	d := note * quarter
	for d > twinLongest {
		d /= 2
	}
	return d
}
