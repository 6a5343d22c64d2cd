package measure

import (
	"math"

	"echowright/preset"
)

const (
	leftStep  preset.Millis   = 10
	faintEcho preset.Decibels = -60 // to the loudest head: softer echoes are not listed
)

// echoes of the unit as they stand after a note, down to faintEcho.
func echoesOf(u preset.Unit) []Echo {
	pattern, err := u.Pattern()
	if err != nil || u.Direct == nil {
		return nil
	}
	train, err := pattern.Train(faintEcho, preset.TrainLimit)
	if err != nil {
		return nil // too dense to list is too dense to draw
	}
	all := make([]Echo, len(train))
	for i, e := range train {
		all[i] = Echo{At: e.At, Level: e.Level + u.Direct.EchoToDirect, Head: e.Head, Turn: e.Turn}
		if h, ok := u.Head(e.Head); ok && e.Turn == 0 {
			all[i].SD, all[i].LevelSD = h.DelaySD, h.LevelSD
		}
	}
	return all
}

// left is the level of what the echoes leave of the take around a note, a value
// every leftStep from the start of the take; NaN before the note.
func (f noteFit) left() []preset.Decibels {
	p := player{sound: f.sound}
	p.lasting(noteLengths[f.rung])
	rest := make([]float64, len(f.sound.take))
	if !p.rest(&f.machine, rest) {
		return nil
	}
	var levels []preset.Decibels
	begin, _ := f.span()
	for at := preset.Millis(0); ; at += leftStep {
		from := int((at - begin).Samples(preset.Hertz(f.sound.rate)))
		to := int((at + leftStep - begin).Samples(preset.Hertz(f.sound.rate)))
		switch {
		case to > len(rest):
			return levels
		case from < 0:
			levels = append(levels, preset.Decibels(math.NaN()))
		default:
			levels = append(levels, preset.Decibels(10*math.Log10(math.Max(meanSquare(rest[from:to]), 1e-20))))
		}
	}
}
