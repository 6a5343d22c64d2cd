package emulator

import (
	"fmt"
	"math"

	"echowright/preset"
)

// fiveLineSteps is how finely the five-line unit's times are set.
const fiveLineSteps = 10

// sound tells what the memory holds under the manual's names.
func (m memory) sound() Sound {
	m.seal()
	return Sound{
		unit: fiveLineName, codes: m.parameters(), stored: m[:],
		dry: levelAmplitude(m.get(commonFields[0])),
		arrivals: func(limit preset.Millis) ([]arrival, error) {
			return stepped(m.mixed(int(limit*fiveLineSteps)), fiveLineSteps), nil
		},
	}
}

func (m *memory) parameters() []parameter {
	var all []parameter
	for n := range lines {
		for offset, name := range [len(lineFields)]string{"time", "level", "polarity", "feedback", "source", "high cut", "low cut"} {
			f, _ := find(n*lineStep + offset)
			all = append(all, parameter{"line " + string(rune('A'+n)) + " " + name, m.get(f)})
		}
	}
	for i, name := range [len(commonFields)]string{"dry level", "drive", "wobble rate", "wobble depth"} {
		all = append(all, parameter{name, m.get(commonFields[i])})
	}
	for i := range nameSize {
		all = append(all, parameter{fmt.Sprintf("name %d", i+1), int(m[nameAt+i])})
	}
	return all
}

// setParameters is the way back: codes in the same order, which is that of the
// addresses.
func (m *memory) setParameters(codes []int) {
	for address := range lastAddress + 1 {
		if f, ok := find(address); ok {
			m.set(f, codes[0])
			codes = codes[1:]
		}
	}
}

// mixed is the sum of the lines, one amplitude for each time step: times are
// whole steps, so nothing is lost by that.
func (m *memory) mixed(steps int) []float64 {
	click := make([]float64, steps+1)
	click[0] = 1
	sum := make([]float64, steps+1)
	for n := range lines {
		l := m.line(n)
		gain := levelAmplitude(l.level)
		if l.polarity == 1 {
			gain = -gain
		}
		if gain == 0 {
			continue
		}
		for i, y := range m.delayed(n, click) {
			sum[i] += gain * y
		}
	}
	return sum
}

// delayed is the output of line n before its level and polarity:
//
//	y(t) = tone · (source(t − d) + f · y(t − d))
//
// At time 0 that is y = tone·source/(1 − tone·f), which is finite: f is at most
// 127/128 and tone below 1.
func (m *memory) delayed(n int, click []float64) []float64 {
	l := m.line(n)
	source := click
	if l.source != 0 {
		source = m.delayed(l.source-1, click)
	}
	tone, f := l.tone(), float64(l.feedback)/128
	y := make([]float64, len(source))
	for i := range y {
		switch {
		case l.time == 0:
			y[i] = tone * source[i] / (1 - tone*f)
		case i >= l.time:
			y[i] = tone * (source[i-l.time] + f*y[i-l.time])
		}
	}
	return y
}

// tone is what the two filters of a line leave of a tone of 1 kHz.
func (l line) tone() float64 {
	left := 1.0
	if l.highCut < 31 {
		corner := 500 * math.Pow(2, float64(l.highCut)/6)
		left /= math.Hypot(1, 1000/corner)
	}
	if l.lowCut > 0 {
		corner := 20 * math.Pow(2, float64(l.lowCut-1)/6)
		left /= math.Hypot(1, corner/1000)
	}
	return left
}

// levelAmplitude: 0 is silent, 1 is −60 dB, each further step 0.5 dB.
func levelAmplitude(code int) float64 {
	if code == 0 {
		return 0
	}
	return math.Pow(10, (-60+0.5*float64(code-1))/20)
}
