package profiles_test

import (
	"bytes"
	"encoding/hex"
	"math/rand/v2"
	"os"
	"os/exec"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"echowright/midi"
	"echowright/midi/port/fileport"
	"echowright/profiles"
)

// All that is sent to a device in a push, a backup of every slot and a restore is
// judged message by message by readers that have nothing to do with this program.

// conversations has what is sent to each shipped device. There is no hardware for
// one of them: its questions are asked all the same.
func conversations(t *testing.T, name string) [][]byte {
	t.Helper()
	d, err := profiles.Shipped(name)
	require.NoError(t, err)
	s := said{t: t, device: d}
	if slices.Contains(emulated(), name) {
		s.bench = newBench(t, name)
	}
	random := rand.New(rand.NewPCG(81, 1))
	slot, unit := d.FirstSlot+3, d.Manners.FirstUnit+2
	// A push: who is there, what the slot holds, what sounds is muted, the new
	// content, what the slot holds now, and that it may be heard.
	if identity, err := d.IdentityStep(unit); err == nil {
		s.say(identity)
	}
	s.read(unit, slot)
	mute, err := d.MuteSteps(unit)
	require.NoError(t, err)
	s.say(mute...)
	push, err := d.PushSteps(unit, slot, randomSetting(random, d))
	require.NoError(t, err)
	s.say(push...)
	s.read(unit, slot)
	load, err := d.LoadStep(unit, slot)
	require.NoError(t, err)
	s.say(load)
	// A backup; a restore; a conversation that is given up.
	for n := d.FirstSlot; n <= d.LastSlot; n++ {
		s.read(unit, n)
	}
	if d.WritesSlots() {
		steps, err := d.WriteSlotSteps(unit, d.LastSlot, d.AppendSlot(nil, randomSetting(random, d)))
		require.NoError(t, err)
		s.say(steps...)
		s.read(unit, d.LastSlot)
	}
	if stop, ok := d.CancelStep(unit); ok {
		s.say(stop)
	}
	return s.messages
}

// said is what has been said in a conversation.
type said struct {
	t        *testing.T
	device   *profiles.Device
	bench    *bench // nil without hardware
	messages [][]byte
}

func (s *said) say(steps ...midi.Step) {
	for _, step := range steps {
		s.messages = append(s.messages, wholeMessages(step.Send)...)
		if s.bench != nil {
			s.bench.mustRun(step)
		}
	}
}

// read has the conversation about a slot, or its first question where nobody answers.
func (s *said) read(unit, slot int) {
	if !s.device.Readable() {
		return
	}
	reading, err := s.device.ReadSlot(unit, slot)
	require.NoError(s.t, err)
	for step, more := reading.Next(); more; step, more = reading.Next() {
		s.messages = append(s.messages, wholeMessages(step.Send)...)
		if s.bench == nil {
			return
		}
		means, answer := s.bench.run(step)
		require.Equal(s.t, midi.Data, means, step.What)
		require.NoError(s.t, reading.Take(answer))
	}
}

func TestTsharkHasNothingAgainstWhatIsSent(t *testing.T) {
	for _, name := range profiles.Names() {
		t.Run(name, func(t *testing.T) {
			messages := conversations(t, name)
			require.Greater(t, len(messages), 10)
			require.Empty(t, complaints(t, messages))
		})
	}
}

// A dump that is longer than what one RTP packet can tell the length of (4095 bytes
// in 12 bits, RFC 6295) travels in segments, each but the last ended by F0, each but
// the first begun by F7.
func TestTsharkHasNothingAgainstALongDump(t *testing.T) {
	d, err := profiles.Parse("long.toml", []byte(longSlots))
	require.NoError(t, err)
	memory := make([]byte, 8192)
	random := rand.New(rand.NewPCG(82, 1))
	for i := range memory {
		memory[i] = byte(random.IntN(256))
	}
	step, err := d.WriteSlotStep(1, 5, memory)
	require.NoError(t, err)
	// F0 7D 31 unit 42 slot, 8192 bytes packed to 8192 + ⌈8192/7⌉ = 9363, sum, F7.
	require.Len(t, step.Send, 6+9363+2)
	parts := segments(step.Send, 4000)
	require.Len(t, parts, 3)
	require.Empty(t, complaints(t, parts))
	var whole []byte
	for _, row := range tshark(t, parts, "rtpmidi.edu_data", "rtpmidi.unknown_data") {
		b, err := hex.DecodeString(strings.Join(row, ""))
		require.NoError(t, err)
		whole = append(whole, b...)
	}
	require.Equal(t, step.Send[2:len(step.Send)-1], whole, "and it has the same bytes")
}

