package osport

import (
	"fmt"
	"maps"
	"regexp"
	"slices"
	"strconv"
	"strings"

	"echowright/midi/port"
)

// numbers are what the system puts behind a name: client and port with ALSA
// ("Fen Delay MIDI 1 20:0"), an index with Windows, where the two ends of one
// port have different ones.
var numbers = regexp.MustCompile(`( \d+:\d+| \d+)$`)

// base is the name that stays the same when a device is plugged in again.
func base(name string) string {
	if short := numbers.ReplaceAllString(name, ""); short != "" {
		return short
	}
	return name
}

// fits are the ways in which a name may be meant, the strictest first.
var fits = []func(name, wanted string) bool{
	func(name, wanted string) bool { return name == wanted },
	func(name, wanted string) bool { return base(name) == wanted },
	func(name, wanted string) bool {
		return strings.Contains(strings.ToLower(name), strings.ToLower(wanted))
	},
}

// choose finds the one port that is meant and gives the whole names of its two
// ends. One that it does not have is "".
func choose(wanted string, ins, outs []string) (in, out string, err error) {
	for _, fit := range fits {
		strange := func(name string) bool { return !fit(name, wanted) }
		ins, outs := slices.DeleteFunc(slices.Clone(ins), strange), slices.DeleteFunc(slices.Clone(outs), strange)
		switch all := found(ins, outs); {
		case len(all) == 0:
			continue
		case len(all) > 1 || len(ins) > 1 || len(outs) > 1:
			return "", "", &problem{fmt.Errorf("%q fits several ports: %s", wanted, listed(ins, outs)), "write more of the name"}
		}
		return first(ins), first(outs), nil
	}
	next := "the system has no MIDI ports: is the device plugged in and switched on?"
	if len(ins)+len(outs) > 0 {
		next = "the system has " + listed(ins, outs)
	}
	return "", "", &problem{port.ErrNotThere, next}
}

func first(names []string) string {
	if len(names) == 0 {
		return ""
	}
	return names[0]
}

// listed are the names by which the ports can be told apart.
func listed(ins, outs []string) string {
	var names []string
	for _, f := range found(ins, outs) {
		names = append(names, strconv.Quote(f.Name))
	}
	return strings.Join(names, ", ")
}

// found puts together the two ends of each port, in the order of their names. A
// port goes by its name without numbers, unless another one has the same.
func found(ins, outs []string) []Found {
	ports := map[string]Found{}
	for _, name := range ins {
		short := shortest(name, ins, outs)
		ports[short] = Found{Name: short, In: true, Out: ports[short].Out}
	}
	for _, name := range outs {
		short := shortest(name, ins, outs)
		ports[short] = Found{Name: short, In: ports[short].In, Out: true}
	}
	return slices.SortedFunc(maps.Values(ports), func(a, b Found) int { return strings.Compare(a.Name, b.Name) })
}

// shortest is the name without numbers, if no second port goes by it.
func shortest(name string, ins, outs []string) string {
	for _, names := range [][]string{ins, outs} {
		n := 0
		for _, other := range names {
			if base(other) == base(name) {
				n++
			}
		}
		if n > 1 {
			return name
		}
	}
	return base(name)
}
