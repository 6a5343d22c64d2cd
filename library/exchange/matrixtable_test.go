package exchange

import (
	"fmt"
	"maps"
	"slices"
	"strings"
	"sync"
	"time"

	"echowright/profiles/emulator"
)

// A row is a fault, with the cells that one job has of it.
type row struct {
	name  string
	codes []int // the exit codes that there may be; none stands for any
	cells []cell
}

// A cell is a device with a fault, and what else befalls the conversation.
type cell struct {
	name             string
	options          emulator.Options
	pullAfter, ctrlC int
}

// matrix is what has been tried, and what came of it.
type matrix struct {
	full bool // every byte, and more chances

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

func newMatrix(full bool) *matrix { return &matrix{full: full, seen: map[string]map[string]*sum{}} }

// The numbers that are ordered of faults that count no events.
var faultNumbers = map[string][]int{
	"bit-errors":    {5000, 1000, 200, 30},
	"bit-errors-in": {5000, 1000, 200, 30},
	"overflow":      {48, 20},
	"long-write":    {1, 3, 20},
	"keep":          {0},
}

// rows are the faults for a job that says and hears so much in health, and writes
// so many slots.
func (m *matrix) rows(device string, c counted, writes int) []row {
	var all []row
	for _, k := range emulator.FaultKinds() {
		r := row{name: k.Name}
		for _, n := range m.numbers(k, c, writes) {
			for seed := range m.seeds(k.Name) {
				one := cell{name: fmt.Sprintf("%s=%d, seed %d", k.Name, n, seed)}
				one.options.Faults.Seed = uint64(seed)
				k.Order(&one.options.Faults, n)
				r.cells = append(r.cells, one)
			}
		}
		all = append(all, r)
	}
	pulled, ctrlC := row{name: "cable pulled"}, row{name: "Ctrl-C"}
	for n := range c.sent {
		pulled.cells = append(pulled.cells, cell{name: fmt.Sprintf("cable pulled after message %d", n+1), pullAfter: n + 1})
		ctrlC.cells = append(ctrlC.cells, cell{name: fmt.Sprintf("Ctrl-C at message %d", n+1), ctrlC: n + 1})
	}
	all = append(all, pulled, ctrlC)
	if device == "five-line" {
		all = append(all, row{name: "write-protected", cells: []cell{{name: "write-protected", options: emulator.Options{WriteProtected: true}}}})
	}
	return all
}

// numbers are those for which a fault is ordered: each event of a healthy
// conversation, and all of them.
func (m *matrix) numbers(k emulator.FaultKind, c counted, writes int) []int {
	var all []int
	upTo := func(n, step int) []int {
		for i := 1; i <= n; i += step {
			all = append(all, i)
		}
		if k.Event {
			all = append(all, int(emulator.Every))
		}
		return all
	}
	const bytesTried = 40
	switch {
	case k.N == "byte" && !m.full:
		return upTo(c.bytes, max(1, c.bytes/bytesTried))
	case k.N == "byte":
		return upTo(c.bytes, 1)
	case k.N == "answer":
		return upTo(c.heard, 1)
	case k.N == "message" || k.N == "messages":
		return upTo(c.sent, 1)
	case k.Event:
		return upTo(writes, 1)
	case faultNumbers[k.Name] != nil:
		return faultNumbers[k.Name]
	}
	return []int{k.Without}
}

// seeds is how many throws of the dice a fault is given.
func (m *matrix) seeds(name string) int {
	switch {
	case !strings.HasPrefix(name, "bit-errors"):
		return 1
	case m.full:
		return 25
	}
	return 3
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
