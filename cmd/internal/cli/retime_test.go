package cli

import (
	"fmt"
	"math"
	"regexp"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"echowright/preset"
)

// The example of the help, worked out anew: 60000/120·3/4 = 375 ms, 300/375 = 0.8.
const helpUnit = `format = "echowright-unit/1"
name = "example"
kind = "tape"
[[head]]
head = 1
delay_ms = 100.0
level_db = 0.0
high_cut_hz = 3000
[[head]]
head = 2
delay_ms = 200.0
level_db = -2.0
high_cut_hz = 3000
[[head]]
head = 3
delay_ms = 300.0
level_db = -4.0
high_cut_hz = 3000
[feedback]
heads = [3]
gain_db = -6.0
[motion]
wow_percent = 0.2
wow_hz = 1.0
`

func TestTheWorkedExampleOfTheHelp(t *testing.T) {
	help := world(t).run(t, "retime", "--help").out
	got := retimed(t, helpUnit, "--bpm", "120", "--note", "1/8.")
	require.Contains(t, help, fmt.Sprintf("runs at %.1f of its speed", got.ratio))
	require.InDelta(t, 0.8, got.ratio, 1e-12)

	var delays []string
	for _, h := range got.unit.Heads {
		delays = append(delays, fmt.Sprintf("%g", math.Round(1e6*float64(h.Delay))/1e6))
		require.InDelta(t, 2400, float64(h.HighCutHz), 1e-9)
	}
	require.Contains(t, help, "100, 200, 300 ms become "+strings.Join(delays, ", ")+" ms")
	require.Contains(t, help, fmt.Sprintf("from 3000 to %.0f Hz", float64(got.unit.Heads[0].HighCutHz)))

	m := got.unit.Motion
	require.Contains(t, help, fmt.Sprintf("still %g %% of the speed, but at %.1f Hz instead of 1 Hz", float64(m.WowPercent), float64(m.WowHz)))
	// Speed wavers by ε·sin(2πft): a repeat through head delay τ wavers by the peak
	// ε·2·|sin(πfτ)| in pitch and ε·|sin(πfτ)|/(πf) in delay (first order; 0.5150 ms
	// for 0.3 s, 1 Hz, 0.2 %).
	waver := func(f, tau float64) (pitch, ms float64) {
		s := math.Abs(math.Sin(math.Pi * f * tau))
		return 0.002 * 2 * s, 1000 * 0.002 * s / (math.Pi * f)
	}
	pitch, before := waver(1, 0.3)
	slower, after := waver(float64(m.WowHz), got.unit.Heads[2].Delay.Seconds())
	require.InDelta(t, pitch, slower, 1e-12, "as deep as before")
	require.InDelta(t, 0.5150, before, 1e-4)
	require.Contains(t, help, fmt.Sprintf("by %.3f ms instead of %.3f ms", after, before))

	require.InDelta(t, -4, float64(got.unit.Heads[2].Level), 0, "levels stay")
	require.InDelta(t, -6, float64(got.unit.Feedback.Gain), 0, "and the loop")
	require.Contains(t, help, fmt.Sprintf("Up to %.1f times faster", preset.MainsStep))
	require.Contains(t, help, fmt.Sprintf("up to %.0f times another pulley", preset.SpeedStep))
}

type result struct {
	unit  preset.Unit
	ratio float64
}

// retimed runs the command and reads back what it kept and what it said.
func retimed(t *testing.T, unit string, args ...string) result {
	t.Helper()
	e := world(t)
	v := e.run(t, append([]string{"retime", write(t, "unit.toml", unit), "--into", "kept", "--json"}, args...)...).decode(t)
	c := &call{Env: e}
	u, err := c.unit("kept")
	require.NoError(t, err)
	for i, h := range u.Heads {
		told := v["head"].([]any)[i].(map[string]any)
		require.InDelta(t, float64(h.Delay), told["delay_ms"], 1e-4, "what is kept is what was told, to a tenth of a microsecond")
	}
	return result{u, v["speed_ratio"].(float64)}
}

