package cli

import (
	"bytes"
	"context"
	"encoding/json"
	"errors"
	"os"
	"strings"
	"testing"
	"testing/synctest"
	"time"

	"github.com/stretchr/testify/require"

	"echowright/cmd/internal/ui"
	"echowright/midi"
	"echowright/midi/port"
	"echowright/midi/port/ports"
)

// answering is a port at whose other end each of the messages comes as the answer
// to the first that is sent.
func answering(messages ...string) ports.Opener {
	return func(ctx context.Context, name string) (port.Port, error) {
		near, far := port.Pipe("far:" + name)
		go func() {
			defer far.Close()
			if _, err := far.Receive(ctx); err != nil {
				return
			}
			for _, m := range messages {
				b, err := midi.ParseHex(m)
				if err != nil || far.Send(ctx, b) != nil {
					return
				}
			}
			_, _ = far.Receive(ctx) // until the near end is closed
		}()
		return near, nil
	}
}

// The five-line unit's identity, from its manual (profiles/five-line.md):
// manufacturer 7D, family 05 00, member 01 00. The other answers are made up.
const (
	fiveLineAt3 = "F0 7E 03 06 02 7D 05 00 01 00 00 01 00 02 F7"
	strangerAt9 = "F0 7E 09 06 02 00 21 7F 02 01 03 00 01 00 00 00 F7"
)

// portsOfAllKinds is a set of ports, one of each fate.
func portsOfAllKinds(t *testing.T) (Env, []ports.Driver) {
	e := world(t)
	fails := func(kind error, next string) ports.Opener {
		return func(_ context.Context, name string) (port.Port, error) {
			return nil, &port.Error{Port: name, Doing: "opening", Err: kind, Next: next}
		}
	}
	e.Ports = ports.Openers{
		"two": answering(fiveLineAt3, strangerAt9), "dumb": answering(), "other": answering("90 3C 40"),
		"busy": fails(port.ErrBusy, "close the other program"), "locked": fails(port.ErrDenied, "ask for it"),
	}
	return e, []ports.Driver{
		{Name: "raw", Found: []ports.Device{{Port: "two:a", Says: "Fen Delay"}, {Port: "dumb:a"}, {Port: "other:a"}, {Port: "busy:a"}, {Port: "locked:a"}}},
		{Name: "os", Found: []ports.Device{}, Skipped: "this build has none"},
	}
}

// identify runs ports --identify in fake time.
func identify(t *testing.T, e Env, drivers []ports.Driver, flags ...string) (out, talk string) {
	t.Helper()
	var o, s bytes.Buffer
	c := &call{Env: e, out: ui.Open(&o, e.Getenv), talk: ui.Open(&s, e.Getenv), json: len(flags) > 0}
	synctest.Test(t, func(t *testing.T) {
		began := time.Now()
		require.NoError(t, runIdentify(t.Context(), c, drivers))
		require.Equal(t, 3*ports.Patience, time.Since(began), "three of the ports could be asked")
	})
	return o.String(), s.String()
}

func TestPortsAreAskedWhoIsThere(t *testing.T) {
	e, drivers := portsOfAllKinds(t)
	out, talk := identify(t, e, drivers)
	lines := strings.Split(strings.TrimSpace(out), "\n")
	require.Len(t, lines, 7)
	for i, want := range [][]string{
		{"port", "what", "device", "identity"},
		{"two:a", "Fen Delay", "five-line", "unit 3, manufacturer 7D, family 0005h, member 0001h, revision 00 01 00 02"},
		{"two:a", "Fen Delay", "no profile states it", "unit 9, manufacturer 00 21 7F, family 0082h, member 0003h, revision 01 00 00 00"},
		{"dumb:a", "no answer"}, {"other:a", "no answer"}, {"busy:a", "in use by another program"},
		{"locked:a", "no permission for the port; ask for it"},
	} {
		require.Equal(t, strings.Join(want, " "), strings.Join(strings.Fields(lines[i]), " "))
	}
	require.Equal(t, "os: this build has none\n", talk)
}

func TestAskedPortsAsJSON(t *testing.T) {
	e, drivers := portsOfAllKinds(t)
	out, _ := identify(t, e, drivers, "--json")
	var got struct {
		Driver []identifiedDriver `json:"driver"`
	}
	require.NoError(t, json.Unmarshal([]byte(out), &got))
	require.Len(t, got.Driver, 2)
	require.Equal(t, "this build has none", got.Driver[1].Skipped)
	found := got.Driver[0].Found
	require.Equal(t, []identityView{
		{Unit: 3, Manufacturer: "7D", Family: 5, Member: 1, Revision: "00 01 00 02", Devices: []string{"five-line"}},
		{Unit: 9, Manufacturer: "00 21 7F", Family: 2 + 1*128, Member: 3, Revision: "01 00 00 00", Devices: []string{}},
	}, found[0].Identity)
	require.Equal(t, "in use by another program", found[3].Problem)
	require.Contains(t, out, `"identity": []`, "an empty list, not null")
}

func TestDevicesOfTheLibraryAreKnownByTheirIdentity(t *testing.T) {
	e, drivers := portsOfAllKinds(t)
	text, err := os.ReadFile("../../../profiles/five-line.toml")
	require.NoError(t, err)
	own := write(t, "attic.toml", strings.Replace(string(text), `name = "five-line"`, `name = "attic-box"`, 1))
	require.Equal(t, exitDone, e.run(t, "library", "add", own).code)
	out, _ := identify(t, e, drivers)
	require.Contains(t, out, "attic-box, five-line")
}

func TestAskingEndsWithCtrlC(t *testing.T) {
	e, drivers := portsOfAllKinds(t)
	ctx, cancel := context.WithCancel(t.Context())
	cancel()
	c := &call{Env: e, out: ui.Plain(&bytes.Buffer{}), talk: ui.Plain(&bytes.Buffer{})}
	require.True(t, errors.Is(runIdentify(ctx, c, drivers), context.Canceled))
}

func TestEmulatorsSayWhoTheyAre(t *testing.T) {
	got := world(t).run(t, "ports", "--identify", "--json").decode(t)
	drivers := got["driver"].([]any)
	require.Len(t, drivers, 3)
	emulators := drivers[2].(map[string]any)
	require.Equal(t, "emulator", emulators["driver"])
	for _, p := range emulators["found"].([]any) {
		found := p.(map[string]any)
		name := strings.TrimPrefix(found["port"].(string), "emulator:")
		if identities := found["identity"].([]any); len(identities) > 0 {
			require.Equal(t, []any{name}, identities[0].(map[string]any)["device"])
		}
	}
}
