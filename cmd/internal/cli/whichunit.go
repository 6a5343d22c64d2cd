package cli

import (
	"fmt"

	"github.com/spf13/cobra"

	"echowright/library"
	"echowright/midi"
	"echowright/profiles"
)

// unitFlags say which of several units on a line is meant: by the number that is
// set on it, by its channel, or by both where they are set apart.
type unitFlags struct {
	unit, channel int
}

// add adds the flags; before is what their help begins with.
func (f *unitFlags) add(cmd *cobra.Command, before string) {
	cmd.Flags().IntVar(&f.unit, "unit", 0, before+"the unit `number` that is set on it")
	cmd.Flags().IntVar(&f.channel, "channel", 0, before+"the `channel` that is set on it, 1 to 16, where it has one that does not go with its unit number")
}

// An address is how a device is told from others on the same line.
type address struct {
	device  *profiles.Device // with its channel
	unit    int              // its number; its channel where it is found by that
	channel int              // 1 to 16 where one was given beside the number, else 0
}

// find works out the address of a device. What the flags leave open is taken from
// a rig, if there is one, else it is as the device comes from the factory.
func (f unitFlags) find(cmd *cobra.Command, d *profiles.Device, r library.Rig) (address, error) {
	a := address{device: d, unit: d.Manners.FirstUnit, channel: r.Channel}
	if r.Unit != nil {
		a.unit = *r.Unit
	}
	numbered, onChannel := cmd.Flags().Changed("unit"), cmd.Flags().Changed("channel")
	if d.Manners.ByChannel {
		if r.Unit != nil && r.Channel != 0 && *r.Unit != r.Channel {
			return a, fmt.Errorf("rig %q: unit %d and channel %d: device %q is found by its channel: leave unit out of the rig", r.Name, *r.Unit, r.Channel, d.Name)
		}
		return f.byChannel(cmd, a, numbered, onChannel)
	}
	if numbered {
		a.unit = f.unit
	}
	if onChannel {
		a.channel = f.channel
	}
	if err := d.CheckUnit(a.unit); err != nil {
		return a, misused(err)
	}
	if a.channel == 0 && !onChannel {
		return a, nil
	}
	there, err := d.OnChannel(midi.Channel(a.channel))
	if err != nil {
		return a, misused(err)
	}
	a.device = there
	return a, nil
}

// byChannel is the address of a device that has no number but its channel. Rigs
// and flags may call that its unit.
func (f unitFlags) byChannel(cmd *cobra.Command, a address, numbered, onChannel bool) (address, error) {
	switch {
	case numbered && onChannel:
		return a, misuse(cmd, "%s: device %q is found by its channel: leave --unit out", cmd.Name(), a.device.Name)
	case onChannel:
		a.unit = f.channel
	case numbered:
		a.unit = f.unit
	case a.channel != 0:
		a.unit = a.channel
	}
	a.channel = 0
	return a, misused(a.device.CheckUnit(a.unit))
}

// addressOf is the address that a snapshot or the journal has.
func addressOf(d *profiles.Device, unit, channel int) (address, error) {
	a := address{device: d, unit: unit, channel: channel}
	if channel == 0 {
		return a, nil
	}
	there, err := d.OnChannel(midi.Channel(channel))
	if err != nil {
		return a, err
	}
	a.device = there
	return a, nil
}

// addressWords say a rig's address to people; nothing where none is set.
func addressWords(r library.Rig) string {
	words := ""
	if r.Unit != nil {
		words += fmt.Sprintf(", unit %d", *r.Unit)
	}
	if r.Channel != 0 {
		words += fmt.Sprintf(", channel %d", r.Channel)
	}
	return words
}
