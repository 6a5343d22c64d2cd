package emulator

import (
	"bytes"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"
)

// changed sends each hardware what makes a slot something else.
var changed = map[string][]string{
	fiveLineName:      {setTime, framed(0x30, 5)},
	tapLoopName:       {"B0 10 01 55 0C", "B0 77 05"},
	twinName:          {"B0 00 00", "C0 05", "B0 54 11", "B0 76 7F"},
	openParameterName: {toMemory3, packetIn, hostEOF},
}

func TestTheMemoryOutlivesTheUnit(t *testing.T) {
	for _, name := range Names() {
		var told [][]byte
		first := standing(t, name, Options{Written: func(image []byte) { told = append(told, image) }})
		factory := first.Image()
		for _, message := range changed[name] {
			first.ask(message)
		}
		image := first.Image()
		require.NotEqual(t, factory, image, name)
		require.Equal(t, [][]byte{image}, told, "%s: told once of one write", name)
		second := standing(t, name, Options{})
		require.NoError(t, second.SetImage(image), name)
		require.Equal(t, image, second.Image(), name)
		for slot := range first.Slots() {
			want, err := first.Sound(slot)
			require.NoError(t, err)
			got, err := second.Sound(slot)
			require.NoError(t, err)
			require.Equal(t, want.codes, got.codes, "%s: slot %d", name, slot)
			require.Equal(t, want.Bytes(), got.Bytes(), "%s: slot %d", name, slot)
		}
		sounds, err := second.Sound(EditBuffer)
		require.NoError(t, err)
		zero, err := second.Sound(0)
		require.NoError(t, err)
		require.Equal(t, zero.codes, sounds.codes, "%s: the first memory sounds at power-up", name)
	}
}

func TestAWriteIsToldOfBeforeItIsAcknowledged(t *testing.T) {
	var u *stand
	told := 0
	u = standing(t, fiveLineName, Options{Written: func([]byte) {
		told++
		require.Empty(t, u.left)
	}})
	u.arrive(framed(0x30, 5))
	require.Empty(t, u.pass(200*time.Millisecond))
	require.Zero(t, told, "a write takes 250 ms")
	require.Equal(t, framed(0x7F, 0x30), u.pass(time.Second))
	require.Equal(t, 1, told)
}

func TestImagesThatAreNone(t *testing.T) {
	line := func(slot int, with string) func([]string) {
		return func(lines []string) { lines[1+slot] = with }
	}
	code := func(slot, number int, with string) func([]string) {
		return func(lines []string) {
			words := strings.Split(lines[1+slot], " ")
			words[1+number] = with
			lines[1+slot] = strings.Join(words, " ")
		}
	}
	for _, c := range []struct {
		name, unit string
		spoil      func(lines []string)
		says       string
	}{
		{"another unit", fiveLineName, line(-1, "echowright-memory/1 twin"), `line 1: "echowright-memory/1 twin": must be "echowright-memory/1 five-line"`},
		{"a newer format", fiveLineName, line(-1, "echowright-memory/2 five-line"), "line 1"},
		{"a code short", fiveLineName, line(2, "2 17"), "line 4: slot 2: 2 numbers: its own and 51 codes are wanted"},
		{"another slot's number", fiveLineName, func(l []string) { l[2] = l[3] }, "line 3: slot 1: "},
		{"a word", fiveLineName, code(0, 0, "long"), `line 2: slot 0: line A time: "long" is no code`},
		{"a sign", fiveLineName, code(0, 0, "+5"), "that the unit does not have"},
		{"a time of its own", fiveLineName, code(3, 0, "16001"), "line 5: slot 3: there is a code"},
		{"two bytes where one is", fiveLineName, code(3, 1, "256"), "there is a code"},
		{"a line that hears itself", fiveLineName, code(3, 4, "1"), "a routing"},
		{"a level", tapLoopName, code(0, 1, "128"), "there is a code"},
		{"a time", tapLoopName, code(0, 0, "16384"), "there is a code"},
		{"a tap", tapLoopName, code(0, 25, "8"), "there is a code"},
		{"a negative time", twinName, code(0, 0, "-1"), "there is a code"},
		{"a note value", twinName, code(0, 3, "12"), "there is a code"},
		{"a level", openParameterName, code(0, 1, "1024"), "there is a code"},
		{"a wide negative one", openParameterName, code(0, 0, "-65530"), "there is a code"},
	} {
		u, err := New(c.unit, Options{})
		require.NoError(t, err)
		lines := strings.Split(strings.TrimSuffix(string(u.Image()), "\n"), "\n")
		c.spoil(lines)
		before := u.Image()
		err = u.SetImage([]byte(strings.Join(lines, "\n") + "\n"))
		require.ErrorContains(t, err, "emulator "+c.unit+": memory: ", c.name)
		require.ErrorContains(t, err, c.says, c.name)
		require.Equal(t, before, u.Image(), "%s: all or nothing", c.name)
	}
	u, err := New(twinName, Options{})
	require.NoError(t, err)
	require.ErrorContains(t, u.SetImage([]byte("echowright-memory/1 twin\n")), "0 slots where the unit has 200")
	require.ErrorContains(t, u.SetImage(nil), `line 1: ""`)
}

// Whatever stands in a file, there is an error or just that memory.
func FuzzImage(f *testing.F) {
	for _, name := range Names() {
		u, err := New(name, Options{})
		require.NoError(f, err)
		f.Add(name, u.Image())
	}
	f.Fuzz(func(t *testing.T, name string, image []byte) {
		u, err := New(name, Options{})
		if err != nil || u.SetImage(image) != nil {
			return
		}
		require.Equal(t, bytes.TrimSuffix(image, []byte("\n")), bytes.TrimSuffix(u.Image(), []byte("\n")))
	})
}
