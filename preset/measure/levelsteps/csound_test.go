package levelsteps

import (
	"bytes"
	"encoding/binary"
	"fmt"
	"math"
	"os"
	"os/exec"
	"path/filepath"
	"testing"

	"github.com/stretchr/testify/require"

	"echowright/preset/measure"
	"echowright/preset/wavfile"
)

// machineInCsound plays in.wav through a saturating loop of Csound's own parts: a
// delay line read between its samples, tanh, and a high-pass so that no steady
// part goes round.
const machineInCsound = `<CsoundSynthesizer>
<CsInstruments>
sr = 48000
ksmps = 1
nchnls = 1
0dbfs = 1
instr 1
ain soundin "%s"
aline delayr 1
aback deltap3 0.1837
ahot = (tanh(%g*(ain+%g*aback)+%g)-tanh(%[4]g))/(%[2]g*(1-tanh(%[4]g)^2))
amemory atone ahot, 10
delayw amemory
out ain+0.7*aback
endin
</CsInstruments>
<CsScore>
i 1 0 %[5]g
</CsScore>
</CsoundSynthesizer>`

func TestAMachineMadeByCsound(t *testing.T) {
	if _, err := exec.LookPath("csound"); err != nil {
		t.Skip("SKIP: no Csound here to make a machine:", err)
	}
	_, s := ringing(1, 0, 0.6)
	x := s.Samples()
	var file bytes.Buffer
	_, err := wavfile.Write(&file, s.Rate, [][]float64{x}, wavfile.Float32)
	require.NoError(t, err)
	for _, c := range []struct{ k, back, bias float64 }{{3, 0.6, 0}, {2, 0.5, 0.3}} {
		dir := t.TempDir()
		in, out, orchestra := filepath.Join(dir, "in.wav"), filepath.Join(dir, "out.raw"), filepath.Join(dir, "machine.csd")
		require.NoError(t, os.WriteFile(in, file.Bytes(), 0o600))
		require.NoError(t, os.WriteFile(orchestra, fmt.Appendf(nil, machineInCsound, in, c.k, c.back, c.bias, float64(len(x))/48000), 0o600))
		told, err := exec.Command("csound", "-d", "-h", "-f", "-o", out, orchestra).CombinedOutput()
		require.NoError(t, err, "%s", told)
		made, err := os.ReadFile(out)
		require.NoError(t, err)
		take := measure.Take{Rate: s.Rate, Samples: make([]float64, len(x))}
		for i := range min(len(x), len(made)/4) {
			take.Samples[i] = float64(math.Float32frombits(binary.LittleEndian.Uint32(made[4*i:])))
		}
		r, err := Measure(take, s, Options{})
		require.NoError(t, err)
		require.NotNil(t, r.Drive, "%v", r.Warnings)
		// Both are tanh; the echo as it is heard passes 0.7, and goes back by so much
		// of the memory.
		require.InDelta(t, 20*math.Log10(c.k), float64(r.Drive.Gain), 0.15)
		require.InDelta(t, c.bias, r.Drive.Bias, 0.02)
		require.InDelta(t, 20*math.Log10(0.7), float64(r.Gain), 0.05)
		require.NotNil(t, r.Loop, "%v", r.Warnings)
		require.InDelta(t, 183.7, float64(r.Loop.Delay), 1)
		require.InDelta(t, 20*math.Log10(c.back), float64(r.Loop.Gain), 0.05)
		require.Less(t, float64(r.Loop.Misfit), 0.1)
	}
}
