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
	Sealed   bool   `json:"sealed"`   // the manifest proves itself too
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
		v := checkedSnapshot{Name: name, Whole: err == nil, Sealed: err == nil && s.Sealed, Complete: err == nil && s.Complete, Slots: len(s.Slots)}
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

// unsealed is said of a manifest that does not prove itself.
const unsealed = "its manifest has lost the line that proves it (own_sha256): what it says of device, port and slots may have been changed by hand"

// wholeWords say what has been proved of a snapshot.
func wholeWords(s library.Snapshot) string {
	proved := "every byte as it was kept"
	if !s.Sealed {
		proved = "every slot as its line in the manifest has it; but " + unsealed
	}
	v := viewSnapshot(s)
	if s.Complete {
		return fmt.Sprintf("%s: complete, %s, %s", s.Name, ui.Count(len(v.Slots), "slot", "slots"), proved)
	}
	goOn := fmt.Sprintf("`echowright backup --resume=%s` with its device", s.Name)
	if k, err := understood(s); err == nil {
		goOn = "`" + k.goOn() + "`"
	}
	return fmt.Sprintf("%s: partial, %s slots, %s; %s reads the others", s.Name, v.howMany(), proved, goOn)
}
