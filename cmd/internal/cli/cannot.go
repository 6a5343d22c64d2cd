package cli

import "fmt"

// can refuses a conversation that the port or the device cannot have, before the
// port is opened: it says what cannot be done, and what can.
func (t target) can(what string) error {
	if t.writeOnly() {
		return misused(fmt.Errorf("port %s: a file answers nothing, and %s needs answers: name the port that the device is on", t.port, what))
	}
	d := t.device
	switch {
	case !d.HasSlots() && !d.Readable():
		return misused(fmt.Errorf("%s: device %q has no slots that can be reached: `echowright plan UNIT --device %[2]s --bytes` shows what makes it sound", what, d.Name))
	case !d.Readable() && (what == "backup" || what == "diff"):
		return misused(fmt.Errorf("%s: device %q never says what its slots hold. What was last sent to each is kept all the same: `echowright snapshot list` shows it, "+
			"`echowright read` shows a slot of it", what, d.Name))
	case what == "push" && d.Readable() && !d.WritesSlots():
		return misused(fmt.Errorf("push: the profile of device %q does not say where in a slot's memory every parameter stands, so a slot cannot be written and compared: "+
			"`echowright device check` names those that are missing; a push with --port file:NAME.syx writes single messages", d.Name))
	}
	return nil
}
