package picture

import (
	"fmt"
	"math"

	"echowright/preset"
)

// Transfer shows how loud a machine plays what goes in soft or hard.
type Transfer struct {
	Steps []Step
	Gain  preset.Decibels  // for soft sounds
	OneDB *preset.Decibels // the level in at which 1 dB is lost, nil where none is
	Drive *preset.Drive    // the model that does nearly the same, nil if there is none
}

// A Step is a level in and what came out of it.
type Step struct {
	In, Out   preset.Decibels  // of a sine, 0 dB reaching full scale
	Harmonics []preset.Percent // from the second on, of the fundamental
	Noise     preset.Percent   // by which the harmonics may be off
}

func (t Transfer) draw(s *sheet) {
	s.heading("Loudness in, loudness out")
	entries := []entry{
		{"measured", signed(0, false)},
		{fmt.Sprintf("unity line: a dB more in, a dB more out (gain %s dB)", fixed(float64(t.Gain), 1)), stroked(black, 1, broken)},
	}
	if t.Drive != nil {
		entries = append(entries, entry{fmt.Sprintf("model: drive %s dB, bias %s", fixed(float64(t.Drive.Gain), 1), fixed(t.Drive.Bias, 3)), stroked(bright, 2, whole)})
	}
	s.legend(entries)
	in, out := t.spans()
	f := s.frame(230, linear("level in, in dB; at 0 dB a tone fills the recording", in.low, in.high, 10), linear("level out, in dB; at 0 dB a tone fills the recording", out.low, out.high, 6))
	f.curve("straight", []float64{in.low, in.high}, []float64{in.low + seen(t.Gain), in.high + seen(t.Gain)}, black, 1, broken)
	if t.Drive != nil {
		at, level := t.model()
		f.curve("model", at, level, bright, 2, whole)
	}
	if t.OneDB != nil {
		f.upright(float64(*t.OneDB), amber, 1.5, dotted)
	}
	for _, step := range t.Steps {
		at := point{f.x.inside(seen(step.In)), f.y.inside(seen(step.Out))}
		s.group(group{class: "step", hint: step.tell(), data: []datum{{"in", float64(step.In)}, {"out", float64(step.Out)}}}, func() {
			s.add(sign(at, 0, false))
		})
	}
	s.caption(t.words())
}

func (t Transfer) words() string {
	words := "To the right it goes in harder. Along the broken line a machine would play all sounds alike; where the signs stay below it, the machine compresses"
	if t.OneDB == nil {
		return words + ", which it does by less than 1 dB here."
	}
	return words + fmt.Sprintf(": by 1 dB from %s dB on (the dotted upright line).", fixed(float64(*t.OneDB), 1))
}

func (s Step) tell() string {
	return fixed(float64(s.In), 1) + " dB in, " + fixed(float64(s.Out), 1) + " dB out"
}

func (t Transfer) spans() (in, out span) {
	in = t.measured()
	in = span{in.low - 1, in.high + 1}.widened(5)
	outs := []float64{in.low + seen(t.Gain), in.high + seen(t.Gain)} // the ends of the unity line
	for _, s := range t.Steps {
		outs = append(outs, seen(s.Out))
	}
	out, _ = spanOf(outs)
	return in, span{out.low - 1, out.high + 1}.widened(10)
}

// measured is from the softest to the hardest level in.
func (t Transfer) measured() span {
	var all []float64
	for _, s := range t.Steps {
		all = append(all, seen(s.In))
	}
	s, ok := spanOf(all)
	if !ok {
		return span{-60, 0}
	}
	return s
}

// model is the level of the fundamental that the drive makes of a sine, which is
// what was measured.
func (t Transfer) model() (at, level []float64) {
	const n = 120
	in := t.measured()
	for i := range n + 1 {
		db := in.low + (in.high-in.low)*float64(i)/n
		a := math.Pow(10, db/20)
		at, level = append(at, db), append(level, float64(t.Gain)+20*math.Log10(fundamental(*t.Drive, a)))
	}
	return at, level
}

// fundamental is the amplitude of the first harmonic of the driven sine of
// amplitude a: twice the mean of wave and sine over a period, which the sum over
// equal steps gives at once for a wave as smooth as this.
func fundamental(d preset.Drive, a float64) float64 {
	const steps = 256
	k, sum := d.Gain.Amplitude(), 0.0
	slope := k * (1 - math.Pow(math.Tanh(d.Bias), 2))
	for i := range steps {
		x := math.Sin(2 * math.Pi * float64(i) / steps)
		sum += x * (math.Tanh(k*a*x+d.Bias) - math.Tanh(d.Bias)) / slope
	}
	return math.Max(2*sum/steps, 1e-10)
}

// StepHarmonics shows what a machine adds to a tone that goes in soft or hard.
type StepHarmonics struct {
	Steps []Step
	// Of the hardest step: even against odd harmonics, upper against lower peak.
	EvenToOdd, AboveToBelow preset.Decibels
}

func (h StepHarmonics) draw(s *sheet) {
	s.heading("What the machine adds to a tone, soft to hard")
	var entries []entry
	var all []float64
	for k := range h.orders() {
		n := k + 2
		entries = append(entries, entry{orderName(n), stroked(orderInk(n), 2, orderDash(n))})
	}
	for _, step := range h.Steps {
		for _, v := range step.Harmonics {
			all = append(all, float64(v))
		}
	}
	entries = append(entries, entry{"as far as noise may pretend", stroked(black, 1, broken)})
	s.legend(entries)
	in, _ := Transfer{Steps: h.Steps}.spans()
	f := s.frame(190, linear("level in, in dB; at 0 dB a tone fills the recording", in.low, in.high, 10), shares("harmonic in % of the tone itself", all))
	f.curve("noise", h.column(func(s Step) float64 { return float64(s.In) }), h.column(func(s Step) float64 { return float64(s.Noise) }), black, 1, broken)
	for k := range h.orders() {
		n := k + 2
		share := h.column(func(s Step) float64 {
			if k < len(s.Harmonics) {
				return float64(s.Harmonics[k])
			}
			return math.NaN()
		})
		f.curve(fmt.Sprintf("order-%d", n), h.column(func(s Step) float64 { return float64(s.In) }), share, orderInk(n), 2, orderDash(n))
	}
	s.caption(h.words())
}

func (h StepHarmonics) words() string {
	return fmt.Sprintf("Odd harmonics (3rd, 5th) come of squeezing both halves of a wave alike, even ones (2nd, 4th) of treating them unlike. "+
		"Where it goes in hardest the even ones lie %s dB to the odd ones and the upper peak %s dB to the lower. "+
		"What lies below the thin broken line may be nothing but noise.", fixed(seen(h.EvenToOdd), 1), fixed(seen(h.AboveToBelow), 1))
}

func (h StepHarmonics) orders() (most int) {
	for _, s := range h.Steps {
		most = max(most, len(s.Harmonics))
	}
	return most
}

func (h StepHarmonics) column(pick func(Step) float64) []float64 {
	all := make([]float64, len(h.Steps))
	for i, s := range h.Steps {
		all[i] = pick(s)
	}
	return all
}
