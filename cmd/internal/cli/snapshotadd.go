package cli

import (
	"errors"
	"fmt"
	"io"
	"os"
	"path/filepath"

	"github.com/spf13/cobra"

	"echowright/cmd/internal/ui"
	"echowright/library"
	"echowright/midi/port/fileport"
	"echowright/profiles"
)

type snapshotAddOptions struct {
	device, note string
}

// addedSnapshot is what came of a file, as scripts get it.
type addedSnapshot struct {
	Snapshot   string   `json:"snapshot"`
	Slots      []int    `json:"slots"`
	PassedOver []string `json:"passed_over"`
}

func runSnapshotAdd(c *call, cmd *cobra.Command, path string, o snapshotAddOptions) error {
	if o.device == "" {
		return misuse(cmd, "add: --device is missing: whose slots are they?")
	}
	d, err := c.device(o.device)
	if err != nil {
		return err
	}
	if !d.Readable() {
		return misused(fmt.Errorf("add: device %q never sends its slots, so no file holds any: what a push sends to it is kept as last known, and `echowright snapshot list` shows it", d.Name))
	}
	dump, err := readDump(path)
	if err != nil {
		return err
	}
	slots, passedOver, err := d.SlotsIn(dump)
	if err != nil {
		return misused(err)
	}
	c.sayPassedOver(passedOver)
	if len(slots) == 0 {
		return fmt.Errorf("file %s holds no slot of device %q: nothing was kept", path, d.Name)
	}
	shelf, err := c.library()
	if err != nil {
		return err
	}
	name, err := shelf.WriteSnapshot(cmd.Context(), c.fromFile(d, path, o.note, slots))
	if err != nil {
		return err
	}
	v := addedSnapshot{Snapshot: name, Slots: []int{}, PassedOver: append([]string{}, passedOver...)}
	for _, s := range slots {
		v.Slots = append(v.Slots, s.Slot)
	}
	if c.json {
		return ui.JSON(c.out, v)
	}
	c.print("%s", name)
	c.say("%s kept; `echowright snapshot show %s` shows what they hold", ui.Count(len(slots), "slot", "slots"), name)
	return nil
}

// fromFile is the snapshot of slots that were found in a file. Which of several
// units sent them is not asked: they can be put back into any.
func (c *call) fromFile(d *profiles.Device, path, note string, slots []profiles.KeptSlot) library.Snapshot {
	file := ui.Line(filepath.Base(path))
	if note == "" {
		note = "out of " + file
	}
	s := library.Snapshot{
		Device: d.Name, Profile: d.Source(), ProfileSHA256: d.SHA256(), Port: fileport.Scheme + ":" + file, UnitNumber: d.Manners.FirstUnit,
		Taken: c.Now(), Note: note, Complete: true,
	}
	for _, k := range slots {
		s.Slots = append(s.Slots, library.SnapshotSlot{Slot: k.Slot, Messages: k.Messages})
	}
	return s
}

// sayPassedOver tells what in a file was no slot; of much, the beginning.
func (c *call) sayPassedOver(all []string) {
	const told = 12
	for _, words := range all[:min(told, len(all))] {
		c.warn("passed over: " + words)
	}
	if rest := len(all) - told; rest > 0 {
		c.warn(fmt.Sprintf("and %d more were passed over: --json has them all", rest))
	}
}

// dumpLimit is more than any memory of such a device: a floppy disk's worth, ten
// times.
const dumpLimit = 16 << 20

// readDump reads a file of messages.
func readDump(path string) ([]byte, error) {
	f, err := os.Open(path)
	if err != nil {
		return nil, fileError(path, err)
	}
	defer f.Close()
	dump, err := io.ReadAll(io.LimitReader(f, dumpLimit+1))
	if err == nil && len(dump) > dumpLimit {
		err = errors.New("it has more than 16 MiB, and no device's memory is as large")
	}
	if err != nil {
		return nil, fileError(path, err)
	}
	return dump, nil
}
