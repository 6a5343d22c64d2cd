package cli

import (
	"echowright/preset"
	"echowright/preset/measure"
	"echowright/preset/measure/levelsteps"
	"echowright/preset/measure/response"
	"echowright/preset/measure/steadytone"
	"echowright/preset/measure/sweep"
	"echowright/preset/picture"
	"echowright/preset/signals"
)

// responsePanels are what a sweep or clicks show.
func responsePanels(u preset.Unit, take measure.Take, s signals.Signal, m headsResult) []picture.Panel {
	numbers := measuredHeads(u)
	heads := make([]picture.Response, len(m.Ways))
	for k, w := range m.Ways {
		heads[k] = picture.Response{Head: numbers[k], Tone: w.Tone, Curve: strengths(w)}
	}
	panels := []picture.Panel{
		picture.Impulse{Take: struck(numbers, take, s, m.Ways), Dry: take.Dry != nil},
		picture.Tones{Heads: heads},
	}
	for k, n := range numbers {
		var orders []picture.Order
		for _, d := range m.harmonics {
			if d.Way == k {
				orders = append(orders, orderOf(d))
			}
		}
		if len(orders) > 0 {
			panels = append(panels, picture.Harmonics{Head: n, Orders: orders})
		}
	}
	return panels
}

// strengths are the levels of a way at each frequency, to that at 1 kHz.
func strengths(w response.Way) []picture.Strength {
	all := make([]picture.Strength, len(w.Curve))
	for i, p := range w.Curve {
		all[i] = picture.Strength{At: p.Hz, Level: p.Level - w.Level}
	}
	return all
}

func orderOf(d sweep.Distortion) picture.Order {
	o := picture.Order{N: d.Order}
	for _, h := range d.Curve {
		o.Curve = append(o.Curve, picture.Strength{At: h.Hz, Level: h.Level})
	}
	return o
}

// struck is the answer to one click, with the heads marked in it: what a sweep
// becomes when it is undone, and clicks as they were recorded.
func struck(numbers []int, take measure.Take, s signals.Signal, ways []response.Way) picture.Take {
	t := picture.Take{Rate: take.Rate, Samples: take.Samples}
	after := make([]preset.Millis, len(ways))
	for k, w := range ways {
		after[k] = w.Delay
		t.Marks = append(t.Marks, picture.Mark{At: w.Delay, SD: w.DelaySD, Level: w.Level, LevelSD: w.LevelSD, Head: numbers[k]})
	}
	direct := take.Dry
	if s.Kind() == signals.KindSweep {
		undone := sweep.Undo(take, s)
		t.Samples, direct = undone.Wet, undone.Dry
	}
	if direct != nil { // nothing else is in it
		t.Onset = picture.Take{Rate: take.Rate, Samples: direct}.Struck(nil).Onset
		return t
	}
	return t.Struck(after)
}

// tonePanels are what a steady tone shows.
func tonePanels(curve *picture.SpeedCurve, m steadytone.Result, through preset.Millis) []picture.Panel {
	speed, step := curve.Speed()
	var rates []picture.Rate
	for _, r := range m.Rates {
		rates = append(rates, picture.Rate{At: r.Hz, Peak: r.Peak, Cause: r.Cause})
	}
	return []picture.Panel{
		picture.Motion{Speed: speed, Step: step, Figures: &m.Motion, Through: through},
		picture.Rates{Rates: rates},
	}
}

// stepPanels are what level steps show.
func stepPanels(m levelsteps.Result) []picture.Panel {
	steps := make([]picture.Step, len(m.Steps))
	for i, s := range m.Steps {
		steps[i] = picture.Step{In: s.In, Out: s.Out, Harmonics: s.Harmonics[:], Noise: s.Noise}
	}
	return []picture.Panel{
		picture.Transfer{Steps: steps, Gain: m.Gain, OneDB: m.OneDB, Drive: m.Drive},
		picture.StepHarmonics{Steps: steps, EvenToOdd: m.EvenToOdd, AboveToBelow: m.AboveToBelow},
	}
}
