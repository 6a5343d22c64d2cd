package emulator

import (
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"
)

const (
	load       = "F0 7D 05 00 31 01 4E F7"
	loaded     = "F0 7D 05 00 7F 31 50 F7"
	setTime    = "F0 7D 05 00 10 00 00 09 3A 2D F7" // 121.0 ms
	setDone    = "F0 7D 05 00 7F 10 71 F7"
	setRefused = "F0 7D 05 00 7E 10 03 6F F7"
)

func TestFaultsOfTheAnswers(t *testing.T) {
	for _, c := range []struct {
		name   string
		faults Faults
		first  string
		second string
	}{
		{"health", Faults{}, loaded, loaded},
		{"the second is lost", Faults{LoseAnswer: 2}, loaded, ""},
		{"each is lost", Faults{LoseAnswer: Every}, "", ""},
		{"none ever comes", Faults{Mute: true}, "", ""},
		{"the first is corrupted: 31h to 30h", Faults{CorruptAnswer: 1}, "F0 7D 05 00 7F 30 50 F7", loaded},
		{"the second is doubled", Faults{DoubleAnswer: 2}, loaded, loaded + " " + loaded},
		{"the first is late: it comes with the second", Faults{LateAnswer: 1, LateBy: 1500 * time.Millisecond}, "", loaded + " " + loaded},
		{
			"rubbish", Faults{Rubbish: 1},
			"55 2A F0 7D 7F 33 F0 F8 FE 7D 05 00 F8 FE 7F 31 50 F8 FE F7", loaded,
		},
	} {
		b := onBench(t, Options{Faults: c.faults})
		require.Equal(t, c.first, b.ask(load), c.name)
		require.Equal(t, b.slots[1], b.edit, "%s: what is done is done", c.name)
		require.Equal(t, c.second, b.ask(load), c.name)
	}
}

func TestALateAnswerLetsLaterOnesPass(t *testing.T) {
	b := onBench(t, Options{Faults: Faults{LateAnswer: 1, LateBy: 100 * time.Millisecond}})
	b.arrive(load)
	b.pass(10 * time.Millisecond)
	b.arrive(setTime)
	require.Equal(t, setDone+" "+loaded, b.pass(time.Second))
}

func TestSingleBytesKeepWireSpeed(t *testing.T) {
	b := onBench(t, Options{Faults: Faults{SingleBytes: true}})
	b.arrive(load) // read after 2.24 ms
	b.pass(2240 * time.Microsecond)
	for i := range 8 {
		require.Empty(t, b.Run(b.now.Add(byteTime-1)))
		b.now = b.now.Add(byteTime)
		require.Equal(t, [][]byte{fromHex(t, loaded)[i : i+1]}, b.Run(b.now), "byte %d", i)
	}
}

func TestAValueIsRefused(t *testing.T) {
	b := onBench(t, Options{Faults: Faults{RefuseValues: 2}})
	require.Equal(t, setDone, b.ask(setTime))
	require.Equal(t, loaded, b.ask(load), "a message without values does not count")
	require.Equal(t, setRefused, b.ask("F0 7D 05 00 10 00 00 7D 01 72 F7"), "nor does one that is refused anyway")
	require.Equal(t, "F0 7D 05 00 7E 22 03 5D F7", b.ask(overwrite(5, b.slots[9]))) // 7E+22+03 = A3h
	require.NotEqual(t, b.slots[9], b.slots[5])
	require.Equal(t, setDone, b.ask(setTime), "only the second")

	b = onBench(t, Options{Faults: Faults{RefuseValues: 1}})
	require.Equal(t, setRefused, b.ask(setTime))
	require.Equal(t, 1100, b.code(0x00))
}

func TestAStoreThatIsNotMade(t *testing.T) {
	b := onBench(t, Options{Faults: Faults{FalseStore: 1}})
	before := b.slots[5]
	require.Equal(t, framed(0x7F, 0x22), b.ask(overwrite(5, b.slots[9])))
	require.Equal(t, before, b.slots[5])
	require.Equal(t, framed(0x7F, 0x30), b.ask(framed(0x30, 5)))
	require.Equal(t, b.slots[0], b.slots[5], "the second one is made")
}

