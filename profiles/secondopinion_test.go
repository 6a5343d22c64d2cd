package profiles_test

import (
	"bytes"
	"encoding/binary"
	"fmt"
	"math/rand/v2"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"
	gomidi "gitlab.com/gomidi/midi/v2"

	"echowright/midi"
	"echowright/profiles"
)

// What our bytes mean is asked of programs that have nothing to do with this one.

// readers are those programs: each turns a stream into "channel controller value" and
// "channel program", channels counted from 0; the test is skipped where the
// program is not installed.
var readers = []struct {
	name string
	read func(t *testing.T, stream []byte) []string
}{
	{"gomidi", readByGomidi}, {"mido", readByMido}, {"tshark", readByTshark},
}

func readByGomidi(t *testing.T, stream []byte) []string {
	var all []string
	for _, m := range wholeMessages(stream) {
		var channel, a, b uint8
		switch message := gomidi.Message(m); {
		case message.GetControlChange(&channel, &a, &b):
			all = append(all, fmt.Sprintf("%d %d %d", channel, a, b))
		case message.GetProgramChange(&channel, &a):
			all = append(all, fmt.Sprintf("%d %d", channel, a))
		default:
			t.Fatalf("gomidi does not know % X", m)
		}
	}
	return all
}

func wholeMessages(stream []byte) [][]byte {
	var all [][]byte
	var f midi.Framer
	f.Feed(stream, func(m midi.Frame) { all = append(all, bytes.Clone(m.Bytes)) })
	return all
}

// mido 1.2 knows no running status: it gets every status written out.
const midoScript = `
import sys
try:
    import mido
except ImportError:
    print("no mido")
    sys.exit(0)
p = mido.Parser()
p.feed(bytes.fromhex(sys.stdin.read()))
for m in p:
    if m.type == "control_change":
        print(m.channel, m.control, m.value)
    elif m.type == "program_change":
        print(m.channel, m.program)
    else:
        print("?", m)
`

func readByMido(t *testing.T, stream []byte) []string {
	python := "/usr/bin/python3"
	if _, err := os.Stat(python); err != nil {
		t.Skip("no python3")
	}
	cmd := exec.Command(python, "-c", midoScript)
	cmd.Stdin = strings.NewReader(midi.Hex(bytes.Join(wholeMessages(stream), nil)))
	out, err := cmd.Output()
	require.NoError(t, err)
	if strings.HasPrefix(string(out), "no mido") {
		t.Skip("python3 has no mido")
	}
	return strings.Split(strings.TrimSpace(string(out)), "\n")
}

func readByTshark(t *testing.T, stream []byte) []string {
	rows := tshark(t, wholeMessages(stream), "rtpmidi.channel", "rtpmidi.controller", "rtpmidi.controller_value", "rtpmidi.program")
	var all []string
	for _, r := range rows {
		all = append(all, strings.TrimPrefix(strings.Join(strings.Fields(strings.Join(r, " ")), " "), "0x0"))
	}
	return all
}

// tshark dissects each message in an RTP packet of its own (RFC 6295).
func tshark(t *testing.T, messages [][]byte, fields ...string) [][]string {
	t.Helper()
	program, err := exec.LookPath("tshark")
	if err != nil {
		t.Skip("no tshark")
	}
	file := filepath.Join(t.TempDir(), "messages.pcap")
	require.NoError(t, os.WriteFile(file, captured(messages), 0o600))
	args := []string{"-r", file, "-d", "udp.port==5004,rtp", "-d", "rtp.pt==97,rtpmidi", "-T", "fields", "-E", "separator=/t"}
	for _, f := range fields {
		args = append(args, "-e", f)
	}
	out, err := exec.Command(program, args...).Output()
	require.NoError(t, err)
	var rows [][]string
	for line := range strings.Lines(string(out)) {
		rows = append(rows, strings.Split(strings.TrimSuffix(line, "\n"), "\t"))
	}
	require.Len(t, rows, len(messages))
	return rows
}

// captured is a capture file of IPv4 packets (link type 228) with one message each.
func captured(messages [][]byte) []byte {
	le, be := binary.LittleEndian, binary.BigEndian
	out := le.AppendUint32(nil, 0xA1B2C3D4)
	out = le.AppendUint16(le.AppendUint16(out, 2), 4)
	out = le.AppendUint64(out, 0)
	out = le.AppendUint32(le.AppendUint32(out, 65535), 228)
	for i, m := range messages {
		rtp := be.AppendUint16([]byte{0x80, 97}, uint16(i))
		rtp = be.AppendUint32(be.AppendUint32(rtp, uint32(i)), 1)
		if len(m) > 15 { // the length takes 12 bits, bit 7 says so
			rtp = append(rtp, 0x80|byte(len(m)>>8), byte(len(m)))
		} else {
			rtp = append(rtp, byte(len(m)))
		}
		rtp = append(rtp, m...)
		udp := be.AppendUint16(be.AppendUint16(nil, 5004), 5004)
		udp = append(be.AppendUint16(be.AppendUint16(udp, uint16(8+len(rtp))), 0), rtp...)
		ip := be.AppendUint16([]byte{0x45, 0}, uint16(20+len(udp)))
		ip = append(ip, 0, 0, 0, 0, 64, 17, 0, 0, 127, 0, 0, 1, 127, 0, 0, 1)
		ip = append(ip, udp...)
		out = le.AppendUint64(out, uint64(i))
		out = le.AppendUint32(le.AppendUint32(out, uint32(len(ip))), uint32(len(ip)))
		out = append(out, ip...)
	}
	return out
}

