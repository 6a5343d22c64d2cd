package cli

import (
	"fmt"

	"github.com/spf13/cobra"

	"echowright/library"
)

// sayUnderWay tells at the start of a command what was begun on a device and has
// not come to its end. A library that cannot be read says so to the command itself.
func (c *call) sayUnderWay(cmd *cobra.Command) {
	if !cmd.HasParent() || needsNoNews(cmd) {
		return
	}
	shelf, err := c.library()
	if err != nil {
		return
	}
	open, _ := shelf.Intents()
	for _, e := range open {
		if how := standingOf(cmd.Context(), shelf, e); how != settled {
			c.alarm(underWay(e, how))
		}
	}
}

// needsNoNews reports whether a command is about something else than devices and
// the library, or tells itself what is under way.
func needsNoNews(cmd *cobra.Command) bool {
	for ; cmd.HasParent(); cmd = cmd.Parent() {
		switch cmd.Name() {
		case "help", "completion", "resume", "emulate", cobra.ShellCompRequestCmd, cobra.ShellCompNoDescRequestCmd:
			return true
		}
	}
	return false
}

// underWay is an entry of the journal in a sentence.
func underWay(e library.IntentEntry, how standing) string {
	i := e.Intent
	switch {
	case e.Err != nil:
		return fmt.Sprintf("the journal's entry %s cannot be read: %v; %s`echowright resume --forget %[1]s` drops it", e.Name, e.Err, keptBefore(i))
	case how == portInUse:
		return intentWords(i) + " has not come to its end: another echowright is using that port right now and may be at it"
	case i.Snapshot == "":
		return intentWords(i) + " has not come to its end: `echowright resume` finishes it; what was there before is not known"
	}
	return intentWords(i) + " has not come to its end: `echowright resume` finishes it, `echowright resume --put-back` puts back what was there"
}

func keptBefore(i library.Intent) string {
	if i.Snapshot == "" {
		return ""
	}
	return fmt.Sprintf("what the slots held before is kept as %s; ", i.Snapshot)
}

// intentWords says what an intent is about: "restore of slots 3, 4, 9 on raw:/dev/midi1
// (stage), begun 2026-11-25 19:30,".
func intentWords(i library.Intent) string {
	rig := ""
	if i.Rig != "" {
		rig = " (" + i.Rig + ")"
	}
	return fmt.Sprintf("%s of %s on %s%s, begun %s,", i.Doing, library.SlotWords(intentSlots(i)), i.Port, rig, i.Began.Format("2006-01-02 15:04"))
}

func intentSlots(i library.Intent) []int {
	all := []int{}
	for _, s := range i.Slots {
		all = append(all, s.Slot)
	}
	return all
}
