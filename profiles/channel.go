package profiles

import (
	"fmt"
	"slices"

	"echowright/midi"
)

// channels reads the channels that can be set. A device without unit numbers
// that is told anything on a channel is found by that.
func (b *builder) channels(m mannersFile) {
	d := &b.device.Manners
	d.FirstChannel, d.LastChannel = 1, 16
	if m.Channels != nil {
		if !slices.IsSorted(m.Channels) || len(m.Channels) != 2 || m.Channels[0] < 1 || m.Channels[1] > 16 {
			b.add("manners.channels", "%v: give the first and the last, such as [1, 16]", m.Channels)
			return
		}
		d.FirstChannel, d.LastChannel = m.Channels[0], m.Channels[1]
		d.ByChannel = m.Units == nil
	}
	if d.ByChannel {
		d.FirstUnit, d.LastUnit = d.FirstChannel, d.LastChannel
	}
}

// channel is the low half of the status of what is sent to a unit. Where units
// have numbers too, the first unit number goes with the first channel, and so
// on; OnChannel is for a unit that is set otherwise.
func (d *Device) channel(unit int) int {
	m := d.Manners
	switch {
	case d.apart > 0:
		return int(d.apart) - 1
	case m.ByChannel:
		return unit - 1
	}
	n := m.LastChannel - m.FirstChannel + 1
	return m.FirstChannel - 1 + max(0, unit-m.FirstUnit)%max(1, n)
}

// OnChannel is the device with a unit whose channel does not go with its unit
// number.
func (d *Device) OnChannel(c midi.Channel) (*Device, error) {
	if int(c) < d.Manners.FirstChannel || int(c) > d.Manners.LastChannel {
		return nil, fmt.Errorf("channel %d: device %q can be set to %d to %d", c, d.Name, d.Manners.FirstChannel, d.Manners.LastChannel)
	}
	there := *d
	there.apart = c
	return &there, nil
}

// CheckUnit refuses a unit number that cannot be set on the device, or a channel
// where the device is found by its channel.
func (d *Device) CheckUnit(unit int) error {
	m := d.Manners
	if unit >= m.FirstUnit && unit <= m.LastUnit {
		return nil
	}
	what := "unit number"
	if m.ByChannel {
		what = "channel"
	}
	return fmt.Errorf("%s %d: device %q can be set to %d to %d", what, unit, d.Name, m.FirstUnit, m.LastUnit)
}
