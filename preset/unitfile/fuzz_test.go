package unitfile

import (
	"math"
	"math/rand/v2"
	"os"
	"path/filepath"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"echowright/preset"
)

// What is read can be written, is then read as the same unit, and is written the
// same a second time.
func FuzzParse(f *testing.F) {
	f.Add([]byte(byHand))
	files, err := filepath.Glob("testdata/*/*.toml")
	require.NoError(f, err)
	for _, path := range files {
		text, err := os.ReadFile(path)
		require.NoError(f, err)
		f.Add(text)
	}
	f.Fuzz(func(t *testing.T, text []byte) {
		u, err := Parse("f", text)
		if err != nil {
			require.Equal(t, preset.Unit{}, u)
			return
		}
		canonical, err := Format(u)
		require.NoError(t, err)
		requireSame(t, u, canonical)
	})
}

// The same from the other end: any valid unit, its numbers drawn over all their
// magnitudes.
func FuzzFormat(f *testing.F) {
	f.Add(uint64(1), "notes \"with\" \\ and\nmore", "take.wav")
	f.Add(uint64(2), "", "")
	f.Add(uint64(3), "'''\"\"\"", "größer.wav")
	f.Fuzz(func(t *testing.T, seed uint64, notes, take string) {
		u := randomUnit(rand.New(rand.NewPCG(seed, 1)), notes, take)
		text, err := Format(u)
		if err != nil { // the fuzzer's texts may hold what no text may
			u.Notes, u.Origin = "", nil
			text, err = Format(u)
		}
		require.NoError(t, err)
		requireSame(t, u, text)
	})
}

func TestRandomUnitsComeBackTheSame(t *testing.T) {
	r := rand.New(rand.NewPCG(20260314, 1))
	for range 500 {
		u := randomUnit(r, "notes", "take.wav")
		text, err := Format(u)
		require.NoError(t, err)
		requireSame(t, u, text)
	}
}

func randomUnit(r *rand.Rand, notes, take string) preset.Unit {
	// from draws a number between the two in any order of magnitude, and often 0 where that lies between.
	from := func(low, high float64) float64 {
		if low <= 0 && r.IntN(4) == 0 {
			return 0
		}
		v := high * math.Pow(10, -12*r.Float64())
		if low < 0 && r.IntN(2) == 0 {
			v = low * math.Pow(10, -12*r.Float64())
		}
		return max(low, v)
	}
	u := preset.Unit{Name: "random", Kind: preset.Kinds()[r.IntN(4)], Notes: notes}
	loudest := 0
	for number := 1 + r.IntN(3); number <= 8; number += 1 + r.IntN(3) {
		u.Heads = append(u.Heads, preset.Head{
			Head: number, Delay: preset.Millis(from(1, 60_000)), DelaySD: preset.Millis(from(0, 10)),
			Level: preset.Decibels(-from(0, 96)), LevelSD: preset.Decibels(from(0, 96)), Inverted: r.IntN(2) == 0,
			LowCutHz: preset.Hertz(from(0, 1000)), HighCutHz: preset.Hertz(from(0, 100_000)),
		})
		if u.Heads[len(u.Heads)-1].Level > u.Heads[loudest].Level {
			loudest = len(u.Heads) - 1
		}
	}
	u.Heads[loudest].Level = 0
	if r.IntN(2) == 0 {
		u.Origin = &preset.Origin{Take: take}
		if r.IntN(2) == 0 {
			u.Origin.Measured = time.Date(1900+r.IntN(200), time.Month(1+r.IntN(12)), 1+r.IntN(28), 0, 0, 0, 0, time.UTC)
		}
	}
	if r.IntN(2) == 0 {
		u.Feedback = &preset.Feedback{Heads: u.HeadNumbers(), Gain: preset.Decibels(from(-96, 12)), GainSD: preset.Decibels(from(0, 96))}
	}
	if r.IntN(2) == 0 {
		u.Direct = &preset.Direct{EchoToDirect: preset.Decibels(from(-96, 96))}
	}
	if r.IntN(2) == 0 {
		u.Motion = &preset.Motion{SpeedRatio: from(0, 16), WowPercent: preset.Percent(from(0, 50)), WowHz: preset.Hertz(from(0, 100)),
			FlutterPercent: preset.Percent(from(0, 50)), FlutterHz: preset.Hertz(from(0, 1000))}
	}
	if r.IntN(2) == 0 {
		u.Drive = &preset.Drive{Gain: preset.Decibels(from(-60, 60)), Bias: from(-2, 2)}
	}
	return u
}