func TestALongWrite(t *testing.T) {
	b := onBench(t, Options{Faults: Faults{LongWrite: time.Minute}})
	b.ask(framed(0x30, 5))
	for range 58 {
		require.Equal(t, framed(0x7E, 0x31, 0x06), b.ask(load))
	}
	require.Equal(t, framed(0x7F, 0x30), b.pass(2*time.Second))
	require.Equal(t, loaded, b.ask(load))
}

func TestParametersThatStayWithoutAWord(t *testing.T) {
	b := onBench(t, Options{Faults: Faults{Keep: []int{0x00, 0x24}}})
	require.Equal(t, setDone, b.ask(setTime))
	require.Equal(t, 1100, b.code(0x00))
	require.Equal(t, setDone, b.ask(framed(0x10, 0, 1, 0, 50)))
	require.Equal(t, 50, b.code(0x01), "another address is set")

	want := b.slots[9]
	old := b.slots[5].line(0)
	require.Equal(t, framed(0x7F, 0x22), b.ask(overwrite(5, want)))
	got := b.slots[5]
	require.Equal(t, old.time, got.line(0).time)
	require.Zero(t, crc16(got[:]), "its CRC is right all the same")
	changed := want.line(0)
	changed.time = old.time
	require.Equal(t, changed, got.line(0))

	// Slot 0: D hears C. With C's source kept at the input, a sound in which C hears D is
	// still no loop, as C goes on hearing the input.
	looped := want
	looped.setLine(2, line{source: 4, highCut: 31})
	looped.setLine(3, line{source: 0, highCut: 31})
	require.Equal(t, framed(0x7F, 0x22), b.ask(overwrite(0, looped)))
	require.Equal(t, 0, b.slots[0].line(2).source)
}

func TestAKeptSourceNeverMakesALoop(t *testing.T) {
	b := onBench(t, Options{Faults: Faults{Keep: []int{0x34}}}) // D's source: C in slot 0
	m := b.slots[9]
	m.setLine(2, line{source: 4, highCut: 31}) // C hears D, D would hear the input
	require.Equal(t, framed(0x7E, 0x22, 0x04), b.ask(overwrite(0, m)))
	require.NotEmpty(t, b.echoes(0))
}

func TestDeathAfterSomeMessages(t *testing.T) {
	b := onBench(t, Options{Faults: Faults{DieAfter: 2}})
	require.Equal(t, loaded, b.ask(load))
	require.Empty(t, b.ask("F0 7D 05 01 31 01 4E F7"), "for another unit: does not count")
	require.Equal(t, setDone, b.ask(setTime))
	require.Empty(t, b.ask(load))
	require.Empty(t, b.ask("F0 7E 7F 06 01 F7"))
	require.Equal(t, 1210, b.code(0x00), "nor does it obey")
}

func TestAWrongIdentity(t *testing.T) {
	b := onBench(t, Options{Faults: Faults{WrongIdentity: true}})
	require.Equal(t, "F0 7E 00 06 02 7D 07 00 01 00 01 00 00 00 F7", b.ask("F0 7E 00 06 01 F7"))
}

func TestOptionsThatCannotBe(t *testing.T) {
	for _, c := range []struct {
		name    string
		unit    string
		options Options
		says    string
	}{
		{"an unknown unit", "six-line", Options{}, `no emulator for "six-line"; there is one for: five-line, tap-loop, twin, open-parameter`},
		{"unit number", "five-line", Options{Unit: 16}, "unit number 16: must lie from 0 to 15"},
		{"negative unit number", "five-line", Options{Unit: -1}, "unit number -1"},
		{"flash write", "five-line", Options{FlashWrite: time.Second}, "flash write of 1s: takes up to 300ms"},
		{"channel", "twin", Options{Channel: 17}, "channel 17: must lie from 1 to 16"},
		{"a switch that it has not", "tap-loop", Options{WriteProtected: true}, "it has no switch for that"},
		{"the time to store", "twin", Options{FlashWrite: 201 * time.Millisecond}, "takes up to 200ms"},
		{"addresses that it has not", "twin", Options{Faults: Faults{Keep: []int{0}}}, "it has none"},
		{"silence", "five-line", Options{Silence: -1}, "must not be negative"},
		{"fault", "five-line", Options{Faults: Faults{LateBy: -1}}, "none may be negative"},
		{"kept address", "five-line", Options{Faults: Faults{Keep: []int{0x07}}}, "keep address 07h: the unit has no such parameter"},
	} {
		_, err := New(c.unit, c.options)
		require.ErrorContains(t, err, c.says, c.name)
	}
	require.Equal(t, "five-line tap-loop twin open-parameter", strings.Join(Names(), " "))
}

