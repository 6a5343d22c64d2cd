package measure

import (
	"math"
	"math/rand"
	"testing"

	"github.com/stretchr/testify/require"
)

// strummed are notes of one pitch, each so many times louder than the one before.
func strummed(rng *rand.Rand, rate float64, notes int, louder float64) []float64 {
	x := make([]float64, int(float64(notes)*0.9*rate)+int(rate))
	gain := math.Pow(louder, -float64(notes-1))
	for n := range notes {
		at := int((0.2 + 0.9*float64(n)) * rate)
		for i, v := range strum(rng, rate, 140, 0.2) {
			if at+i < len(x) {
				x[at+i] += gain * v
			}
		}
		gain *= louder
	}
	return x
}

// A record path that bends is told by what it does: loud notes come back softer.
func TestDriveIsToldByWhatItDoes(t *testing.T) {
	t.Parallel()
	u := simulated{delays: []float64{101.37, 203.72}, levels: []float64{-4, 0}, tone: cutsAt(0, 4000)}
	for _, c := range []struct {
		name  string
		drive float64 // tanh(drive·x)/drive
		told  bool
	}{{"none", 0, false}, {"much", 3, true}, {"some", 2, true}} {
		t.Run(c.name, func(t *testing.T) {
			rng := rand.New(rand.NewSource(31))
			x := strummed(rng, dryRate, 5, 2)
			bent := make([]float64, len(x))
			for i, v := range x {
				if bent[i] = v; c.drive > 0 {
					bent[i] = math.Tanh(c.drive*v) / c.drive
				}
			}
			r := measuredPair(t, hissed(rng, x, -75), hissed(rng, u.wet(bent, dryRate), -75), dryRate, []int{1, 2})
			require.Equal(t, c.told, warned(r, "looks like drive"), "%v", r.Warnings)
			for k, h := range u.truth().Heads {
				require.InDelta(t, float64(h.Delay), float64(r.Unit.Heads[k].Delay), 0.3, "the project's aim for a driven unit")
				require.InDelta(t, float64(h.Level), float64(r.Unit.Heads[k].Level), 1, "the project's aim for a driven unit")
			}
		})
	}
}

// Blocks whose gain and rest are known: no signal, no chance.
func TestDriveIsFoundInBlocks(t *testing.T) {
	const rate, noise = 1000.0, 1e-12
	size := int(driveBlock * rate)
	for _, c := range []struct {
		name   string
		gain   func(level float64) float64 // of the wet channel to what is made
		odd    func(level float64) float64 // amplitude of a rest that is no part of the sound
		softer float64
		steep  bool
	}{
		{"nothing", func(float64) float64 { return 1 }, func(float64) float64 { return 0 }, 0, false},
		{"linear rest", func(float64) float64 { return 1 }, func(l float64) float64 { return 0.1 * l }, 0, false},
		{"third order rest", func(float64) float64 { return 1 }, func(l float64) float64 { return l * l * l }, 0, true},
		// From 1 for the soft to 1/√2, that is 3.01 dB, for the loud.
		{"compression", func(l float64) float64 { return map[bool]float64{true: math.Sqrt2 / 2, false: 1}[l > 0.1] }, func(float64) float64 { return 0 }, 3.01, false},
	} {
		var wet, left []float64
		for n := range 30 {
			level := 0.01 * math.Pow(30, float64(n)/29)
			for i := range size {
				made, odd := level*math.Sin(2*math.Pi*float64(i)/10), c.odd(level)*math.Cos(2*math.Pi*float64(i)/5)
				rest := (c.gain(level)-1)*made + odd
				wet, left = append(wet, made+rest), append(left, rest)
			}
		}
		d := findDrive(wet, left, rate, noise)
		require.InDelta(t, c.softer, d.softer, 0.05, c.name) // loud thirds hold a little of both
		require.Equal(t, c.steep, d.steep && d.softer < driveTold, c.name)
	}
	require.Zero(t, findDrive(nil, nil, rate, noise))
}
