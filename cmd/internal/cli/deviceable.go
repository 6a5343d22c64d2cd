package cli

import (
	"fmt"
	"strings"

	"echowright/cmd/internal/ui"
	"echowright/profiles"
)

// printAbilities says in musical terms what the device can do with each kind of
// its parameters.
func (c *call) printAbilities(all []profiles.Ability) {
	t := ui.Table{Titles: []string{"it can set", ">how many", ">least", ">greatest", "unit", ">finest step", ">coarsest", ">worst rounding", "mind"}}
	for _, a := range all {
		what := string(a.Role)
		if a.Role == profiles.RoleOther {
			what = a.Parameter
		}
		t.Add(what, a.Count, short(a.Least), short(a.Greatest), a.Unit, short(a.Narrowest), short(a.Widest), short(a.Rounding), strings.Join(remarks(a, all), "; "))
	}
	c.printTable(t)
}

// remarks is what goes with the numbers of an ability.
func remarks(a profiles.Ability, all []profiles.Ability) []string {
	var list []string
	if a.Of != "" {
		list = append(list, "of "+a.Of+inMillis(a, all))
	}
	if a.OverUnity {
		list = append(list, "0 dB and more howls, and is never chosen")
	}
	if a.Role == profiles.RoleLevel && !a.CanSilence {
		list = append(list, "no code is silent")
	}
	return list
}

// inMillis is what a share comes to in time, where that of which it is one is
// the longest it can be.
func inMillis(a profiles.Ability, all []profiles.Ability) string {
	for _, of := range all {
		if of.Parameter == a.Of && of.Unit == "ms" && a.Unit == "%" {
			return fmt.Sprintf(", up to %s ms in steps of %s ms", short(of.Greatest*a.Greatest/100), short(of.Greatest*a.Widest/100))
		}
	}
	return ""
}

// printHoles says what the description leaves open, and how to go on.
func (c *call) printHoles(all []profiles.Hole) {
	if len(all) == 0 {
		return
	}
	c.print("")
	c.print("left open by the description:")
	for _, h := range all {
		c.print("  %s: %s", h.Subject, h.Missing)
		c.print("    mend: %s", h.Mend)
	}
}
