package cli

import (
	"fmt"
	"slices"
	"strings"

	"echowright/cmd/internal/ui"
	"echowright/library/exchange"
	"echowright/profiles"
)

// setPushed is what came of writing a set, as scripts get it.
type setPushed struct {
	Sheet    string       `json:"sheet"`
	Snapshot string       `json:"snapshot"` // what all slots concerned held before, "" where they cannot be read
	Songs    []songPushed `json:"song"`
	exchange.Spent
}

type songPushed struct {
	Title  string `json:"title"`
	Ended  ending `json:"ended"`
	Before string `json:"slot_before"` // the name of what the slot held, "" where it had none or cannot be read
	exchange.Pushed
}

// An ending is what became of a song.
type ending string

const (
	endedWritten ending = "written"
	endedSame    ending = "same"    // the slot held it already
	endedBefore  ending = "before"  // it could not be written, and the slot holds what it held
	endedUnknown ending = "unknown" // what the slot holds is not known: the journal has it
	endedLeft    ending = "left"    // its turn did not come
)

func newSetPushed(set *plannedSet) *setPushed {
	d := &setPushed{Sheet: set.sheet.Name}
	for _, song := range set.songs {
		d.Songs = append(d.Songs, songPushed{Title: song.Title, Ended: endedLeft, Pushed: exchange.Pushed{
			Slot: song.Slot, Verified: exchange.VerifiedNo, Holds: exchange.HoldsBefore, Differences: []profiles.Difference{},
		}})
	}
	return d
}

func endedAs(h exchange.Holds) ending {
	return map[exchange.Holds]ending{
		exchange.HoldsAsked: endedWritten, exchange.HoldsBefore: endedBefore, exchange.HoldsUnknown: endedUnknown,
	}[h]
}

func (d *setPushed) add(s exchange.Spent) {
	d.Messages += s.Messages
	d.Bytes += s.Bytes
	d.Seconds += s.Seconds
}

// leftWords say what has not been written, and how to go on.
func (d *setPushed) leftWords() string {
	var titles []string
	for _, song := range d.Songs {
		if song.Ended == endedLeft {
			titles = append(titles, fmt.Sprintf("%q", song.Title))
		}
	}
	const named = 5
	if more := len(titles) - named; more > 0 {
		titles = append(titles[:named], fmt.Sprintf("and %d more", more))
	}
	command := "the same command"
	if slices.ContainsFunc(d.Songs, func(s songPushed) bool { return s.Ended == endedUnknown }) {
		command = "after `echowright resume` the same command" // until then a push is refused
	}
	if len(titles) > 0 {
		return "\nleft: " + strings.Join(titles, ", ") + ": " + command + " goes on with what is not there yet"
	}
	return "\n" + command + " tries it again, and sends nothing that is there already"
}

// showSetPushed is the summary, in the order of the set.
func (c *call) showSetPushed(d *setPushed) {
	t := ui.Table{Titles: []string{"song", ">slot", "slot held before", "now"}}
	count := map[ending]int{}
	for _, s := range d.Songs {
		count[s.Ended]++
		t.Add(s.Title, s.Slot, s.Before, s.nowWords())
	}
	c.printTable(t)
	c.print("")
	kept := ""
	if d.Snapshot != "" {
		kept = "; what they held before is kept: " + d.Snapshot
	}
	c.print("%d written, %d held their song already, %d not written; %s, %s, %s s%s", count[endedWritten], count[endedSame],
		len(d.Songs)-count[endedWritten]-count[endedSame], ui.Count(d.Messages, "message", "messages"), ui.Count(d.Bytes, "byte", "bytes"), ui.Fixed(float64(d.Seconds), 2), kept)
}

func (s songPushed) nowWords() string {
	switch {
	case s.Ended == endedWritten && s.Verified == exchange.VerifiedUnreadable:
		return "its song: sent, but it cannot be read back"
	case s.Ended == endedWritten:
		return "its song: read back and verified"
	}
	return map[ending]string{
		endedSame:    "its song, as before",
		endedBefore:  "what it held before",
		endedUnknown: "not known: `echowright resume` finishes it",
		endedLeft:    "not touched",
	}[s.Ended]
}
