package render

import (
	"testing"

	"github.com/stretchr/testify/require"

	"echowright/preset"
	"echowright/preset/measure"
	"echowright/preset/measure/levelsteps"
	"echowright/preset/signals"
)

// Bursts from soft to hard are rendered and measured: the drive that went in comes
// out, its bias with the sign, through a head that turns the sound over too. The
// bounds are a tenth of a dB and a hundredth of bias: far finer than two drives can be
// told apart by ear (common practice, no source). The bursts are at full scale, louder
// than any that the program writes.
func TestDriveComesBackFromItsRendering(t *testing.T) {
	s := signals.Default(signals.KindSteps)
	s.Level = 0
	x := s.Samples()
	for _, c := range []struct {
		drive    preset.Drive
		tone     preset.Tone
		inverted bool
	}{
		{preset.Drive{Gain: 9.5}, preset.Tone{}, false},
		{preset.Drive{Gain: 6, Bias: 0.3}, preset.Tone{}, false},
		{preset.Drive{Gain: 12, Bias: -0.2}, preset.Tone{}, true},
		{preset.Drive{Gain: 9, Bias: 0.4}, preset.Tone{LowCut: 30, HighCut: 4000}, false},
	} {
		tap := preset.Tap{Delay: 203.4, Level: 0, Inverted: c.inverted, Tone: c.tone}
		g := Machine{Pattern: preset.Pattern{Taps: []preset.Tap{tap}}, Drive: &c.drive}.Graph()
		take := measure.Take{Rate: s.Rate, Samples: rendered(t, g, Options{}, x), Dry: x}
		r, err := levelsteps.Measure(take, s, levelsteps.Options{Tone: c.tone, Inverted: c.inverted})
		require.NoError(t, err)
		require.NotNil(t, r.Drive, "%+v: %v", c, r.Warnings)
		require.InDelta(t, float64(c.drive.Gain), float64(r.Drive.Gain), 0.1, "%+v", c)
		require.InDelta(t, c.drive.Bias, r.Drive.Bias, 0.01, "%+v", c)
		// Unity for a soft sound of 1 kHz; at the bursts' frequency, what the tone makes of it.
		want := preset.FromAmplitude(c.tone.Magnitude(s.Steps.Frequency) / c.tone.Magnitude(preset.Reference))
		require.InDelta(t, float64(want), float64(r.Gain), 0.05)
	}
}
