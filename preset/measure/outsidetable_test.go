package measure_test

import (
	"cmp"
	"fmt"
	"maps"
	"math"
	"regexp"
	"slices"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"
)

// within95 is how many standard deviations a 95 % interval reaches to each side
// (quantile of the normal distribution).
const within95 = 1.96

// summary of a class, or of a take.
type summary struct {
	class         string
	takes         int
	figures, good int // within the accuracy wanted
	told, covered int // with a standard deviation; of these, the truth within 95 %
	worst         map[string]float64
	seconds       float64
}

func (s summary) share() float64 { return float64(s.good) / float64(s.figures) }

func (s *summary) add(v verdict) {
	s.takes++
	s.seconds += v.took.Seconds()
	for _, f := range v.figures {
		s.figures++
		if f.miss <= f.allowed {
			s.good++
		}
		if f.sd > 0 && !math.IsInf(f.miss, 1) {
			s.told++
			if f.miss <= within95*f.sd {
				s.covered++
			}
		}
		s.worst[f.what] = max(s.worst[f.what], f.miss)
	}
}

// sumUp gives a summary of each class, in order of their names.
func sumUp(verdicts []verdict) []summary {
	classes := map[string]*summary{}
	for _, v := range verdicts {
		if classes[v.take.Class] == nil {
			classes[v.take.Class] = newSummary(v.take.Class)
		}
		classes[v.take.Class].add(v)
	}
	var out []summary
	for _, s := range classes {
		out = append(out, *s)
	}
	slices.SortFunc(out, func(a, b summary) int { return cmp.Compare(a.class, b.class) })
	return out
}

func newSummary(class string) *summary { return &summary{class: class, worst: map[string]float64{}} }

const (
	classHead = "| class | takes | wanted: delay ms, level dB, loop dB | figures within | share | 95 % interval holds | s a take |\n" +
		"| --- | --: | --- | --: | --: | --: | --: |\n"
	caseHead = "| take | machine by | note | heads | worst delay ms | worst level dB | to direct dB | loop dB | wow off | figures within | in 95 % | s |\n" +
		"| --- | --- | --- | --: | --: | --: | --: | --: | --: | --: | --: | --: |\n"
)

// outsideTable is the table of errors in Markdown: classes first, then every take.
func outsideTable(verdicts []verdict) string {
	var b strings.Builder
	b.WriteString(classHead)
	all := newSummary("all")
	for _, s := range sumUp(verdicts) {
		a := accuracies[s.class]
		wanted := fmt.Sprintf("%g, %g, %g", a.delay, a.level, a.loop)
		switch {
		case a == accuracy{}:
			wanted = "a refusal"
		case a.wow > 0:
			wanted += fmt.Sprintf("; wow within %.0f %%", 100*a.wow)
		}
		b.WriteString(s.line(wanted))
	}
	for _, v := range verdicts {
		all.add(v)
	}
	b.WriteString(all.line("") + "\nWrong: not given, or another head in the loop, or the other polarity.\n\n" + caseHead)
	for _, v := range verdicts {
		b.WriteString(outsideLine(v) + "\n")
	}
	return b.String()
}

func (s summary) line(wanted string) string {
	return fmt.Sprintf("| %s | %d | %s | %d of %d | %.0f %% | %d of %d | %.1f |\n",
		s.class, s.takes, wanted, s.good, s.figures, 100*s.share(), s.covered, s.told, s.seconds/float64(s.takes))
}

// outsideLine is one take's line of the table.
func outsideLine(v verdict) string {
	s := newSummary(v.take.Class)
	s.add(v)
	within := fmt.Sprintf("%d of %d", s.good, s.figures)
	switch {
	case v.refused != nil:
		within += fmt.Sprintf(" (refused: %.60s…)", v.refused)
	case v.take.Refuse != nil:
		within += " (not refused)"
	}
	return fmt.Sprintf("| %s | %s | %s | %d | %s | %s | %s | %s | %s | %s | %d of %d | %.1f |", v.take.Name, v.take.Engine, firstOf(v.take.Note), len(v.take.Heads),
		s.cell("delay", "%.4f"), s.cell("level", "%.3f"), s.cell("direct", "%.3f"), s.cell("loop", "%.3f"), s.cell("wow", "%.2f"),
		within, s.covered, s.told, s.seconds)
}

// firstOf a phrase's notes, and that there are more.
func firstOf(notes string) string {
	first, _, more := strings.Cut(notes, " + ")
	if more {
		first += ", …"
	}
	return first
}

func (s summary) cell(what, format string) string {
	miss, judged := s.worst[what]
	switch {
	case !judged:
		return ""
	case math.IsInf(miss, 1):
		return "wrong"
	}
	return fmt.Sprintf(format, miss)
}

// classNames reads the list CLASSES of classes.py.
func classNames(t *testing.T, source string) []string {
	t.Helper()
	list := regexp.MustCompile(`(?m)^CLASSES = \[([^\]]+)\]`).FindStringSubmatch(source)
	require.NotNil(t, list)
	names := strings.Split(strings.ReplaceAll(list[1], "_", " "), ",")
	for i := range names {
		names[i] = strings.TrimSpace(names[i])
	}
	return names
}

func classesJudged() []string { return slices.Collect(maps.Keys(accuracies)) }
