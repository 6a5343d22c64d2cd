package cli

import (
	"fmt"
	"strings"

	"github.com/spf13/cobra"

	"echowright/library/exchange"
	"echowright/midi"
	"echowright/profiles"
)

// An interpreter says what the messages on a line mean to a device. None at all
// knows no device, and says nothing.
type interpreter struct {
	device  *profiles.Device
	decoder *profiles.Decoder
}

func (o listenOptions) interpreter(c *call, cmd *cobra.Command) (*interpreter, error) {
	unit := profiles.None // any
	switch {
	case o.device == "" && cmd.Flags().Changed("unit"):
		return nil, misuse(cmd, "listen: --unit says which unit of a device counts: name the device with --device")
	case o.device == "":
		return nil, nil
	case o.learn:
		return nil, misuse(cmd, "listen: --learn is for what no profile describes yet: leave --device out")
	}
	d, err := c.device(o.device)
	if err != nil {
		return nil, err
	}
	if cmd.Flags().Changed("unit") {
		unit = o.unit
		if err := d.CheckUnit(unit); err != nil {
			return nil, misused(err)
		}
	}
	return &interpreter{device: d, decoder: d.Decoder(unit)}, nil
}

// meansView is what a message means to the device, as scripts get it.
type meansView struct {
	Kind      string         `json:"kind"` // "set", "load", "store", "slot", "answer", "damaged"
	Parameter string         `json:"parameter,omitempty"`
	Value     any            `json:"value,omitempty"`
	Unit      string         `json:"unit,omitempty"`
	Code      *int           `json:"code,omitempty"`
	Slot      *int           `json:"slot,omitempty"`
	Name      string         `json:"name,omitempty"`    // of what a slot holds
	Setting   []profiles.Row `json:"setting,omitempty"` // what a slot holds
	Says      string         `json:"says,omitempty"`
}

// means tells what one message says, nothing where it says nothing of the device.
func (in *interpreter) means(message []byte) []meansView {
	if in == nil {
		return nil
	}
	var all []meansView
	for _, t := range in.decoder.Feed(message) {
		all = append(all, in.view(t))
	}
	return all
}

// kindWords are the kinds of what is told, for scripts.
var kindWords = map[profiles.ToldKind]string{
	profiles.ToldSet: "set", profiles.ToldLoad: "load", profiles.ToldStore: "store",
	profiles.ToldSlot: "slot", profiles.ToldAnswer: "answer", profiles.ToldDamaged: "damaged",
}

func (in *interpreter) view(t profiles.Told) meansView {
	v := meansView{Kind: kindWords[t.Kind], Says: t.Says}
	if t.Slot != profiles.None && (t.Kind == profiles.ToldLoad || t.Kind == profiles.ToldStore || t.Kind == profiles.ToldSlot) {
		v.Slot = &t.Slot
	}
	switch t.Kind {
	case profiles.ToldSet:
		r := rowOf(in.device, t.Parameter, t.Code)
		v.Parameter, v.Value, v.Unit, v.Code = r.Parameter, r.Value, r.Unit, &r.Code
	case profiles.ToldAnswer:
		v.Says = strings.TrimSuffix(fmt.Sprintf("%v: %s", t.Means, t.Says), ": ")
	case profiles.ToldSlot:
		s, err := in.device.SlotSetting(t.Memory)
		if err != nil {
			v.Says = err.Error()
			break
		}
		v.Name, v.Setting = s.Name, in.device.Rows(s)
	}
	return v
}

// rowOf is one parameter at a code, in musical terms.
func rowOf(d *profiles.Device, parameter, code int) profiles.Row {
	s := d.Rest()
	s.Codes[parameter] = code
	return d.Rows(s)[parameter]
}

// words is what is told, for people: one line, or one for each parameter of a slot.
func (v meansView) words() []string {
	slot := "the slot last selected"
	if v.Slot != nil {
		slot = fmt.Sprintf("slot %d", *v.Slot)
	}
	switch v.Kind {
	case "set":
		return []string{fmt.Sprintf("%s = %s (code %d)", v.Parameter, withUnit(profiles.Row{Value: v.Value, Unit: v.Unit}), *v.Code)}
	case "load":
		return []string{slot + " is to sound"}
	case "store":
		return []string{"what sounds is to be kept in " + slot}
	case "slot":
		if v.Setting == nil {
			return []string{fmt.Sprintf("%s holds no setting: %s", slot, v.Says)}
		}
		all := []string{strings.TrimSuffix(fmt.Sprintf("%s holds %s", slot, v.Name), " ") + ":"}
		for _, r := range v.Setting {
			all = append(all, fmt.Sprintf("  %s = %s (code %d)", r.Parameter, withUnit(r), r.Code))
		}
		return all
	case "answer":
		return []string{"the device answers: " + v.Says}
	}
	return []string{"damaged on the way: " + v.Says}
}

// heard is one message with what it says by itself and to the device.
func (in *interpreter) heard(seconds float64, message []byte) heardView {
	return heardView{At: exchange.Seconds(seconds), Bytes: midi.Hex(message), Says: midi.Describe(message), Means: in.means(message)}
}
