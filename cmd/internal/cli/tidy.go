package cli

import (
	"math"

	"echowright/preset"
)

// tidied is a unit without the digits that nobody could have measured: a tenth of
// a microsecond, a thousandth of a dB, a thousandth of a hertz.
func tidied(u preset.Unit) preset.Unit {
	heads := make([]preset.Head, len(u.Heads))
	for i, h := range u.Heads {
		h.Delay, h.DelaySD = rounded(h.Delay, 1e4), rounded(h.DelaySD, 1e4)
		h.Level, h.LevelSD = rounded(h.Level, 1e3), rounded(h.LevelSD, 1e3)
		h.LowCutHz, h.HighCutHz = rounded(h.LowCutHz, 1e3), rounded(h.HighCutHz, 1e3)
		heads[i] = h
	}
	u.Heads = heads
	if u.Feedback != nil {
		f := *u.Feedback
		f.Gain, f.GainSD = rounded(f.Gain, 1e3), rounded(f.GainSD, 1e3)
		u.Feedback = &f
	}
	if u.Direct != nil {
		u.Direct = &preset.Direct{EchoToDirect: rounded(u.Direct.EchoToDirect, 1e3)}
	}
	if u.Motion != nil {
		m := *u.Motion
		m.SpeedRatio = rounded(m.SpeedRatio, 1e6)
		m.WowPercent, m.FlutterPercent = rounded(m.WowPercent, 1e4), rounded(m.FlutterPercent, 1e4)
		m.WowHz, m.FlutterHz = rounded(m.WowHz, 1e3), rounded(m.FlutterHz, 1e3)
		u.Motion = &m
	}
	if u.Drive != nil {
		u.Drive = &preset.Drive{Gain: rounded(u.Drive.Gain, 1e3), Bias: rounded(u.Drive.Bias, 1e4)}
	}
	return u
}

// rounded keeps so many parts of one. Adding 0 makes 0 of −0.
func rounded[T ~float64](v T, parts float64) T {
	return T(math.Round(float64(v)*parts)/parts) + 0
}
