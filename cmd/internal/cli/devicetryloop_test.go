package cli

import (
	"testing"

	"github.com/stretchr/testify/require"
)

// TestALoopThatATrialCouldLetRunAway tries parameters of devices whose other ones
// nobody knows.
//
// open-parameter feeds back feedback · (sum of four taps), each at most at 0 dB, and
// feedback is code/1000: at −1 dB, code 891, a turn can reach 20·lg(0.891 · 4) =
// +11.0 dB; at −12.5 dB, code 237, 20·lg(0.237 · 4) = −0.5 dB; at −20 dB, code 100,
// −8 dB. With one tap at −40 dB and feedback unknown it is 20·lg(3.01) = +9.6 dB, with
// three at −20 dB and feedback at 0 dB 20·lg(1.3) = +2.3 dB, with all four −8 dB.
// tap-loop's feedback ends at +0.8 dB, five-line's at 20·lg(127/128) = −0.1 dB, and
// two-by-three's, taken after its third tap, at 20·lg(0.99) = −0.1 dB.
func TestALoopThatATrialCouldLetRunAway(t *testing.T) {
	const refused, close = "each repeat louder than the one before", "close to running away"
	for _, c := range []struct {
		device string
		set    []string
		gain   string // "" where nothing is said
		says   string
	}{
		{"open-parameter", []string{"feedback=-1dB"}, "+11.0", refused},
		{"open-parameter", []string{"feedback=-12.5dB"}, "-0.5", close},
		{"open-parameter", []string{"feedback=-20dB"}, "", ""},
		{"open-parameter", []string{"feedback=-20dB", "tap-1-level=0dB", "tap-2-level=0dB"}, "", ""},
		{"open-parameter", []string{"tap-1-level=-40dB"}, "+9.6", refused},
		{"open-parameter", []string{"tap-1-level=#0", "tap-2-level=#0", "feedback=silent"}, "", ""},
		{"open-parameter", []string{"feedback=silent", "tap-1-level=-20dB", "tap-2-level=-20dB", "tap-3-level=-20dB", "feedback=0dB"}, "+2.3", refused},
		{"open-parameter", []string{"feedback=silent", "tap-1-level=-20dB", "tap-2-level=-20dB", "tap-3-level=-20dB", "tap-4-level=-20dB", "feedback=0dB"}, "", ""},
		{"open-parameter", []string{"tap-1-time=100ms", "tap-1-polarity=inverted", "dry-level=0dB"}, "", ""},
		{"tap-loop", []string{"feedback=#127"}, "+0.8", refused},
		{"tap-loop", []string{"feedback=-3dB", "tap-0-level=0dB", "feedback-tap=tap-3"}, "", ""},
		{"five-line", []string{"a-feedback=#127"}, "-0.1", close},
		{"five-line", []string{"b-feedback=#127", "a-feedback=-20dB"}, "-0.1", close}, // of b alone
		{"five-line", []string{"a-level=0dB", "b-source=a", "a-feedback=silent"}, "", ""},
		{"two-by-three", []string{"a-feedback=#127"}, "-0.1", close},
		{"two-by-three", []string{"a-tap-1-level=0dB"}, "", ""},
	} {
		try := append([]string{"device", "try", c.device, "--port", "emulator:" + c.device}, c.set...)
		if c.device == "two-by-three" {
			try[4] = "file:" + t.TempDir() + "/tried.syx" // no emulator of it is shipped
		}
		got := world(t).run(t, append(try, "-q")...)
		if c.says == "" {
			require.Equal(t, exitDone, got.code, "%v: %s", c.set, got.talk)
			require.Empty(t, got.talk, c.set)
			continue
		}
		require.Contains(t, got.talk, "the loop's gain can reach "+c.gain+" dB a turn (what this command has not set counts at its loudest): ", "%v", c.set)
		require.Contains(t, got.talk, c.says, "%v", c.set)
		if c.says == close {
			require.Equal(t, exitDone, got.code, got.talk)
			require.Regexp(t, `^caution: [^\n]+\n$`, got.talk, "once, and also where talk is not wanted")
			continue
		}
		require.Equal(t, exitFailed, got.code, got.talk)
		require.Empty(t, got.out, "nothing is sent, nor what stands before it")
		for _, allow := range []string{"--allow-runaway", "--over-unity"} {
			got = world(t).run(t, append(try, allow)...)
			require.Equal(t, exitDone, got.code, got.talk)
			require.Contains(t, got.talk, "caution: ")
			require.Contains(t, got.talk, "turn everything down before it sounds")
		}
	}
}

func TestTryingByRig(t *testing.T) {
	e := world(t)
	require.Equal(t, exitDone, e.run(t, "rig", "add", "stage", "--device", "five-line", "--port", "emulator:five-line").code)
	got := e.run(t, "device", "try", "--rig", "stage", "a-time=250ms")
	require.Equal(t, exitDone, got.code, got.talk)
	require.Contains(t, got.out, "the device says that it holds code 2500")
	for want, args := range map[string][]string{
		"name the device and what to set":            {"--rig", "stage"},
		"write it as PARAMETER=VALUE":                {"--rig", "stage", "five-line", "a-time=250ms"},
		"leave --device and --port out":              {"--rig", "stage", "--port", "emulator:five-line", "a-time=250ms"},
		`device "five-line" has no parameter "time"`: {"--rig", "stage", "time=250ms"},
	} {
		got := e.run(t, append([]string{"device", "try"}, args...)...)
		require.Equal(t, exitMisused, got.code, "%s: %s", want, got.talk)
		require.Contains(t, got.talk, want)
	}
	require.Contains(t, e.run(t, "__complete", "device", "try", "--rig", "stage", "a-").out, "a-time=\n")
	require.Contains(t, e.run(t, "__complete", "device", "try", "twin", "line-").out, "line-2-level=\n")
	require.NotContains(t, e.run(t, "device", "try", "--help").out, "--over-unity", "it is there for old scripts alone")
}
