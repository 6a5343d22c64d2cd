package ports

import (
	"errors"
	"fmt"
	"io/fs"
	"path"
	"regexp"
	"strings"

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

const deviceFolder = "dev/snd"

var deviceName = regexp.MustCompile(`^midiC(\d+)D(\d+)$`)

// List looks for raw MIDI devices below root, the root of the file system
// (os.DirFS("/")).
func List(root fs.FS) []Driver {
	return []Driver{rawDevices(root)}
}

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
