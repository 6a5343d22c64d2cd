package cli

import (
	"context"
	"errors"
	"io/fs"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"testing/fstest"
	"testing/synctest"

	"github.com/stretchr/testify/require"

	"echowright/midi"
	"echowright/midi/port"
	"echowright/midi/port/osport"
	"echowright/midi/port/ports"
	"echowright/profiles"
)

func fiveLine(t *testing.T) *profiles.Device {
	t.Helper()
	d, err := profiles.Shipped("five-line")
	require.NoError(t, err)
	return d
}

func TestADeviceInMusicalTermsAndBytes(t *testing.T) {
	v := viewDevice(fiveLine(t))
	require.Equal(t, []int{0, 63}, v.Slots)
	require.Equal(t, []string{"a", "b", "c", "d", "e"}, v.Lines)
	require.Equal(t, 4.0, v.GapMs)
	time := v.Parameters[0]
	// The unit's manual: code 0 to 16000, 0.1 ms a step.
	require.Equal(t, []int{0, 16000}, time.Codes)
	require.InDelta(t, 1600, *time.High, 1e-9)
	require.InDelta(t, 0.05, *time.WorstRounding, 1e-9)
	// By hand: 8000 = 3E40h in groups of seven bits; 10h+0+0+3Eh+40h = 8Eh, which
	// 72h makes 100h.
	require.Equal(t, "F0 7D 05 00 10 00 00 3E 40 72 F7", time.Examples[1].Message)
	require.Equal(t, []string{"silent"}, v.Parameters[1].Words)
	require.Equal(t, []string{"normal", "inverted"}, v.Parameters[2].Words)
	require.Nil(t, v.Parameters[2].Low)
}

func TestOneLineStandsForAll(t *testing.T) {
	d := fiveLine(t)
	v := viewDevice(d)
	shown := shownParameters(v)
	require.Len(t, shown, 7+4)
	require.Equal(t, "a-time", shown[0].Name)
	require.Equal(t, "dry-level", shown[7].Name)
}

func TestNumbersAreShort(t *testing.T) {
	for v, want := range map[float64]string{0: "0", 1600: "1600", 0.05: "0.05", 14254.379: "14254.379", -0.0001: "0", 100: "100", -6: "-6"} {
		require.Equal(t, want, short(v))
	}
}

func TestAProfileOfOnesOwnComesBeforeAShippedOne(t *testing.T) {
	e := world(t)
	own := strings.Replace(string(fiveLine(t).Source()), `title = "Five delay`, `title = "My own five delay`, 1)
	file := write(t, "mine.toml", own)
	require.Contains(t, e.run(t, "library", "add", file).out, "device five-line, revision 1")
	require.Contains(t, e.run(t, "device", "show", "five-line").out, "My own five delay")
	list := e.run(t, "device", "list").out
	require.Regexp(t, `(?m)^five-line +5 +64 +library +My own`, list)
	require.Regexp(t, `(?m)^five-line +5 +64 +shipped`, list)
	require.Contains(t, e.run(t, "device", "check", file, "--json").decode(t)["title"], "My own")
}

func TestWhatIsAFileAndWhatIsAName(t *testing.T) {
	for name, want := range map[string]bool{
		"saltmarsh-drum-1": false, "saltmarsh.v2": false, "saltmarsh.toml": true, "./saltmarsh": true, "../a/b": true, `c:\units\a`: true,
	} {
		require.Equal(t, want, isFile(name), name)
	}
}

func TestAFileThatNeverEndsIsReadNoFurtherThanNeeded(t *testing.T) {
	large := filepath.Join(t.TempDir(), "large.toml")
	require.NoError(t, os.WriteFile(large, make([]byte, 3<<20), 0o644))
	text, err := readText(large)
	require.NoError(t, err)
	require.Len(t, text, textLimit)
	require.Contains(t, world(t).run(t, "device", "check", large).talk, "large.toml")
}

func TestWhyAFileCannotBeRead(t *testing.T) {
	for want, err := range map[string]error{
		"file a.toml: file does not exist; check the path and its spelling": &fs.PathError{Op: "open", Path: "a.toml", Err: fs.ErrNotExist},
		"file a.toml: permission denied; you need to be allowed to read it": &fs.PathError{Op: "open", Path: "a.toml", Err: fs.ErrPermission},
		"file a.toml: is a directory; check the path":                       errors.New("is a directory"),
	} {
		require.EqualError(t, fileError("a.toml", err), want)
	}
}

func TestPortsThatAreThereAndDriversThatAreNot(t *testing.T) {
	c, out := quiet(t)
	none := func() ([]osport.Found, error) { return nil, port.ErrUnsupported }
	require.NoError(t, runPorts(c, append(ports.List(fstest.MapFS{
		"dev/snd/midiC1D0":        &fstest.MapFile{},
		"proc/asound/card1/midi0": &fstest.MapFile{Data: []byte("Some Box\n")},
	}, none), emulatorDriver())))
	require.Regexp(t, `(?m)^raw:/dev/snd/midiC1D0 +Some Box$`, out.String())
	require.Regexp(t, `(?m)^emulator:five-line `, out.String())
	c, out = quiet(t)
	c.json = true
	require.NoError(t, runPorts(c, ports.List(fstest.MapFS{}, none)))
	require.Contains(t, out.String(), `"skipped": "there is no /dev/snd`)
}

func TestNamesOfPorts(t *testing.T) {
	c := &call{Env: world(t)}
	for name, ok := range map[string]bool{
		"raw:/dev/snd/midiC1D0": true, "emulator:five-line": true, "file:x.syx": true, "tcp:host:7000": true,
		"raw:": false, "raw": false, "": false, "midi:1": false, "/dev/snd/midiC1D0": false,
	} {
		err := c.checkPortName(name)
		require.Equal(t, ok, err == nil, name)
		var unknown *ports.UnknownError
		require.Equal(t, !ok, errors.As(err, &unknown), name)
	}
}

func TestAllHardwareIsAPortInTheSameProcess(t *testing.T) {
	for _, name := range []string{"five-line", "tap-loop", "twin", "open-parameter"} {
		p, err := Ports().Open(t.Context(), "emulator:"+name)
		require.NoError(t, err, name)
		require.NoError(t, p.Close(), name)
	}
}

// TestTheEmulatorInTheSameProcess asks it who it is: F0 7E 7F 06 01 F7 (MIDI 1.0,
// Identity Request).
func TestTheEmulatorInTheSameProcess(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		ctx, stop := context.WithCancel(t.Context())
		p, err := Ports().Open(ctx, "emulator:five-line")
		require.NoError(t, err)
		require.NoError(t, p.Send(ctx, []byte{0xF0, 0x7E, 0x7F, 0x06, 0x01, 0xF7}))
		answer, err := p.Receive(ctx)
		require.NoError(t, err)
		require.Equal(t, "F0 7E 00 06 02 7D 05 00 01 00", midi.Hex(answer[:10]))
		require.NoError(t, p.Close())
		_, err = p.Receive(ctx)
		require.ErrorIs(t, err, port.ErrClosed)
		stop()
		synctest.Wait()
	})
	_, err := Ports().Open(t.Context(), "emulator:five-lime")
	require.ErrorContains(t, err, `did you mean "five-line"`)
}
