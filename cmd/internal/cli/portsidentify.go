package cli

import (
	"context"
	"errors"
	"fmt"
	"slices"
	"strings"

	"echowright/cmd/internal/ui"
	"echowright/library"
	"echowright/midi"
	"echowright/midi/port"
	"echowright/midi/port/ports"
	"echowright/profiles"
)

// identifiedDriver is a kind of port with what answered on each of them.
type identifiedDriver struct {
	Name    string           `json:"driver"`
	Found   []identifiedPort `json:"found"`
	Skipped string           `json:"skipped,omitempty"`
}

type identifiedPort struct {
	ports.Device
	Identity []identityView `json:"identity"`          // of everybody who answered
	Problem  string         `json:"problem,omitempty"` // why nobody could be asked, or not all be understood
}

// identityView is one answer.
type identityView struct {
	Unit         int      `json:"unit"`
	Manufacturer string   `json:"manufacturer"`
	Family       int      `json:"family"`
	Member       int      `json:"member"`
	Revision     string   `json:"revision"`
	Devices      []string `json:"device"` // the profiles that state this identity
}

// runIdentify asks one port after the other: two of them may be the same hardware.
func runIdentify(ctx context.Context, c *call, drivers []ports.Driver) error {
	known, err := c.identities()
	if err != nil {
		return err
	}
	all := []identifiedDriver{}
	for _, d := range drivers {
		asked := identifiedDriver{Name: d.Name, Found: []identifiedPort{}, Skipped: d.Skipped}
		for _, p := range d.Found {
			asked.Found = append(asked.Found, c.identify(ctx, p, known))
			if ctx.Err() != nil {
				return ctx.Err()
			}
		}
		all = append(all, asked)
	}
	if c.json {
		return ui.JSON(c.out, map[string]any{"driver": all})
	}
	printIdentified(c.out, all)
	c.saySkipped(drivers)
	return nil
}

func (c *call) identify(ctx context.Context, p ports.Device, known []knownIdentity) identifiedPort {
	asked := identifiedPort{Device: p, Identity: []identityView{}}
	answers, err := c.whoIsAt(ctx, p.Port)
	for _, id := range answers {
		asked.Identity = append(asked.Identity, identified(id, known))
	}
	if err != nil {
		asked.Problem = problemWords(err)
	}
	return asked
}

// whoIsAt asks over a port, unless another echowright has a conversation there: it
// would take the answer for one of its own.
func (c *call) whoIsAt(ctx context.Context, name string) ([]midi.Identity, error) {
	if !fleeting(name) {
		unlock, err := target{port: name}.lock(ctx, c, "ports", false)
		if err != nil {
			return nil, err
		}
		defer unlock()
	}
	p, err := c.Ports.Open(ctx, name)
	if err != nil {
		return nil, err
	}
	defer p.Close()
	return ports.Identify(ctx, p, ports.Patience)
}

func problemWords(err error) string {
	var locked *library.PortLockedError
	switch {
	case errors.As(err, &locked):
		return "in use by another echowright"
	case errors.Is(err, port.ErrBusy):
		return "in use by another program"
	}
	return ports.Reason(err)
}

func identified(id midi.Identity, known []knownIdentity) identityView {
	v := identityView{
		Unit: id.Unit, Manufacturer: id.Manufacturer.String(), Family: id.Family, Member: id.Member,
		Revision: midi.Hex(id.Revision[:]), Devices: []string{},
	}
	for _, k := range known {
		if k.states == (profiles.Identity{Manufacturer: id.Manufacturer, Family: id.Family, Member: id.Member}) {
			v.Devices = append(v.Devices, k.device)
		}
	}
	return v
}

func (v identityView) String() string {
	return fmt.Sprintf("unit %d, manufacturer %s, family %04Xh, member %04Xh, revision %s", v.Unit, v.Manufacturer, v.Family, v.Member, v.Revision)
}

func printIdentified(s ui.Screen, all []identifiedDriver) {
	t := ui.Table{Titles: []string{"port", "what", "device", "identity"}}
	for _, d := range all {
		for _, p := range d.Found {
			for _, v := range p.Identity {
				device := "no profile states it"
				if len(v.Devices) > 0 {
					device = strings.Join(v.Devices, ", ")
				}
				t.Add(p.Port, p.Says, device, v)
			}
			switch {
			case p.Problem != "":
				t.Add(p.Port, p.Says, "", p.Problem)
			case len(p.Identity) == 0:
				t.Add(p.Port, p.Says, "", "no answer")
			}
		}
	}
	t.Print(s)
}

// knownIdentity is what the profile of a device states.
type knownIdentity struct {
	device string
	states profiles.Identity
}

// identities are those of the library's devices and of the shipped ones. A profile
// that cannot be used states nothing.
func (c *call) identities() ([]knownIdentity, error) {
	if _, err := c.library(); err != nil {
		return nil, err
	}
	names := c.deviceNames()
	slices.Sort(names)
	var all []knownIdentity
	for _, name := range slices.Compact(names) {
		d, err := c.device(name)
		switch {
		case err != nil:
			c.warn(err.Error())
		case d.Identity != nil:
			all = append(all, knownIdentity{name, *d.Identity})
		}
	}
	return all, nil
}
