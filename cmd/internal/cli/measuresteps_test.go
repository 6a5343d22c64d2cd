package cli

import (
	"bytes"
	"encoding/json"
	"testing"

	"github.com/stretchr/testify/require"

	"echowright/cmd/internal/ui"
	"echowright/preset/measure/levelsteps"
)

func TestTheDecayOfDrivenEchoesIsShown(t *testing.T) {
	m := levelsteps.Result{Loop: &levelsteps.Loop{Delay: 300, Gain: -6, GainSD: 0.05, Turns: []levelsteps.Turn{
		{Step: 1, Number: 1, Level: -40, Gain: -6.01}, {Step: 1, Number: 2, Level: -46, Gain: -6},
		{Step: 2, Number: 1, Level: -10, Gain: -7.4}, {Step: 2, Number: 2, Level: -17.4, Gain: -6.5},
	}}}
	var out bytes.Buffer
	c := &call{out: ui.Plain(&out)}
	c.showLevelSteps("take.wav", m)
	require.Contains(t, out.String(), "decay of the echoes, 300 ms from one to the next: a soft one loses 6.00 ± 0.05 dB a turn")
	require.Regexp(t, `(?m)^ *2 +-10\.0 +-7\.40 +-6\.50$`, out.String())
	text, err := json.Marshal(viewSteps("", originView{}, m))
	require.NoError(t, err)
	require.Contains(t, string(text), `"gain_sd_db":0.05`)

	out.Reset()
	c.showLevelSteps("take.wav", levelsteps.Result{})
	require.NotContains(t, out.String(), "decay")
}