// receive does with controllers what the manuals of tap-loop and twin say.
func receive(t *testing.T, lines []string) map[string]int {
	t.Helper()
	got := map[string]int{}
	var values [128]int
	for _, line := range lines {
		var channel, number, value int
		if n, _ := fmt.Sscan(line, &channel, &number, &value); n < 3 {
			continue // a program
		}
		require.Equal(t, 1, channel, "channel 2")
		values[number] = value
		switch {
		case number == 38:
			got[fmt.Sprintf("tap-%d-time", values[98])] = values[6]*128 + value
			require.Equal(t, 1, values[99], "the high byte of the number")
		case number == 12 || number == 13:
			values[number+32] = 0
		case number == 44 || number == 45:
			got[fmt.Sprintf("line-%d-time", number-43)] = values[number-32]*128 + value
		case number >= 16 && number <= 23:
			got[fmt.Sprintf("tap-%d-level", number-16)] = value
		case number >= 102 && number <= 109:
			got[fmt.Sprintf("tap-%d-polarity", number-102)] = value
		default:
			name := map[int]string{
				85: "feedback", 86: "feedback-tap", 87: "high-cut", 88: "dry-level", 14: "line-1-clocked-time", 15: "line-2-clocked-time",
				80: "line-1-level", 81: "line-2-level", 82: "line-1-feedback", 83: "line-2-feedback", 84: "mix",
			}[number]
			if name != "" {
				got[name] = value
			}
		}
	}
	return got
}

func TestOthersReadTheSameInOurControllers(t *testing.T) {
	for _, reader := range readers {
		for _, name := range []string{"tap-loop", "twin"} {
			t.Run(reader.name+" "+name, func(t *testing.T) {
				d, err := profiles.Shipped(name)
				require.NoError(t, err)
				want := randomSetting(rand.New(rand.NewPCG(7, 9)), d)
				steps, err := d.PushSteps(2, 117, want)
				require.NoError(t, err)
				var stream []byte
				for _, s := range steps {
					stream = append(stream, s.Send...)
				}
				lines := reader.read(t, stream)
				got := receive(t, lines)
				for i, p := range d.Parameters {
					require.Equal(t, want.Codes[i], got[p.Name], p.Name)
				}
				if name == "twin" { // bank 1, program 17, and kept at the end
					require.Equal(t, []string{"1 0 0", "1 32 1", "1 17"}, lines[:3])
					require.Equal(t, "1 118 127", lines[len(lines)-1])
				} else {
					require.Equal(t, "1 119 117", lines[len(lines)-1])
				}
			})
		}
	}
}

// tshark takes File Dumps apart to the checksum, and Global Parameter Control as
// far as its two sub-numbers, 04 05.
func TestTsharkReadsTheSameInOurDumps(t *testing.T) {
	d, err := profiles.Shipped("open-parameter")
	require.NoError(t, err)
	steps, err := d.PushSteps(5, 12, randomSetting(rand.New(rand.NewPCG(8, 10)), d))
	require.NoError(t, err)
	reading, err := d.ReadSlot(5, 12)
	require.NoError(t, err)
	request, _ := reading.Next()
	set, err := d.SetStep(5, 0, 2500)
	require.NoError(t, err)
	fd := "rtpmidi.sysex_common_non_realtime_fd_"
	rows := tshark(t, [][]byte{request.Send, steps[0].Send, steps[1].Send, set.Send},
		"rtpmidi.sysex_common_device_id", fd+"type", fd+"name", fd+"length", fd+"packet_num", fd+"byte_count", fd+"checksum",
		"rtpmidi.sysex_common_realtime", "rtpmidi.sysex_common_realtime_dc")
	checksum := midi.XOR(steps[1].Send[1 : len(steps[1].Send)-2])
	require.Equal(t, [][]string{
		{"0x05", "BIN ", "MEM12", "", "", "", "", "", ""},
		{"0x05", "BIN ", "MEM12", "536870912", "", "", "", "", ""}, // the four bytes 20 00 00 00 as they stand: 32, low 7 bits first
		{"0x05", "", "", "", "0", "36", fmt.Sprintf("0x%02x", checksum), "", ""},
		{"0x05", "", "", "", "", "", "", "0x04", "0x05"},
	}, rows)
}
