package cli

import (
	"context"
	"encoding/json"
	"slices"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"echowright/midi"
	"echowright/midi/port"
	"echowright/midi/port/ports"
)

// speaking is a world with the port "far:side", at the other end of which somebody
// has said something, and said no more.
func speaking(t *testing.T, said ...[]byte) Env {
	t.Helper()
	e := world(t)
	e.Ports = ports.Openers{"far": func(ctx context.Context, _ string) (port.Port, error) {
		near, far := port.Pipe("far:side")
		go func() {
			for _, m := range said {
				_ = far.Send(ctx, m)
			}
			far.Close()
		}()
		return near, nil
	}}
	return e
}

func TestListeningShowsBytesAndWords(t *testing.T) {
	e := speaking(t, []byte{0xB0, 16, 64}, []byte{0xF8}, []byte{0xF0, 0x7D, 0x05, 0xF7})
	s := e.run(t, "listen", "--port", "far:side")
	require.Equal(t, exitDone, s.code, s.talk)
	require.Contains(t, s.out, "B0 10 40                  control change 16 = 64, channel 1")
	require.Contains(t, s.out, "F0 7D 05 F7")
	require.NotContains(t, s.out, "clock")
	require.Contains(t, s.talk, "2 messages heard; 1 clock or other real-time message passed over")

	s = e.run(t, "listen", "--port", "far:side", "--clocks", "--count", "2", "--json")
	lines := strings.Split(strings.TrimSpace(s.out), "\n")
	require.Len(t, lines, 2)
	var v map[string]any
	require.NoError(t, json.Unmarshal([]byte(lines[1]), &v))
	hasFields(t, v, "seconds", "bytes", "says")
	require.Equal(t, "clock", v["says"])
}

func TestAKnobIsLearntFromWhatItSends(t *testing.T) {
	var said [][]byte
	for code := range 128 {
		said = append(said, []byte{0xB2, 85, byte(code)})
	}
	s := speaking(t, said...).run(t, "listen", "--learn", "--port", "far:side", "--silence", "50ms")
	require.Equal(t, exitDone, s.code, s.talk)
	require.Contains(t, s.out, "→ control change 85 on channel 3, codes 0 to 127, 128 of them different")
	require.Contains(t, s.out, "    control = 85\n")
	require.Contains(t, s.talk, "turn one knob slowly")
}

func TestNothingToLearnFromIsAFailureThatSaysWhatToDo(t *testing.T) {
	s := speaking(t).run(t, "listen", "--learn", "--port", "far:side")
	require.Equal(t, exitFailed, s.code)
	require.Contains(t, s.talk, "nothing arrived")
	require.Contains(t, s.talk, "in their own menu")
}

func TestTwoDumpsAreComparedFromFiles(t *testing.T) {
	dump := func(time byte) string {
		memory := append([]byte{time, 1, 2, 3, 200, 5, 6, 7, 8, 9, 10, 11, 12, 13, 14, 15}, 0, 0)
		crc := midi.CCITTFalse().Sum(memory[:16])
		memory[16], memory[17] = byte(crc>>8), byte(crc)
		message := append([]byte{0xF0, 0x7D, 0x05, 0x00, 0x21, 0x00}, midi.AppendPacked(nil, memory, midi.FirstHigh)...)
		return string(append(message, 0xF7))
	}
	before, after := write(t, "before.syx", dump(100)), write(t, "after.syx", dump(101))
	s := world(t).run(t, "listen", "--learn", before, after)
	require.Equal(t, exitDone, s.code, s.talk)
	require.Contains(t, s.out, `packing "file-dump" from byte 6: a memory of 18 bytes; its check at byte 16 is crc-16 polynomial 1021, start FFFF`)
	require.Contains(t, s.out, "what differs: byte 0 from 100 to 101 (bits 0)")

	s = world(t).run(t, "listen", "--learn", before, before)
	require.Equal(t, exitFailed, s.code)
	require.Contains(t, s.talk, "the dumps are the same")
}

func TestListeningWronglyAskedFor(t *testing.T) {
	text := write(t, "no.syx", "hello")
	for name, test := range map[string]struct {
		args []string
		code int
		want string
	}{
		"no port":             {nil, exitMisused, "--port is missing"},
		"a port of no kind":   {[]string{"--port", "nowhere"}, exitMisused, "nowhere"},
		"files and a port":    {[]string{"--learn", "--port", "far:side", text}, exitMisused, "in place of --port"},
		"files, not learning": {[]string{text}, exitMisused, "files are for --learn"},
		"counting backwards":  {[]string{"--port", "far:side", "--count", "-1"}, exitMisused, "upwards"},
		"no message in it":    {[]string{"--learn", text}, exitFailed, "holds no MIDI message"},
		"no such file":        {[]string{"--learn", "gone.syx"}, exitFailed, "gone.syx"},
	} {
		t.Run(name, func(t *testing.T) {
			s := speaking(t).run(t, slices.Concat([]string{"listen"}, test.args)...)
			require.Equal(t, test.code, s.code, s.talk)
			require.Contains(t, s.talk, test.want)
		})
	}
}
