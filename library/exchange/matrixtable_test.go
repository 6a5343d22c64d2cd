package exchange

import (
	"fmt"
	"maps"
	"slices"
	"strings"
	"sync"
	"time"
)

// matrix is what has been tried, and what came of it.
type matrix struct {
	folder string // for libraries
	asked  bool   // every message
	full   bool   // every byte, and more chances

	mu   sync.Mutex
	seen map[string]map[string]*sum // by fault and job
}

// sum is what came of the cells of a row in one job.
type sum struct {
	ends  map[end]int
	wrong int
	codes map[int]bool
	took  time.Duration // the longest
}

func newMatrix(folder, wanted string) *matrix {
	return &matrix{folder: folder, asked: wanted != "", full: wanted == "full", seen: map[string]map[string]*sum{}}
}

func (m *matrix) count(r row, j job, o outcome) {
	m.mu.Lock()
	defer m.mu.Unlock()
	if m.seen[r.name] == nil {
		m.seen[r.name] = map[string]*sum{}
	}
	s := m.seen[r.name][j.title()]
	if s == nil {
		s = &sum{ends: map[end]int{}, codes: map[int]bool{}}
		m.seen[r.name][j.title()] = s
	}
	s.ends[o.told]++
	s.codes[o.code] = true
	s.took = max(s.took, o.took)
	if len(o.lies) > 0 {
		s.wrong++
	}
}

// table is a row for each fault, a column for each job: how many cells ended in
// which state.
func (m *matrix) table(names []string, jobs []job) string {
	m.mu.Lock()
	defer m.mu.Unlock()
	var text strings.Builder
	text.WriteString("| fault |")
	for _, j := range jobs {
		text.WriteString(" " + j.title() + " |")
	}
	text.WriteString(" exit | longest | wrong |\n|" + strings.Repeat(" --- |", len(jobs)+4) + "\n")
	cells, wrong := 0, 0
	for _, name := range names {
		codes, took, lied := map[int]bool{}, time.Duration(0), 0
		fmt.Fprintf(&text, "| %s |", name)
		for _, j := range jobs {
			s := m.seen[name][j.title()]
			if s == nil {
				text.WriteString(" |")
				continue
			}
			fmt.Fprintf(&text, " %s |", s)
			maps.Copy(codes, s.codes)
			took = max(took, s.took)
			lied += s.wrong
			cells += s.cells()
		}
		wrong += lied
		fmt.Fprintf(&text, " %s | %.1f s | %d |\n", strings.Trim(fmt.Sprint(slices.Sorted(maps.Keys(codes))), "[]"), took.Seconds(), lied)
	}
	fmt.Fprintf(&text, "\n%d cells, %d of them wrong.\n", cells, wrong)
	return text.String()
}

func (s *sum) cells() int {
	n := 0
	for _, k := range s.ends {
		n += k
	}
	return n
}

// String is the states that were seen, with how often.
func (s *sum) String() string {
	var states []string
	for _, e := range []end{endAsked, endBefore, endPartial, endOpen} {
		if s.ends[e] > 0 {
			states = append(states, fmt.Sprintf("%d %s", s.ends[e], e))
		}
	}
	return strings.Join(states, ", ")
}
