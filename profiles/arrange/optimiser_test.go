package arrange

import (
	"math"
	"math/rand/v2"
	"os"
	"strconv"
	"testing"
	"time"

	"github.com/stretchr/testify/require"
	"gonum.org/v1/gonum/optimize"

	"echowright/preset"
	"echowright/profiles"
)

// A general optimiser that knows nothing of heads is given the codes of a device as
// so many numbers from 0 to 1, and ECHOWRIGHT_OPTIMISER_SECONDS to find a setting
// that is nearer: gonum's CMA-ES, started again from other places until time is up.
// It must not. (Where its best breaks what the arranger keeps to, it does not count.)
func TestNoGeneralOptimiserIsBetter(t *testing.T) {
	seconds, _ := strconv.Atoi(os.Getenv("ECHOWRIGHT_OPTIMISER_SECONDS"))
	if seconds == 0 {
		t.Skip("set ECHOWRIGHT_OPTIMISER_SECONDS=60 to give it a minute for each device")
	}
	heads := []preset.Head{{Delay: 121, Level: -7}, {Delay: 263}, {Delay: 405, Level: -2}, {Delay: 560, Level: -3}}
	p := pattern(t, unit(-6.9, []int{4}, heads...))
	for _, name := range profiles.Names() {
		t.Run(name, func(t *testing.T) {
			d := shipped(t, name)
			r := arranged(t, p, d)
			k, err := newDeck(d)
			require.NoError(t, err)
			x := newTapSearch(k, wishOf(t, p))
			theirs := optimised(x, time.Duration(seconds)*time.Second)
			t.Logf("arranged %.2f dB, optimised %.2f dB", float64(r.Error), 10*math.Log10(theirs))
			require.LessOrEqual(t, float64(r.Error), 10*math.Log10(theirs)+0.01)
		})
	}
}

// optimised is the least squared error over the wish that CMA-ES comes to.
func optimised(x *tapSearch, limit time.Duration) float64 {
	d := x.hall.deck.device
	var open []int
	for i, p := range d.Parameters {
		if p.Role != profiles.RoleDry && p.Role != profiles.RoleDrive && p.Role != profiles.RoleNote && p.Role != profiles.RoleMix {
			open = append(open, i)
		}
	}
	setting := func(v []float64) profiles.Setting {
		s := d.Rest()
		for n, i := range open {
			scale := d.Parameters[i].Scale
			share := math.Abs(math.Mod(v[n], 2))
			share = min(share, 2-share)
			s.Codes[i] = scale.Low + int(math.Round(share*float64(scale.High()-scale.Low)))
			if !scale.Holds(s.Codes[i]) {
				s.Codes[i] = d.Parameters[i].Rest
			}
		}
		return s
	}
	least := 1.0
	problem := optimize.Problem{Func: func(v []float64) float64 {
		s := setting(v)
		if !x.allowed(s) {
			return 10
		}
		cost := min(x.hear(s, 0), 10)
		least = min(least, cost)
		return cost
	}}
	random := rand.New(rand.NewPCG(16, 18))
	for until := time.Now().Add(limit); time.Now().Before(until); {
		start := make([]float64, len(open))
		for i := range start {
			start[i] = random.Float64()
		}
		// What it stops for is of no matter: least is kept on the way.
		_, _ = optimize.Minimize(problem, start, &optimize.Settings{Runtime: time.Until(until)},
			&optimize.CmaEsChol{InitStepSize: 0.3, Src: rand.NewPCG(random.Uint64(), 1)})
	}
	return least
}
