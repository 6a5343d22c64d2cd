package window

import (
	"encoding/json"
	"math"
	"os/exec"
	"testing"

	"github.com/stretchr/testify/require"
)

func TestSinc(t *testing.T) {
	require.Equal(t, 1.0, Sinc(0))
	for n := 1; n < 9; n++ {
		require.InDelta(t, 0, Sinc(float64(n)), 1e-15, "it is 0 at every other sample: sin(πn) = 0")
	}
	require.InDelta(t, 2/math.Pi, Sinc(0.5), 1e-15, "sin(π/2)/(π/2)")
}

func TestKaiserEnds(t *testing.T) {
	require.Equal(t, 1.0, Kaiser(0, 7))
	require.Zero(t, Kaiser(1, 7))
	require.Zero(t, Kaiser(-1.5, 7))
	require.Equal(t, Kaiser(0.3, 7), Kaiser(-0.3, 7))
	require.Equal(t, 1.0, Kaiser(0.5, 0), "β = 0 is a rectangle")
}

// SciPy's window of 65 points is this one at 65 places from −1 to 1; its two ends
// are not 0, as ours are.
func TestKaiserBesideSciPy(t *testing.T) {
	const program = "import json; from scipy.signal.windows import kaiser; print(json.dumps({str(b): list(kaiser(65, b)) for b in (2, 7, 10)}))"
	out, err := exec.Command("/usr/bin/python3", "-c", program).Output()
	if err != nil {
		t.Skipf("SKIP: no SciPy: %v", err)
	}
	var want map[string][]float64
	require.NoError(t, json.Unmarshal(out, &want))
	for name, beta := range map[string]float64{"2": 2, "7": 7, "10": 10} {
		for i, w := range want[name][1:64] {
			require.InDelta(t, w, Kaiser(float64(i+1)/32-1, beta), 1e-12, "β %v, point %d", beta, i+1)
		}
	}
}

// I0(1) = 1.266065877752, I0(7) = 168.593908510290 (Abramowitz & Stegun, table
// 9.8, from e^−x·I0).
func TestBessel0(t *testing.T) {
	require.Equal(t, 1.0, bessel0(0))
	require.InDelta(t, 1.266065877752, bessel0(1), 1e-12)
	require.InDelta(t, 168.593908510290, bessel0(7), 1e-9)
}
