package exchange

import (
	"fmt"
	"math/rand/v2"
	"strings"
	"testing"
	"time"

	"echowright/profiles/emulator"
)

// A row is a fault, with the cells that one job has of it.
type row struct {
	name  string
	cells []cell
}

// A cell is a device with a fault, and what else befalls the conversation.
type cell struct {
	name             string
	once             bool // it befalls one event
	options          emulator.Options
	pullAfter, ctrlC int
}

// The numbers that are ordered of faults that count no events.
var faultNumbers = map[string][]int{
	"bit-errors":    {5000, 1000, 200, 30},
	"bit-errors-in": {5000, 1000, 200, 30},
	"overflow":      {48, 20},
	"long-write":    {1, 3, 20},
	"keep":          {0},
}

// thinned leaves every third cell, and under the race detector every seventh: all
// of them are for those who ask, with ECHOWRIGHT_FAULTS=every or full.
func (m *matrix) thinned(cells []cell) []cell {
	if m.asked {
		return cells
	}
	each := 3
	if underRace || testing.Short() {
		each = 7
	}
	var some []cell
	for i := 0; i < len(cells); i += each {
		some = append(some, cells[i])
	}
	return some
}

// rows are the faults for a job that says and hears so much in health, and writes
// so many slots.
func (m *matrix) rows(device string, c counted, writes int) []row {
	var all []row
	for _, k := range emulator.FaultKinds() {
		all = append(all, m.kindRow(k, c, writes))
	}
	all = append(all, m.lateRow(c), m.pairRow(c, writes))
	pulled, interrupted := row{name: cablePulled}, row{name: ctrlC}
	for n := range c.sent {
		pulled.cells = append(pulled.cells, cell{name: fmt.Sprintf("cable pulled after message %d", n+1), pullAfter: n + 1})
		interrupted.cells = append(interrupted.cells, cell{name: fmt.Sprintf("Ctrl-C at message %d", n+1), ctrlC: n + 1})
	}
	all = append(all, pulled, interrupted)
	if device == "five-line" {
		all = append(all, row{name: writeProtected, cells: []cell{{name: writeProtected, options: emulator.Options{WriteProtected: true}}}})
	}
	return all
}

func (m *matrix) kindRow(k emulator.FaultKind, c counted, writes int) row {
	r := row{name: k.Name}
	for _, n := range m.numbers(k, c, writes) {
		for seed := range m.seeds(k.Name) {
			one := cell{name: fmt.Sprintf("%s=%d, seed %d", k.Name, n, seed), once: k.Event && n > 0}
			one.options.Faults.Seed = uint64(seed)
			k.Order(&one.options.Faults, n)
			r.cells = append(r.cells, one)
		}
	}
	return r
}

// lateRow: an answer that comes so late that it may be taken for that to a later
// question.
func (m *matrix) lateRow(c counted) row {
	r := row{name: lateTimes}
	const from, to = 300 * time.Millisecond, 1300 * time.Millisecond
	step := (to - from) / 3
	if m.full {
		step = 10 * time.Millisecond
	}
	for n := range c.heard {
		others := time.Duration(n) * 37 * time.Millisecond % step // for each answer
		for late := from + others; late <= to; late += step {
			f := emulator.Faults{LateAnswer: emulator.Nth(n + 1), LateBy: late}
			r.cells = append(r.cells, cell{name: fmt.Sprintf("answer %d late by %v", n+1, late), once: true, options: emulator.Options{Faults: f}})
		}
	}
	return r
}

// pairRow is two faults at once, by chance.
func (m *matrix) pairRow(c counted, writes int) row {
	r := row{name: pairs}
	tried := 30
	if m.full {
		tried = 500
	}
	random := rand.New(rand.NewPCG(uint64(c.bytes), uint64(writes)))
	kinds := emulator.FaultKinds()
	for range tried {
		var one cell
		for range 2 {
			k := kinds[random.IntN(len(kinds))]
			numbers := m.numbers(k, c, writes)
			n := numbers[random.IntN(len(numbers))]
			one.name += fmt.Sprintf("%s=%d ", k.Name, n)
			k.Order(&one.options.Faults, n)
		}
		one.options.Faults.Seed = random.Uint64()
		r.cells = append(r.cells, one)
	}
	return r
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
