package profiles

import (
	"fmt"

	"echowright/midi"
)

// IdentityStep asks the device what it is. A device whose profile states no
// identity cannot be asked.
func (d *Device) IdentityStep(unit int) (midi.Step, error) {
	if d.Identity == nil {
		return midi.Step{}, fmt.Errorf("device %q: ask for its identity: %w", d.Name, ErrCannot)
	}
	request, err := midi.IdentityRequest(unit)
	if err != nil {
		return midi.Step{}, err
	}
	// Any identity is an answer: that it is the right one is judged by CheckIdentity.
	reply := midi.Match{Value: []byte{0xF0, 0x7E, 0, 0x06, 0x02}, Mask: []byte{0xFF, 0xFF, 0, 0xFF, 0xFF}, Tail: true}
	return midi.Step{
		What: "ask for its identity", Send: request, Timeout: d.Manners.Answer, Gap: d.Manners.Gap,
		Answers: []midi.Answer{{Match: reply, Means: midi.Data}},
	}, nil
}

// CheckIdentity refuses the answer of a device of another model.
func (d *Device) CheckIdentity(reply []byte) error {
	id, err := midi.ParseIdentity(reply)
	if err != nil {
		return err
	}
	want := *d.Identity
	if got := (Identity{Manufacturer: id.Manufacturer, Family: id.Family, Member: id.Member}); got != want {
		return fmt.Errorf("what answers is %v; device %q is %v", got, d.Name, want)
	}
	return nil
}
