package arrange

import (
	"fmt"

	"echowright/preset"
	"echowright/profiles"
)

// A deck is a device's lines as the arranger sees them. The lines of a profile
// are all alike, so the first stands for all.
type deck struct {
	device   *profiles.Device
	time     *profiles.Scale
	level    *profiles.Scale // nil: every line is as loud as it is
	feedback *profiles.Scale // nil: lines have none
	longest  preset.Millis
	sources  bool // a line can take another one for its source
	cuts     []cut
	pick     int // which of the pairs of feedback and cuts a loop takes, the nearest being 0
}

func newDeck(d *profiles.Device) (*deck, error) {
	if len(d.Lines) == 0 {
		return nil, fmt.Errorf("device %q has no delay line", d.Name)
	}
	k := &deck{device: d}
	k.time = k.scale(profiles.RoleTime)
	if k.time == nil {
		return nil, fmt.Errorf("device %q: its lines have no parameter for their time", d.Name)
	}
	k.level = k.scale(profiles.RoleLevel)
	k.feedback = k.scale(profiles.RoleFeedback)
	_, longest := k.time.Range()
	k.longest = preset.Millis(longest)
	if len(d.Lines) > 1 {
		_, k.sources = d.SourceCode(d.Lines[1], 0)
	}
	k.cuts = cuts(d, d.Lines[0])
	return k, nil
}

// scale is that of a role, nil if the lines have no such parameter.
func (k *deck) scale(r profiles.Role) *profiles.Scale {
	i := k.device.Lines[0].Parameter(r)
	if i == profiles.None {
		return nil
	}
	return k.device.Parameters[i].Scale
}

// put sets a line's parameter, where the line has one.
func (k *deck) put(s profiles.Setting, line int, r profiles.Role, code int) {
	if i := k.device.Lines[line].Parameter(r); i != profiles.None {
		s.Codes[i] = code
	}
}