const longSlots = `format = "echowright-device/1"
name = "long-slots"
[manners]
units = [0, 15]
[checksum]
kind = "xor"
[scale.time]
unit = "ms"
codes = [0, 127]
linear = { code = 0, is = 0.0, step = 1.0 }
[line]
names = ["a"]
[[line.parameter]]
role = "time"
scale = "time"
memory = { at = 0 }
[message.write_slot]
send = "F0 7D 31 {unit} (42 {slot} {dump}) {sum} F7"
[memory]
slots = [0, 9]
bytes = 8192
packing = "file-dump"
`

func segments(message []byte, most int) [][]byte {
	var all [][]byte
	for len(message) > most {
		all = append(all, append(bytes.Clone(message[:most]), midi.StartOfSysEx))
		message = append([]byte{midi.EndOfSysEx}, message[most:]...)
	}
	return append(all, message)
}

// complaints is what tshark has against messages: one that it calls malformed, one
// in which it finds another status than the message's own, one behind which
// something is left over, and what it knows no meaning of. It does not know Global
// Parameter Control (CA-024, sub-numbers 04 05) beyond its name, nor what stands in
// the later segments of a long message.
func complaints(t *testing.T, messages [][]byte) []string {
	t.Helper()
	var all []string
	rows := tshark(t, messages, "_ws.expert.message", "rtpmidi.common_status", "rtpmidi.channel_status", "rtpmidi.deltatime_1", "rtpmidi.unknown_data")
	for i, row := range rows {
		m := messages[i]
		status, channel := "0xf0,0x"+hex.EncodeToString(m[len(m)-1:]), ""
		unknown := bytes.HasPrefix(m, []byte{0xF0, 0x7F}) && bytes.HasPrefix(m[3:], []byte{4, 5})
		switch {
		case m[0] == midi.EndOfSysEx:
			status, unknown = "0xf7"+status[4:], true
		case m[0] < midi.StartOfSysEx:
			status, channel = "", "0x0"+hex.EncodeToString(m[:1])[:1]
		}
		want := []string{"", status, channel, "", row[4]}
		if !unknown {
			want[4] = ""
		}
		if !slices.Equal(want, row) {
			all = append(all, midi.Hex(m[:min(len(m), 12)])+": "+strings.Join(row, "; "))
		}
	}
	return all
}

// So that a silence of tshark means something.
func TestTsharkComplainsOfWhatIsWrong(t *testing.T) {
	for name, m := range map[string][]byte{
		"an end that is missing":        {0xF0, 0x7D, 5, 0, 0x10, 0, 0, 9, 0x3A, 0x2D},
		"a status in the middle":        {0xF0, 0x7D, 5, 0, 0x90, 0, 0, 9, 0x3A, 0x2D, 0xF7},
		"a header that stops short":     {0xF0, 0x7E, 5, 7, 1, 0x7E, 0x42, 0xF7},
		"a control change of two bytes": {0xB0, 1},
		"a control change of four":      {0xB0, 1, 2, 3},
		"an undefined status":           {0xF5},
		"a segment without its end":     {0xF7, 1, 2},
	} {
		require.Len(t, complaints(t, [][]byte{m}), 1, name)
	}
	require.Empty(t, complaints(t, [][]byte{{0xB0, 1, 2}, {0xC0, 1}, {0xF0, 0x7D, 1, 0xF7}}))
}

const midoFileScript = `
import sys
try:
    import mido
except ImportError:
    print("no mido")
    sys.exit(0)
p = mido.Parser()
p.feed(open(sys.argv[1], "rb").read())
for m in p:
    print(m.hex())
`

// mido 1.2 knows no running status, which tap-loop's file has.
func TestMidoReadsTheFilesThatAreWritten(t *testing.T) {
	const python = "/usr/bin/python3"
	if _, err := os.Stat(python); err != nil {
		t.Skip("no python3")
	}
	for _, name := range []string{"five-line", "open-parameter", "two-by-three", "twin"} {
		t.Run(name, func(t *testing.T) {
			d, err := profiles.Shipped(name)
			require.NoError(t, err)
			path := filepath.Join(t.TempDir(), "slots.syx")
			file, err := fileport.Open(t.Context(), path)
			require.NoError(t, err)
			var want []string
			for slot := d.FirstSlot; slot < d.FirstSlot+5; slot++ {
				steps, err := d.PushSteps(d.Manners.FirstUnit, slot, randomSetting(rand.New(rand.NewPCG(83, uint64(slot))), d))
				require.NoError(t, err)
				for _, s := range steps {
					require.NoError(t, file.Send(t.Context(), s.Send))
					for _, m := range wholeMessages(s.Send) {
						want = append(want, midi.Hex(m))
					}
				}
			}
			require.NoError(t, file.Close())
			out, err := exec.Command(python, "-c", midoFileScript, path).Output()
			require.NoError(t, err)
			if strings.HasPrefix(string(out), "no mido") {
				t.Skip("python3 has no mido")
			}
			require.Equal(t, want, strings.Split(strings.TrimSpace(string(out)), "\n"))
		})
	}
}
