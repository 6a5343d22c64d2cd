package ports

import (
	"errors"
	"fmt"
	"io/fs"
	"path"
	"regexp"
	"strings"

	"echowright/midi/port"
	"echowright/midi/port/osport"
	"echowright/midi/port/rawport"
)

// A Driver is one kind of port that was looked for, and what came of it.
type Driver struct {
	Name    string   `json:"driver"`
	Found   []Device `json:"found"`
	Skipped string   `json:"skipped,omitempty"` // why nothing could be looked for, "" if it could
}

// A Device is a port that is there.
type Device struct {
	Port string `json:"port"`           // the name to open it by
	Says string `json:"says,omitempty"` // how the system calls it, "" if it does not say
}

// A Lister gives the system's MIDI ports, as [osport.List] does.
type Lister func() ([]osport.Found, error)

// List looks for raw MIDI devices below root, the root of the file system
// (os.DirFS("/")), and for the system's MIDI ports.
func List(root fs.FS, system Lister) []Driver {
	return []Driver{rawDevices(root), systemPorts(system)}
}

const deviceFolder = "dev/snd"

var deviceName = regexp.MustCompile(`^midiC(\d+)D(\d+)$`)

func rawDevices(root fs.FS) Driver {
	d := Driver{Name: rawport.Scheme, Found: []Device{}}
	entries, err := fs.ReadDir(root, deviceFolder)
	switch {
	case errors.Is(err, fs.ErrNotExist):
		d.Skipped = fmt.Sprintf("there is no /%s: no sound or MIDI hardware is plugged in, or its kernel modules are not loaded", deviceFolder)
	case err != nil:
		d.Skipped = fmt.Sprintf("/%s cannot be read: %v", deviceFolder, err)
	}
	for _, e := range entries {
		if m := deviceName.FindStringSubmatch(e.Name()); m != nil {
			d.Found = append(d.Found, Device{Port: rawport.Scheme + ":/" + path.Join(deviceFolder, e.Name()), Says: says(root, m[1], m[2])})
		}
	}
	return d
}

// says is the first line of what the kernel tells of the device.
func says(root fs.FS, card, device string) string {
	b, err := fs.ReadFile(root, path.Join("proc/asound", "card"+card, "midi"+device))
	if err != nil {
		return ""
	}
	line, _, _ := strings.Cut(string(b), "\n")
	return strings.TrimSpace(line)
}

func systemPorts(list Lister) Driver {
	d := Driver{Name: osport.Scheme, Found: []Device{}}
	all, err := list()
	if err != nil {
		d.Skipped = Reason(err)
		return d
	}
	for _, f := range all {
		d.Found = append(d.Found, Device{Port: osport.Scheme + ":" + f.Name, Says: ways[[2]bool{f.In, f.Out}]})
	}
	return d
}

// ways says what a port of the system is for.
var ways = map[[2]bool]string{
	{true, true}:  "a port of the system, both ways",
	{true, false}: "a port of the system, only to be heard",
	{false, true}: "a port of the system, only to be spoken to",
}

// Reason is what an error of a port says, without the port's name: for where that
// stands beside it anyhow, or is not known.
func Reason(err error) string {
	var e *port.Error
	switch {
	case !errors.As(err, &e):
		return err.Error()
	case e.Next != "":
		return e.Err.Error() + "; " + e.Next
	}
	return e.Err.Error()
}
