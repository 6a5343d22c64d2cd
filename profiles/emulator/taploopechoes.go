package emulator

import (
	"fmt"
	"math"

	"echowright/preset"
)

// tapLoopSteps is how many time steps of 0.125 ms make a millisecond.
const tapLoopSteps = 8

func (d *tapLoop) sound(slot int) Sound {
	s := d.at(slot)
	return Sound{
		unit: tapLoopName, codes: s.parameters(), dry: tapLevel(s.dry),
		arrivals: func(limit preset.Millis) ([]arrival, error) {
			heard, err := s.heard(int(limit * tapLoopSteps))
			return stepped(heard, tapLoopSteps), err
		},
	}
}

// heard is the sum of the taps, one amplitude for each step of time:
//
//	m(t) = tone · (x(t) + f · m(t − d_k)),  heard = Σ level_i · polarity_i · m(t − d_i)
func (s *tapSound) heard(steps int) ([]float64, error) {
	memory, err := s.memory(steps)
	if err != nil {
		return nil, err
	}
	heard := make([]float64, steps+1)
	for i, level := range s.level {
		gain := tapLevel(level)
		if s.polarity[i] >= 64 {
			gain = -gain
		}
		for t := s.time[i]; gain != 0 && t <= steps; t++ {
			heard[t] += gain * memory[t-s.time[i]]
		}
	}
	return heard, nil
}

// memory is what the tape at its input hears of a click at time 0. The feedback
// is what one tap picks up, before its level and polarity. As the cut leaves the
// lowest tones whole, a loop of 1 or more howls however dull it is.
func (s *tapSound) memory(steps int) ([]float64, error) {
	f, d := s.feedback(), s.time[s.tap]
	if f >= 1 {
		return nil, fmt.Errorf("%w: feedback amount %d sends %.3f of what tap %d hears round again", ErrHowls, s.amount, f, s.tap)
	}
	tone := s.tone()
	memory := make([]float64, steps+1)
	memory[0] = tone
	if d == 0 { // all turns at once
		memory[0] = tone / (1 - tone*f)
		return memory, nil
	}
	for t := d; t <= steps; t++ {
		memory[t] = tone * f * memory[t-d]
	}
	return memory, nil
}

func (s *tapSound) feedback() float64 { return 1.10 * float64(s.amount) / 127 }

// tone is what one pass leaves of a tone of 1 kHz.
func (s *tapSound) tone() float64 {
	corner := 800 * math.Pow(20, float64(s.highCut)/127)
	return 1 / math.Hypot(1, 1000/corner)
}

// tapLevel: 0 is silent, 1 is −48 dB, 127 is 0 dB.
func tapLevel(code byte) float64 {
	if code == 0 {
		return 0
	}
	return math.Pow(10, (-48+48*float64(code-1)/126)/20)
}
