package arrange

import (
	"math/rand/v2"
	"os"
	"testing"

	"github.com/stretchr/testify/require"

	"echowright/preset"
	"echowright/profiles"
)

// randomUnit has up to six heads, and a loop from one or two of them.
func randomUnit(rng *rand.Rand) preset.Unit {
	heads := make([]preset.Head, 1+rng.IntN(6))
	at := preset.Millis(40)
	for i := range heads {
		at += preset.Millis(20 + 250*rng.Float64())
		heads[i] = preset.Head{Delay: at, Level: preset.Decibels(-12 * rng.Float64()), Inverted: rng.IntN(4) == 0}
		if rng.IntN(2) == 0 {
			heads[i].HighCutHz = preset.Hertz(1500 + 5000*rng.Float64())
		}
		if rng.IntN(2) == 0 {
			heads[i].LowCutHz = preset.Hertz(30 + 150*rng.Float64())
		}
	}
	heads[rng.IntN(len(heads))].Level = 0
	var fed []int
	for range rng.IntN(3) {
		fed = []int{1 + rng.IntN(len(heads))}
	}
	if len(fed) > 0 && len(heads) > 1 && rng.IntN(4) == 0 {
		fed = []int{1, len(heads)}
	}
	u := unit(preset.Decibels(-1-20*rng.Float64()), fed, heads...)
	if len(fed) > 1 {
		u.Feedback.Gain -= 6 // two ways of −7 dB or less together stay below 0 dB
	}
	if rng.IntN(2) == 0 {
		u.Direct = &preset.Direct{EchoToDirect: preset.Decibels(-15 + 20*rng.Float64())}
	}
	return u
}

// TestRandomUnits takes sixty of them, with ECHOWRIGHT_THOROUGH set two hundred.
func TestRandomUnits(t *testing.T) {
	units := 60
	if os.Getenv("ECHOWRIGHT_THOROUGH") != "" {
		units = 200
	}
	d := fiveLine(t)
	rng := rand.New(rand.NewPCG(20, 26))
	whole := 0
	for n := range units {
		u := randomUnit(rng)
		p := pattern(t, u)
		r := arranged(t, p, d)
		requireSafe(t, d, p, r, n)
		requireHonest(t, d, p, r, n)
		require.Less(t, r.Error, preset.Decibels(0), "unit %d: better than silence", n)

		again := arranged(t, p, d)
		require.Equal(t, r, again, "unit %d: the same pattern gives the same setting", n)

		if lines := linesByTheRules(u); lines > 0 && lines <= len(d.Lines) {
			whole++
			require.Zero(t, missing(r), "unit %d: %+v: %q", n, u, r.Warnings)
			require.Less(t, r.Error, preset.Decibels(-20), "unit %d: %+v: %q", n, u, r.Warnings)
		}
	}
	require.Greater(t, whole, units/4, "units that five lines can do are part of it")
}

// linesByTheRules counts the lines of a unit all of whose heads are heard: one for
// each head later than the loop's, two for each that is earlier, one for the loop;
// 0 for a loop that lines cannot do.
func linesByTheRules(u preset.Unit) int {
	if u.Feedback == nil {
		return len(u.Heads)
	}
	fed, _ := u.Head(u.Feedback.Heads[0])
	if len(u.Feedback.Heads) > 1 || fed.Inverted {
		return 0
	}
	n := 1
	for _, h := range u.Heads {
		switch {
		case h.Delay < fed.Delay:
			n += 2
		case h.Delay > fed.Delay:
			n++
		}
	}
	return n
}

// requireSafe: no level above 0 dB, no loop above the pattern's or at 0 dB, at any
// frequency: what a line feeds back is no more than its feedback code says.
func requireSafe(t *testing.T, d *profiles.Device, p preset.Pattern, r Result, n int) {
	t.Helper()
	require.LessOrEqual(t, r.Shift, preset.Decibels(0), "unit %d", n)
	for i, param := range d.Parameters {
		v := param.Scale.Value(r.Setting.Codes[i])
		if (param.Role == profiles.RoleLevel || param.Role == profiles.RoleDry) && v.Word == "" {
			require.LessOrEqual(t, v.Number, 0.0, "unit %d: %s", n, param.Name)
		}
		if param.Role == profiles.RoleFeedback && v.Word == "" {
			require.Less(t, v.Number, 0.0, "unit %d: %s", n, param.Name)
		}
	}
	strongest := preset.Decibels(-200)
	for _, back := range p.Returns {
		strongest = max(strongest, back.Gain)
	}
	for _, g := range loopGains(d, r.Setting) {
		require.LessOrEqual(t, float64(g), float64(strongest)+1e-9, "unit %d", n)
	}
}

// requireHonest: what is listed is what the device profile says of the setting.
func requireHonest(t *testing.T, d *profiles.Device, p preset.Pattern, r Result, n int) {
	t.Helper()
	want, err := p.Train(preset.TrainFloor, preset.TrainLimit)
	require.NoError(t, err)
	require.Len(t, r.Echoes, len(want), "unit %d", n)
	// Followed down to −100 dB: much that is softer than the floor may fall together.
	made, err := d.Echoes(r.Setting, -100+r.Shift, preset.TrainLimit)
	require.NoError(t, err)
	var loud []preset.Echo
	for _, e := range made {
		if e.Level -= r.Shift; e.Level >= preset.TrainFloor {
			loud = append(loud, e)
		}
	}
	listed := map[preset.Millis]preset.Decibels{}
	for i, e := range r.Echoes {
		require.Equal(t, want[i].At, e.At)
		require.Equal(t, want[i].Level, e.Level)
		if e.GotAt != nil {
			require.NotContains(t, listed, *e.GotAt, "unit %d: an echo stands for two", n)
			listed[*e.GotAt] = *e.GotLevel
		}
	}
	for _, e := range r.Extra {
		require.NotContains(t, listed, e.At)
		listed[e.At] = e.Level
	}
	for _, e := range loud {
		level, ok := listed[e.At]
		require.True(t, ok, "unit %d: the echo at %v is not listed", n, e.At)
		require.InDelta(t, float64(e.Level), float64(level), 1e-9)
	}
	require.InDelta(t, float64(preset.PatternError(want, loud)), float64(r.Error), 1e-9, "unit %d", n)
}