func TestModesInWords(t *testing.T) {
	unit := write(t, "unit.toml", helpUnit)
	for _, c := range []struct {
		args  []string
		lines []string // regular expressions, each of which one line must fit
		talk  string
	}{
		{[]string{"--bpm", "120", "--note", "1/8."}, []string{
			`^example at 120 BPM: running at 0\.8000 of the measured speed \(-20\.00 %\)$`,
			`^that is more than the other mains does, and no more than another pulley or motor; wow 0\.2 % at 0\.80 Hz$`,
			`^ +3 +375\.00 +1/8\. +0\.00 +9\.4 +on the note$`,
			`^head +low cut Hz +high cut Hz$`,
			`^ +1 +none +2400$`,
		}, ""},
		{[]string{"--beat-ms", "600", "--note", "1/8"}, []string{ // 300 ms: head 3 has it
			`^example at 100 BPM: running at 1\.0000 of the measured speed \(0\.00 %\)$`,
			`^ +2 +200\.00 +1/8t +0\.00 +6\.0 +on the note$`,
		}, ""},
		{[]string{"--bpm", "40", "--note", "1/2"}, []string{ // 3000 ms, a tenth of the speed
			`^that is what no motor would do; wow 0\.2 % at 0\.10 Hz$`,
		}, "warning: no motor would run this unit at 0.10 of its speed"},
		{[]string{"--bpm", "120", "--grid", "1/8,1/4"}, []string{ // 250 and 500 ms
			`^example at 120 BPM: every head on its own note$`,
			`^ +1 +250\.00 +1/8 +\+150\.00 +6\.2 +moved by 24\.0 times what can be noticed$`,
			`^ +3 +250\.00 +1/8 +-50\.00 +6\.2 +moved by 8\.0 times`,
		}, "warning: heads 1, 2 and 3 fall on one note value, 1/8, and become one echo"},
		{[]string{"--bpm", "120", "--mode", "nearest", "--note", "1/16"}, []string{ // 125 ms
			`^example at 120 BPM: head 1 lies nearest to its note$`,
			`^ +1 +100\.00 +1/16 +-25\.00 +6\.0 +beside the note, 4\.2 times what can be noticed: the nearest$`,
			`^ +2 +200\.00 +1/16 +\+75\.00 `,
		}, ""},
		{[]string{"--bpm", "101", "--mode", "nearest"}, []string{ // 60000/101: 1/8 297.03, 1/8t 198.02, 1/16t 99.01 ms
			`^ +1 +100\.00 +1/16t +\+0\.99 +6\.0 +sounds on the note: the nearest$`,
		}, ""},
		{[]string{"--mains", "50to60"}, []string{
			`^example from 50 Hz to 60 Hz mains: running at 1\.2000 of the measured speed \(\+20\.00 %\)$`,
			`^that is no more than the other mains does to a synchronous motor; wow 0\.2 % at 1\.20 Hz$`,
			`^ +3 +250\.00 +-50\.00 +6\.2 +moved by 8\.0 times what can be noticed$`,
			`^ +1 +none +3600$`,
		}, ""},
		{[]string{"--mains", "50to60", "--bpm", "120", "--grid", "1/8"}, []string{
			`^example from 50 Hz to 60 Hz mains at 120 BPM: every head on its own note$`,
			`^ +3 +250\.00 +1/8 +-50\.00 `, // on the note by the mains alone
		}, "heads 1, 2 and 3 fall on one note value"},
		// 100, 200, 300 ms are 1/16t, 1/8t and 1/8 at 100 BPM, 1/16, 1/8 and 1/8. at 150.
		{[]string{"--best", "95..160", "--grid", "1/8,1/8.,1/8t,1/16,1/16t"}, []string{
			`^tempi from 95 to 160 BPM that suit example as it is$`,
			`^misfit: root mean square over the heads`,
			`^100\.00 +0\.00 +1 on 1/16t 0\.0, 2 on 1/8t 0\.0, 3 on 1/8 0\.0$`,
			`^150\.00 +0\.00 +1 on 1/16 0\.0, 2 on 1/8 0\.0, 3 on 1/8\. 0\.0$`,
		}, ""},
	} {
		t.Run(strings.Join(c.args, " "), func(t *testing.T) {
			got := world(t).run(t, append([]string{"retime", unit}, c.args...)...)
			require.Equal(t, exitDone, got.code, got.talk)
			for _, line := range c.lines {
				require.Regexp(t, regexp.MustCompile("(?m)"+line), got.out)
			}
			require.Contains(t, got.talk, c.talk)
			require.Equal(t, c.talk != "", strings.Contains(got.talk, "warning"), got.talk)
		})
	}
}

