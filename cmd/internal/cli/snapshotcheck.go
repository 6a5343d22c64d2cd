package cli

import (
	"fmt"

	"echowright/cmd/internal/ui"
	"echowright/library"
)

// checkedSnapshot is what the check of a snapshot came to, as scripts get it.
type checkedSnapshot struct {
	Name     string `json:"name"`
	Whole    bool   `json:"whole"`    // every byte is as it was kept
	Complete bool   `json:"complete"` // and all that was asked for is there
	Slots    int    `json:"slots"`
	Error    string `json:"error,omitempty"`
}

func runSnapshotCheck(c *call, names []string) error {
	shelf, err := c.library()
	if err != nil {
		return err
	}
	if len(names) == 0 {
		entries, err := shelf.Snapshots()
		if err != nil {
			return err
		}
		for _, e := range entries {
			names = append(names, e.Name)
		}
	}
	all := []checkedSnapshot{}
	var wrong failures
	for _, name := range names {
		s, err := shelf.Snapshot(name)
		wrong = wrong.and(err)
		v := checkedSnapshot{Name: name, Whole: err == nil, Complete: err == nil && s.Complete, Slots: len(s.Slots)}
		if err != nil {
			v.Error = err.Error()
		} else if !c.json {
			c.print("%s", wholeWords(s))
		}
		all = append(all, v)
	}
	if c.json {
		wrong = wrong.and(ui.JSON(c.out, map[string]any{"snapshot": all}))
	}
	return wrong.err()
}

// wholeWords say what has been proved of a snapshot.
func wholeWords(s library.Snapshot) string {
	const proved = "every byte as it was kept"
	v := viewSnapshot(s)
	if s.Complete {
		return fmt.Sprintf("%s: complete, %s, %s", s.Name, ui.Count(len(v.Slots), "slot", "slots"), proved)
	}
	return fmt.Sprintf("%s: partial, %s slots, %s; `echowright backup --resume=%[1]s` with its device reads the others", s.Name, v.howMany(), proved)
}
