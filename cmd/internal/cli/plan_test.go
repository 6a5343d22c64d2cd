package cli

import (
	"encoding/hex"
	"math"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"echowright/preset"
	"echowright/profiles/arrange"
	"echowright/profiles/emulator"
)

func at(v preset.Millis) *preset.Millis        { return &v }
func level(v preset.Decibels) *preset.Decibels { return &v }

func TestThePlanInASentence(t *testing.T) {
	p := planned{Result: arrange.Result{Error: -20, Echoes: []arrange.Echo{
		{At: 100, Level: 0, GotAt: at(100.05), GotLevel: level(-0.25)},
		{At: 200, Level: -6, GotAt: at(199.9), GotLevel: level(-6)},
	}}}
	require.Equal(t, "2 echoes wanted, all to be had within 0.10 ms and 0.25 dB; pattern error -20.0 dB", verdict(p))
	p.Echoes = append(p.Echoes, arrange.Echo{At: 300, Level: -12})
	p.Extra = []arrange.Extra{{At: 250, Level: -30}}
	require.Equal(t, "3 echoes wanted, 1 not to be had, the others within 0.10 ms and 0.25 dB, 1 unasked; pattern error -20.0 dB", verdict(p))
	p.Echoes, p.Extra = p.Echoes[2:], nil
	require.Equal(t, "1 echo wanted, none to be had; pattern error -20.0 dB", verdict(p))
}

// TestThePlannedBytesMakeThePlannedEchoes hands the message of a plan to the
// firmware that was written from the manual, and listens.
func TestThePlannedBytesMakeThePlannedEchoes(t *testing.T) {
	e := world(t)
	v := e.run(t, "plan", write(t, "fen.toml", someUnit), "--device", "five-line", "--slot", "9", "--json").decode(t)
	d, err := emulator.New("five-line", emulator.Options{})
	require.NoError(t, err)
	now := e.Now()
	for _, m := range v["message"].([]any) {
		b, err := hex.DecodeString(strings.ReplaceAll(m.(string), " ", ""))
		require.NoError(t, err)
		d.Arrive(now, b)
		now = now.Add(time.Second) // longer than any write to memory
		require.NotEmpty(t, d.Run(now), "every message is answered")
	}
	sound, err := d.Sound(9)
	require.NoError(t, err)
	heard, err := sound.Echoes(-66, preset.TrainLimit)
	require.NoError(t, err)
	echoes := v["echo"].([]any)
	require.GreaterOrEqual(t, len(echoes), 10, "two heads, a loop of −6 dB, down to −60 dB")
	for _, one := range echoes {
		echo := one.(map[string]any)
		// Codes are steps of 0.1 ms and the emulator counts in them; JSON has all digits.
		require.True(t, has(heard, echo["got_ms"].(float64), echo["got_db"].(float64), 0.001, 0.001),
			"the plan says %v", echo)
		require.InDelta(t, echo["ms"], echo["got_ms"], 0.15)
		require.InDelta(t, echo["db"], echo["got_db"], 0.5)
	}
}

func has(heard []preset.Echo, ms, db, nearMS, nearDB float64) bool {
	for _, h := range heard {
		if math.Abs(float64(h.At)-ms) < nearMS && math.Abs(float64(h.Level)-db) < nearDB {
			return true
		}
	}
	return false
}