func TestFieldsOfEveryMode(t *testing.T) {
	unit := write(t, "unit.toml", helpUnit)
	run := func(args ...string) map[string]any {
		return world(t).run(t, append([]string{"retime", unit, "--json", "-q"}, args...)...).decode(t)
	}
	for _, args := range [][]string{
		{"--bpm", "120", "--note", "1/8."}, {"--bpm", "120", "--mode", "grid"}, {"--bpm", "120", "--mode", "nearest"}, {"--mains", "60to50"},
	} {
		v := run(args...)
		hasFields(t, v, "name", "speed_ratio", "head", "warnings")
		hasFields(t, first(t, v["head"]), "head", "delay_ms", "note", "off_ms", "shift_ms", "just_noticeable_ms")
		require.IsType(t, []any{}, v["warnings"])
	}
	grid := run("--bpm", "120", "--grid", "1/8")
	require.InDelta(t, 1, grid["speed_ratio"], 0)
	require.Len(t, grid["warnings"], 1)
	head := first(t, grid["head"]).(map[string]any)
	require.InDelta(t, 250, head["delay_ms"], 1e-9)
	require.InDelta(t, 150, head["shift_ms"], 1e-9)
	require.InDelta(t, 0, head["off_ms"], 1e-9)
	require.InDelta(t, 6.25, head["just_noticeable_ms"], 1e-9)

	require.InDelta(t, 1, run("--bpm", "120", "--mode", "nearest", "--note", "1/16")["nearest_head"], 0)
	alone := first(t, run("--mains", "50to60")["head"]).(map[string]any)
	require.Nil(t, alone["note"], "no tempo, no note to be off")
	require.Nil(t, alone["off_ms"])

	best := run("--best", "95..160")
	hasFields(t, best, "name", "measure", "tempo")
	hasFields(t, first(t, best["tempo"]), "bpm", "misfit", "head")
	require.LessOrEqual(t, len(best["tempo"].([]any)), 6)
}

func TestWhatMakesNoSenseTogether(t *testing.T) {
	unit := write(t, "unit.toml", helpUnit)
	for _, c := range []struct{ args, says string }{
		{"", "--bpm is missing"},
		{"--mode fast --bpm 120", `--mode "fast": there are speed, grid, nearest`},
		{"--bpm 120 --tap --note 1/4", "--tap and --bpm: the tempo is told twice"},
		{"--beat-ms 500 --tap --note 1/4", "--tap and --beat-ms"},
		{"--best 90..140 --bpm 120", "--best and --bpm"},
		{"--best 90..140 --tap", "--best and --tap"},
		{"--best 90..140 --into x", "--best and --into"},
		{"--best 140..90", "the slower first"},
		{"--best 90", "such as 90..140"},
		{"--best 90..140 --grid 1/5", "--grid: note \"1/5\""},
		{"--mains 50to55", "write 50to60 or 60to50"},
		{"--mains 50to60 --bpm 120 --note 1/4", "--mains and --mode speed both set the speed"},
		{"--mode nearest --bpm 120 --into x", "--mode nearest and --into"},
		{"--mode nearest --bpm 120 --out x.toml", "--mode nearest and --out"},
		{"--mode nearest --bpm 120 --head 1", "--mode nearest and --head"},
		{"--mode nearest --bpm 120 --note 1/4 --grid 1/8", "--note and --grid"},
		{"--mode nearest --bpm 120 --note 1/5", "no such note value"},
		{"--mode nearest --bpm 0", "from 10 to 1000"},
		{"--tap", "--note is missing"},
		{"--tap --note 1/3", "no such note value"},
		{"--tap --mode nearest --note 1/3", "no such note value"},
	} {
		got := world(t).run(t, append([]string{"retime", unit}, strings.Fields(c.args)...)...)
		require.Equal(t, exitMisused, got.code, c.args)
		require.Contains(t, got.talk, c.says, c.args)
		require.Empty(t, got.out)
	}
}

func TestAGridIsKept(t *testing.T) {
	got := retimed(t, helpUnit, "--bpm", "120", "--grid", "1/16,1/8,1/8.")
	for i, want := range []float64{125, 250, 250} { // 300 ms lies nearer to 250 than to 375
		require.InDelta(t, want, float64(got.unit.Heads[i].Delay), 1e-9)
		require.InDelta(t, 3000, float64(got.unit.Heads[i].HighCutHz), 0, "the tone stays")
	}
	require.InDelta(t, 1, float64(got.unit.Motion.WowHz), 0)
}