func TestAWriteIsRefused(t *testing.T) {
	b := onBench(t, Options{Faults: Faults{RefuseWrites: 2}})
	require.Equal(t, framed(0x7F, 0x30), b.ask(framed(0x30, 5)))
	before := b.slots
	require.Equal(t, framed(0x7E, 0x22, 0x05), b.ask(overwrite(6, b.slots[9])), "the second one, as with write protection")
	require.Equal(t, before, b.slots)
	require.Equal(t, framed(0x7F, 0x22), b.ask(overwrite(6, b.slots[9])))

	s := standing(t, "open-parameter", Options{Faults: Faults{RefuseWrites: 1}})
	s.talk("a dump", [2]string{toMemory3, unitCANCEL}, [2]string{packetIn, ""}, [2]string{toMemory3, unitACK})

	for _, c := range []struct {
		unit    string
		prepare string
		store   string
	}{
		{"tap-loop", "B0 10 05", "B0 77 05"},
		{"twin", "B0 54 05", "B0 76 7F"},
	} {
		s := standing(t, c.unit, Options{Faults: Faults{RefuseWrites: 1}})
		before := string(s.Image())
		s.ask(c.prepare)
		s.ask(c.store)
		require.Equal(t, before, string(s.Image()), c.unit)
		s.ask(c.store)
		require.NotEqual(t, before, string(s.Image()), "%s: only the first", c.unit)
	}
}

func TestAnOverflowingInput(t *testing.T) {
	// 118 bytes at wire speed, read at half of it: 59 have to wait in the end, and
	// find room for 48.
	faults := Faults{Buffer: 48, SlowReading: 2 * byteTime}
	for _, c := range []struct {
		name   string
		faults Faults
		want   string
	}{
		{"a small one", faults, ""},
		{"one just as large as is needed", Faults{Buffer: 60, SlowReading: 2 * byteTime}, framed(0x7F, 0x22)},
	} {
		b := onBench(t, Options{Faults: c.faults})
		for _, one := range fromHex(t, overwrite(5, b.slots[9])) {
			b.Arrive(b.now, []byte{one})
			require.Empty(t, b.pass(byteTime))
		}
		require.Equal(t, c.want, b.pass(time.Second), c.name)
	}
}

func TestParametersOfAMemoryThatStay(t *testing.T) {
	// packed0 is memory 0: each tap's time 700 times its number. Memory 3 keeps the
	// time of its tap 1, 700 + 3·180 = 1240, which is the first of its parameters.
	s := standing(t, "open-parameter", Options{Faults: Faults{Keep: []int{0}}})
	s.talk("a dump", [2]string{toMemory3, unitACK}, [2]string{packetIn, unitACK}, [2]string{hostEOF, ""})
	got, err := s.Sound(3)
	require.NoError(t, err)
	for name, want := range map[string]int{"tap 1 time": 1240, "tap 2 time": 1400, "feedback": 60} {
		code, err := got.Code(name)
		require.NoError(t, err)
		require.Equal(t, want, code, name)
	}
	s.ask("F0 7F 00 04 05 01 01 02 02 01 00 05 00 F7") // tap 1, time 5
	require.Equal(t, 700, s.code("tap 1 time"), "nor is it set while it sounds")

	for _, place := range []int{-1, 14} {
		_, err := New("open-parameter", Options{Faults: Faults{Keep: []int{place}}})
		require.ErrorContains(t, err, "the unit has no such parameter")
	}
}

func TestFaultsOutOfRange(t *testing.T) {
	for name, f := range map[string]Faults{
		"restart": {RebootFor: -1}, "buffer": {Buffer: -1}, "errors out": {BitErrorsOut: 1.5}, "errors in": {BitErrorsIn: -0.1},
	} {
		_, err := New("five-line", Options{Faults: f})
		require.ErrorContains(t, err, "emulator five-line: fault: ", name)
	}
}

// A handshake of File Dump that is corrupted becomes another one: 7F is ACK, 7E NAK.
func TestACorruptedHandshake(t *testing.T) {
	s := standing(t, "open-parameter", Options{Faults: Faults{CorruptAnswer: 1}})
	s.talk("a dump", [2]string{toMemory3, unitNAK}, [2]string{toMemory3, unitACK})
}
