package emulator

import (
	"math"

	"echowright/preset"
)

// Echo is one arrival at the mixer's output.
type Echo struct {
	At        preset.Millis // after the direct sound
	Amplitude float64       // over that of the input, negative where inverted, at 1 kHz
}

// The echoes told of: down to 60 dB below the loudest, within four seconds.
const (
	stepsPerMilli = 10 // the unit's time steps
	reach         = 4000 * stepsPerMilli
	least         = 1e-3 // of the loudest amplitude
)

// Echoes is what a slot, or [EditBuffer], makes of a click, computed from its
// codes by the signal path: sorted by time, down to −60 dB below the loudest, up
// to 4 s. It holds for a soft sound, which the drive stage and the wobble leave
// as it is; of the filters it takes what they leave of 1 kHz at each pass, not
// their phase. Echoes on the same tenth of a millisecond are added up.
func (d *FiveLine) Echoes(slot int) ([]Echo, error) {
	m, err := d.memory(slot)
	if err != nil {
		return nil, err
	}
	return loudEnough(m.mixed()), nil
}

// Dry is the amplitude at which a slot, or [EditBuffer], lets the direct sound through.
func (d *FiveLine) Dry(slot int) (float64, error) {
	m, err := d.memory(slot)
	if err != nil {
		return 0, err
	}
	return levelAmplitude(m.get(commonFields[0])), nil
}

// mixed is the sum of the lines, one amplitude for each time step: times are
// whole steps, so nothing is lost by that.
func (m *memory) mixed() []float64 {
	click := make([]float64, reach+1)
	click[0] = 1
	sum := make([]float64, reach+1)
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

func loudEnough(sum []float64) []Echo {
	loudest := 0.0
	for _, a := range sum {
		loudest = max(loudest, math.Abs(a))
	}
	var echoes []Echo
	for i, a := range sum {
		if a != 0 && math.Abs(a) >= loudest*least {
			echoes = append(echoes, Echo{preset.Millis(i) / stepsPerMilli, a})
		}
	}
	return echoes
}
