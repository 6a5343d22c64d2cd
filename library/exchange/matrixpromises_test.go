package exchange

import (
	"fmt"
	"slices"
	"strings"
)

// A promise is how a job may end under a fault, by its exit codes: 0 done, 1
// failed, 3 the device holds something else than asked, 4 no answer.
type promise struct {
	once   []int // where the fault befalls one event
	always []int // where it befalls each, or there are no events
	writes bool  // only writing meets it: a backup is done
}

// promises are by the fault's name; what is not here promises nothing but the truth.
var promises = map[string]promise{
	// A line that stumbles once is no reason to give up.
	"lose-answer":    {once: []int{0}, always: []int{4}},
	"corrupt-answer": {once: []int{0}, always: []int{1, 4}},
	"double-answer":  {once: []int{0}, always: []int{0}},
	"late-answer":    {once: []int{0}, always: []int{0, 4}},
	"noise":          {once: []int{0}, always: []int{0}},
	"lose-byte":      {once: []int{0}, always: []int{4}},
	"ignore-message": {once: []int{0}, always: []int{4}},
	"single-bytes":   {always: []int{0}},
	"neighbour":      {always: []int{0}},
	lateTimes:        {once: []int{0}},

	// One that stumbles without end, is dead or gone is told of as such.
	"mute":          {always: []int{4}},
	"die-after":     {always: []int{0, 4}},
	"reboot":        {once: []int{0, 4}, always: []int{4}},
	"bit-errors":    {always: []int{0, 1, 3, 4}},
	"bit-errors-in": {always: []int{0, 1, 3, 4}},
	"overflow":      {always: []int{0, 3, 4}},
	cablePulled:     {always: []int{1}},
	ctrlC:           {always: []int{1}},

	// A device that will not is obeyed, one that says what is not so is found out.
	"wrong-identity": {always: []int{1}},
	"refuse-values":  {once: []int{0, 1}, always: []int{1}, writes: true},
	"refuse-writes":  {once: []int{0, 1}, always: []int{1}, writes: true},
	writeProtected:   {always: []int{1}, writes: true},
	"false-store":    {once: []int{0}, always: []int{3}, writes: true},
	"keep":           {always: []int{3}, writes: true},
	"long-write":     {always: []int{0, 1, 4}, writes: true},
}

// The rows that no order to the device makes.
const (
	lateTimes      = "late-answer, 0.3 to 1.3 s"
	pairs          = "two at once"
	cablePulled    = "cable pulled"
	ctrlC          = "Ctrl-C"
	writeProtected = "write-protected"
)

// broken is the promise that an outcome breaks, "" for none.
func broken(fault string, j job, c cell, o outcome) string {
	if (o.code == 0) != (o.told == endAsked) && fault != ctrlC {
		return fmt.Sprintf("exit %d, and it ended %s", o.code, o.told)
	}
	p, promised := promises[fault]
	if !promised {
		return ""
	}
	codes := p.always
	switch {
	case p.writes && j.name == "backup":
		codes = []int{0}
	case c.once:
		codes = p.once
	}
	if !slices.Contains(codes, o.code) {
		return fmt.Sprintf("exit %d, promised is one of %s", o.code, strings.Trim(fmt.Sprint(codes), "[]"))
	}
	return ""
}
