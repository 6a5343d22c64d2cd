package cli

import "fmt"

// converses refuses a conversation about slots with a device that cannot have it,
// before a port is opened: it says what cannot be done, and what can.
func (t target) converses(what string) error {
	d := t.device
	if !d.HasSlots() && !d.Readable() {
		return misused(fmt.Errorf("%s: device %q has no slots that can be reached: `echowright plan UNIT --device %[2]s --bytes` shows what makes it sound", what, d.Name))
	}
	if !d.Readable() {
		return misused(fmt.Errorf("%s: device %q never says what its slots hold: nothing can be kept before it is overwritten, nor read back. "+
			"`echowright plan UNIT --device %[2]s --bytes` shows what it would be told, and a push with --port file:NAME.syx writes that into a file", what, d.Name))
	}
	if what == "push" && !d.WritesSlots() {
		return misused(fmt.Errorf("push: the profile of device %q does not say where in a slot's memory every parameter stands, so a slot cannot be written and compared: "+
			"`echowright device check` names those that are missing; a push with --port file:NAME.syx writes single messages", d.Name))
	}
	return nil
}
