package arrange

import (
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"echowright/preset"
)

func containsAll(s string, parts ...string) bool {
	for _, p := range parts {
		if !strings.Contains(s, p) {
			return false
		}
	}
	return true
}

func containsWarning(r Result, parts ...string) bool {
	for _, w := range r.Warnings {
		if containsAll(w, parts...) {
			return true
		}
	}
	return false
}

// What the device cannot do is said with its place and level, and never stops it.
func TestWhatCannotBeHadIsSaid(t *testing.T) {
	three := []preset.Head{{Delay: 121, Level: -7}, {Delay: 263}, {Delay: 405, Level: -2}}
	four := append(append([]preset.Head{}, three...), preset.Head{Delay: 560, Level: -3})
	six := append(append([]preset.Head{}, four...), preset.Head{Delay: 640, Level: -4}, preset.Head{Delay: 800, Level: -1})
	for _, c := range []struct {
		name string
		unit preset.Unit
		says [][]string
	}{
		{"four heads with the loop from the last", unit(-6.9, []int{4}, four...), [][]string{
			{"4 heads with the loop from head 4 take 7 lines, the device has 5"},
		}},
		{"six heads without loop", unit(0, nil, six...), [][]string{
			{"6 heads take 6 lines, the device has 5"},
			{"head 5 (640 ms, -4.0 dB) is missing"},
		}},
		{"a loop from two heads", unit(-9, []int{1, 3}, three...), [][]string{
			{"3 heads with the loop from heads 1 and 3: the device feeds back only one of them"},
		}},
		{"a loop from three heads", unit(-12, []int{1, 2, 3}, three...), [][]string{
			{"the loop from heads 1, 2 and 3"},
		}},
		{"a loop longer than a line", unit(-5, []int{2}, preset.Head{Delay: 700}, preset.Head{Delay: 1800, Level: -3}), [][]string{
			{"the loop from head 2 (1800 ms) is longer than the longest line (1600 ms)"},
			{"head 2 (1800 ms) lies beyond the longest line (1600 ms)"},
		}},
		{"a head farther than all lines together", unit(0, nil, preset.Head{Delay: 500}, preset.Head{Delay: 8200, Level: -6}), [][]string{
			{"head 2 (8200 ms, -6.0 dB) is missing"},
		}},
		{"a loop below the least feedback", unit(-50, []int{3}, three...), [][]string{
			{"the loop from head 3 (-50.0 dB a turn) is weaker than the least feedback (-42.1 dB)"},
		}},
		{"a head below all that counts", unit(0, nil, preset.Head{Delay: 100}, preset.Head{Delay: 200, Level: -70}), [][]string{
			{"head 2 (200 ms, -70.0 dB) is left out: what lies below -60.0 dB is not planned"},
		}},
		{"a loop that never ends", unit(0, []int{3}, three...), [][]string{
			// 405 ms a turn, 60 turns of −1 dB: 24.3 s.
			{"caution", "+0.0 dB a turn", "refused", "-1.0 dB", "24 s"},
		}},
		{"a loop that grows", unit(6, []int{3}, three...), [][]string{{"caution", "+6.0 dB a turn", "refused"}}},
		{"two ways round that grow together", unit(-4, []int{2, 3}, three...), [][]string{{"caution", "refused"}}},
		{"a time that adds up", unit(-2, []int{1}, preset.Head{Delay: 250.05}), [][]string{{"times are up to 0.7", "in place of"}}},
		{"a loop weaker by rounding", unit(-20.69, []int{1}, preset.Head{Delay: 250}), [][]string{
			// 10^(−20.69/20)·128 = 11.8: code 12 would be more, code 11 has −21.316 dB.
			{"the loop from head 1 has -21.32 dB a turn in place of -20.69 dB"},
		}},
	} {
		t.Run(c.name, func(t *testing.T) {
			r := arranged(t, pattern(t, c.unit), fiveLine(t))
			for _, parts := range c.says {
				require.True(t, containsWarning(r, parts...), "%q in %q", parts, r.Warnings)
			}
			require.Less(t, r.Error, preset.Decibels(0), "better than silence")
		})
	}
}

func TestMissingEchoesAreAllTold(t *testing.T) {
	// Eight heads with the loop from the last: 15 lines. Head by head, what is told
	// must account for every echo that is missing in the list.
	var heads []preset.Head
	for i := range 8 {
		heads = append(heads, preset.Head{Delay: preset.Millis(90 + 97*i), Level: -preset.Decibels(i % 4)})
	}
	r := arranged(t, pattern(t, unit(-8, []int{8}, heads...)), fiveLine(t))
	told := 0
	for _, w := range r.Warnings {
		if strings.Contains(w, "missing") {
			told++
		}
	}
	require.Equal(t, missing(r) > 0, told > 0)
	require.True(t, containsWarning(r, "8 heads with the loop from head 8 take 15 lines, the device has 5"))
}

func TestALoopThatWouldGrowIsNeverSet(t *testing.T) {
	d := fiveLine(t)
	for _, gain := range []preset.Decibels{-0.01, -0.1, 0, 0.1, 3, 12} {
		r := arranged(t, pattern(t, unit(gain, []int{1}, preset.Head{Delay: 300}, preset.Head{Delay: 450, Level: -3})), d)
		for _, g := range loopGains(d, r.Setting) {
			require.Less(t, g, preset.Decibels(0))
			if gain >= 0 {
				require.LessOrEqual(t, g, preset.Decibels(-1), "asked for %v", gain)
			} else {
				require.LessOrEqual(t, g, gain)
			}
		}
	}
}

func TestDevicesWithLess(t *testing.T) {
	for _, c := range []struct {
		name  string
		edits []edit
		error preset.Decibels // no better than this
		says  []string
	}{
		{"without feedback", []edit{without(t, "feedback", "3", "3")}, -60, []string{"no feedback"}},
		{"without sources", []edit{without(t, "source", "4", "5")}, -30, []string{"missing"}},
		{"without polarity", []edit{without(t, "polarity", "2", "4")}, -60, nil},
		{"without cuts", []edit{without(t, "high-cut", "5", "6"), without(t, "low-cut", "6", "7")}, -60, nil},
		{"with one line", withLines(1), -20, []string{"missing"}},
	} {
		t.Run(c.name, func(t *testing.T) {
			r := arranged(t, pattern(t, tradeUnit()), variant(t, c.edits...))
			require.Less(t, r.Error, preset.Decibels(-2), "still of use")
			require.Greater(t, r.Error, c.error)
			if c.says != nil {
				require.True(t, containsWarning(r, c.says...), "%q", r.Warnings)
			}
		})
	}
}

func TestAnInvertedHeadWhereThereIsNoPolarity(t *testing.T) {
	heads := []preset.Head{{Delay: 121, Level: -7, Inverted: true}, {Delay: 263}}
	r := arranged(t, pattern(t, unit(0, nil, heads...)), variant(t, without(t, "polarity", "2", "4")))
	require.True(t, containsWarning(r, "1 echo of the wrong polarity, the loudest at 121 ms, -7.0 dB"), "%q", r.Warnings)
}
