package cli

import (
	"context"
	"errors"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"echowright/midi/port"
	"echowright/midi/port/ports"
)

// pedal has a time and nothing else: no slots, no answers.
const pedal = `format = "echowright-device/1"
name = "mill-pedal"
[manners]
[scale.time]
unit = "ms"
codes = [0, 127]
linear = { code = 0, is = 0.0, step = 8.0 }
[line]
names = ["a"]
[[line.parameter]]
role = "time"
scale = "time"
control = 20
`

// What a device cannot do is said before its port is opened.
func TestWhatADeviceCannotDoIsRefusedInWords(t *testing.T) {
	e := world(t)
	e.Ports = ports.Openers{"far": func(context.Context, string) (port.Port, error) {
		return nil, errors.New("the port was opened")
	}}
	unit, device := write(t, "fen.toml", someUnit), write(t, "pedal.toml", pedal)
	for _, c := range []struct {
		want string
		args []string
	}{
		{`push: device "mill-pedal" has no slots that can be reached`, []string{"push", unit, "--device", device, "--slot", "0"}},
		{`backup: device "mill-pedal" has no slots that can be reached`, []string{"backup", "--device", device}},
		{`device "mill-pedal" has no slots`, []string{"read", "--device", device, "--slot", "0"}},
		{`device "twin" never says what its slots hold`, []string{"backup", "--device", "twin"}},
	} {
		s := e.run(t, append(c.args, "--port", "far:side")...)
		require.Equal(t, exitMisused, s.code, s.talk)
		require.Contains(t, s.talk, c.want)
		require.NotContains(t, s.talk, "the port was opened")
		require.Empty(t, s.out)
	}
	for _, device := range []string{"two-by-three", "open-parameter"} {
		s := e.run(t, "read", "--device", device, "--slot", "1", "--port", "far:side")
		require.Contains(t, s.talk, "the port was opened", "a device that can is spoken to")
	}

	v := e.run(t, "plan", unit, "--device", device, "--json").decode(t)
	require.Equal(t, []any{"B0 14 32"}, v["message"], "the louder head, 400 ms, is code 50; it goes without a slot")
}

func TestAFileGetsTheMessageThatLoadsTheSlotToo(t *testing.T) {
	unit := write(t, "fen.toml", someUnit)
	s := world(t).run(t, "push", unit, "--device", "twin", "--port", "emulator:twin", "--slot", "3", "--load", "--dry-run")
	require.Equal(t, exitDone, s.code, s.talk)
	// Bank 0 with CC 0 and CC 32, then program 3: once to select it, once to load it.
	require.Equal(t, 2, strings.Count(s.out, "B0 00 00 B0 20 00 C0 03"), s.out)
}
