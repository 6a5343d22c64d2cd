package emulator

import (
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"
)

// The host is device 04, the unit device 00. A message goes to the device whose
// number stands after 7E. Handshakes: 7F ACK, 7E NAK, 7D CANCEL, 7C WAIT, 7B EOF
// (MIDI 1.0 Detailed Specification 4.2.1, File Dump and Table VIIa).
const (
	askMemory0 = "F0 7E 00 07 03 04 42 49 4E 20 4D 45 4D 30 30 F7" // "BIN ", "MEM00"
	askMemory3 = "F0 7E 00 07 03 04 42 49 4E 20 4D 45 4D 30 33 F7"
	// 32 bytes = 20 00 00 00, low 7 bits first.
	header0 = "F0 7E 04 07 01 00 42 49 4E 20 20 00 00 00 4D 45 4D 30 30 F7"
	// Of memory0 seven bytes become eight: first their top bits, the first byte's in
	// bit 6. 02 BC 03 C0 00 00 05: the 2nd and the 4th have one, 20h + 08h = 28h.
	// 78 03 98 …: the 3rd, 10h. 03 70 00 00 0A F0 03: the 6th, 02h. 48 … FF: the
	// 7th, 01h. Four zeros: 00. That is 4·8 + 5 = 37 bytes, less one 24h.
	packed0 = "28 02 3C 03 40 00 00 05 10 78 03 18 00 00 08 34 02 03 70 00 00 0A 70 03 01 48 00 00 00 3C 03 7F 00 00 00 00 00"
	// Exclusive or: 7E·04·07·02·00·24 = 5B; the groups 50, 4F, 08, 09, 00 make 1E; 45.
	packet0 = "F0 7E 04 07 02 00 24 " + packed0 + " 45 F7"

	hostACK    = "F0 7E 00 7F 00 F7"
	hostNAK    = "F0 7E 00 7E 00 F7"
	hostCANCEL = "F0 7E 00 7D 00 F7"
	hostWAIT   = "F0 7E 00 7C 00 F7"
	hostEOF    = "F0 7E 00 7B 00 F7"
	unitACK    = "F0 7E 04 7F 00 F7"
	unitNAK    = "F0 7E 04 7E 00 F7"
	unitCANCEL = "F0 7E 04 7D 00 F7"
	unitWAIT   = "F0 7E 04 7C 00 F7"
	unitEOF    = "F0 7E 04 7B 00 F7"

	toMemory3 = "F0 7E 00 07 01 04 42 49 4E 20 20 00 00 00 4D 45 4D 30 33 F7"
	// packet0 to device 00: 45 with the 04 taken out is 41.
	packetIn = "F0 7E 00 07 02 00 24 " + packed0 + " 41 F7"
)

// soon is long enough for the longest message, and no time-out.
const soon = 19 * time.Millisecond

// talk sends one message after another and wants those answers.
func (s *stand) talk(name string, turns ...[2]string) {
	s.t.Helper()
	for i, turn := range turns {
		s.arrive(turn[0])
		require.Equal(s.t, turn[1], s.pass(soon), "%s, turn %d", name, i+1)
	}
}

func TestAMemoryIsDumped(t *testing.T) {
	s := standing(t, "open-parameter", Options{})
	s.talk("with handshakes", [2]string{askMemory0, header0}, [2]string{hostACK, packet0}, [2]string{hostACK, unitEOF})
	require.Empty(t, s.ask(hostACK), "it is over")
	require.Empty(t, s.pass(time.Minute))
}

func TestAMemoryIsDumpedToWhoeverListens(t *testing.T) {
	// Without an answer a sender goes on: 200 ms after a header, 50 ms after a packet.
	s := standing(t, "open-parameter", Options{})
	s.arrive(askMemory0)
	// 16 bytes are read by 15 · 0.32 = 4.8 ms; 20 take 6.4, 46 take 14.72, 6 take 1.92.
	require.Empty(t, s.pass(11200*time.Microsecond-1))
	require.Equal(t, header0, s.pass(1))
	require.Empty(t, s.pass(214720*time.Microsecond-1))
	require.Equal(t, packet0, s.pass(1))
	require.Empty(t, s.pass(51920*time.Microsecond-1))
	require.Equal(t, unitEOF, s.pass(1))
	require.Empty(t, s.pass(time.Minute))
}

func TestHandshakesWhileAMemoryIsDumped(t *testing.T) {
	ask := [2]string{askMemory0, header0}
	packet := [2]string{hostACK, packet0}
	again := [2]string{hostNAK, packet0}
	end := [2]string{hostACK, unitEOF}
	for _, c := range []struct {
		name  string
		turns [][2]string
	}{
		{"a packet is wanted again", [][2]string{ask, packet, again, again, end}},
		{"the third time it gives up", [][2]string{ask, packet, again, again, {hostNAK, unitCANCEL}, {hostACK, ""}}},
		{"the header again", [][2]string{ask, {hostNAK, header0}, {hostNAK, header0}, packet, end}},
		{"the header once too often", [][2]string{ask, {hostNAK, header0}, {hostNAK, header0}, {hostNAK, unitCANCEL}, {hostACK, ""}}},
		{"cancelled at the header", [][2]string{ask, {hostCANCEL, ""}, {hostACK, ""}}},
		{"cancelled at the packet", [][2]string{ask, packet, {"F0 7E 00 7D 55 F7", ""}, {hostACK, ""}}},
		{"told to wait, then on", [][2]string{ask, packet, {hostWAIT, ""}, {"33", ""}, {"33", ""}, {"33", ""}, end}},
		{"an answer to another packet", [][2]string{ask, packet, {"F0 7E 00 7F 05 F7", ""}, end}},
		{"the header takes any number", [][2]string{ask, {"F0 7E 00 7F 05 F7", packet0}, end}},
		{"an answer to another unit", [][2]string{ask, {"F0 7E 01 7D 00 F7", ""}, packet, end}},
		{"asked again in the middle", [][2]string{ask, packet, ask, packet, end}},
		{"nothing was asked", [][2]string{{hostACK, ""}, {hostNAK, ""}, {hostWAIT, ""}, {hostCANCEL, ""}, {hostEOF, ""}}},
		{"to all units", [][2]string{{strings.Replace(askMemory0, "7E 00", "7E 7F", 1), header0}, {hostCANCEL, ""}}},
		{"to another unit", [][2]string{{strings.Replace(askMemory0, "7E 00", "7E 01", 1), ""}}},
	} {
		standing(t, "open-parameter", Options{}).talk(c.name, c.turns...)
	}
}

func TestWaitingHasAnEnd(t *testing.T) {
	s := standing(t, "open-parameter", Options{})
	s.talk("", [2]string{askMemory0, header0}, [2]string{hostACK, packet0}, [2]string{hostWAIT, ""})
	require.Empty(t, s.pass(59*time.Second))
	require.Equal(t, unitCANCEL, s.pass(2*time.Second))
	require.Empty(t, s.ask(hostACK))
}

func TestFilesThatAreNotThere(t *testing.T) {
	for name, file := range map[string]string{
		"MEM16":           "42 49 4E 20 4D 45 4D 31 36",
		"MEM99":           "42 49 4E 20 4D 45 4D 39 39",
		"MEM3":            "42 49 4E 20 4D 45 4D 33",
		"MEM003":          "42 49 4E 20 4D 45 4D 30 30 33",
		"MEM0: and MEM/9": "42 49 4E 20 4D 45 4D 30 3A",
		"a digit below":   "42 49 4E 20 4D 45 4D 2F 39",
		"mem00":           "42 49 4E 20 6D 65 6D 30 30",
		"a text":          "54 45 58 54 4D 45 4D 30 30",
		"no name":         "42 49 4E 20",
		"half a type":     "42 49",
	} {
		s := standing(t, "open-parameter", Options{})
		s.talk(name, [2]string{"F0 7E 00 07 03 04 " + file + " F7", unitCANCEL}, [2]string{hostACK, ""})
		if len(file) > 11 {
			s.talk(name, [2]string{"F0 7E 00 07 01 04 " + file[:11] + " 20 00 00 00" + file[11:] + " F7", unitCANCEL}, [2]string{packetIn, ""})
		}
	}
	s := standing(t, "open-parameter", Options{})
	s.talk("cut short", [2]string{"F0 7E 00 07 03 F7", ""}, [2]string{"F0 7E 00 07 01 04 42 49 4E 20 20 00 00 F7", ""}, [2]string{"F0 7E 00 07 F7", ""})
}

func TestAMemoryIsOverwritten(t *testing.T) {
	s := standing(t, "open-parameter", Options{})
	sounds, old := s.codes(EditBuffer), s.codes(3)
	s.ask("F0 7F 00 04 05 01 01 02 02 01 00 3A 09 F7")
	sounds["tap 1 time"] = 1210
	s.talk("", [2]string{toMemory3, unitACK}, [2]string{packetIn, unitACK})
	require.Equal(t, old, s.codes(3), "the end has not come")
	s.talk("", [2]string{hostEOF, ""})
	b, err := s.Memory(3)
	require.NoError(t, err)
	require.Equal(t, memory0, toHex(b))
	require.Equal(t, sounds, s.codes(EditBuffer), "what sounds stays")
	s.ask("C0 03")
	require.Equal(t, s.codes(0), s.codes(EditBuffer))
	s.talk("and is dumped so", [2]string{askMemory3, strings.Replace(header0, "30 30 F7", "30 33 F7", 1)}, [2]string{hostACK, packet0})
}

func TestDumpsThatComeIn(t *testing.T) {
	begin, end := [2]string{toMemory3, unitACK}, [2]string{hostEOF, ""}
	good := [2]string{packetIn, unitACK}
	bad := [2]string{strings.Replace(packetIn, " 41 F7", " 42 F7", 1), unitNAK}
	// The first 28 bytes: 7E·00·07·02·00·1F = 64, with 1E 7A. Four zeros, five bytes
	// packed: 7E·00·07·02·01·04 = 7E.
	const firstPart = "F0 7E 00 07 02 00 1F 28 02 3C 03 40 00 00 05 10 78 03 18 00 00 08 34 02 03 70 00 00 0A 70 03 01 48 00 00 00 3C 03 7F 7A F7"
	const secondPart = "F0 7E 00 07 02 01 04 00 00 00 00 00 7E F7"
	for _, c := range []struct {
		name    string
		turns   [][2]string
		written bool
	}{
		{"in two packets", [][2]string{begin, {firstPart, unitACK}, {secondPart, "F0 7E 04 7F 01 F7"}, end}, true},
		{"of a length not yet known", [][2]string{{strings.Replace(toMemory3, " 20 00 00 00 ", " 00 00 00 00 ", 1), unitACK}, good, end}, true},
		{"of 33 bytes", [][2]string{{strings.Replace(toMemory3, " 20 00 00 00 ", " 21 00 00 00 ", 1), unitCANCEL}, {packetIn, ""}, end}, false},
		{"of 32 + 128 bytes", [][2]string{{strings.Replace(toMemory3, " 20 00 00 00 ", " 20 01 00 00 ", 1), unitCANCEL}, {packetIn, ""}, end}, false},
		{"damaged, then whole", [][2]string{begin, bad, bad, good, end}, true},
		{"damaged three times", [][2]string{begin, bad, bad, {bad[0], unitCANCEL}, {packetIn, ""}, end}, false},
		{"a packet too short for its count", [][2]string{begin, {strings.Replace(packetIn, " 00 00 41 F7", " 00 41 F7", 1), unitNAK}, good, end}, true},
		{"a packet without anything", [][2]string{begin, {"F0 7E 00 07 02 00 7B F7", unitNAK}, {"F0 7E 00 07 02 F7", unitNAK}, good, end}, true},
		// One packed byte holds nothing: 7E·00·07·02·00·00 = 7B.
		{"top bits of no byte", [][2]string{begin, {"F0 7E 00 07 02 00 00 00 7B F7", unitNAK}, good, end}, true},
		{"the second packet first", [][2]string{begin, {secondPart, unitCANCEL}, {packetIn, ""}, end}, false},
		{"the first packet twice", [][2]string{begin, {firstPart, unitACK}, {firstPart, "F0 7E 04 7D 01 F7"}, end}, false},
		// 7E·00·07·02·01·24 = 5E, with 1E 40.
		{"too much", [][2]string{begin, {firstPart, unitACK}, {"F0 7E 00 07 02 01 24 " + packed0 + " 40 F7", "F0 7E 04 7D 01 F7"}, end}, false},
		{"too little", [][2]string{begin, {firstPart, unitACK}, end}, false},
		{"no packet", [][2]string{begin, end}, false},
		{"no end", [][2]string{begin, good}, false},
		{"cancelled", [][2]string{begin, good, {hostCANCEL, ""}, end}, false},
		{"no beginning", [][2]string{{packetIn, ""}, end}, false},
		{"begun again", [][2]string{begin, {firstPart, unitACK}, begin, good, end}, true},
		{"a question in the middle ends it", [][2]string{begin, good, {askMemory0, header0}, {hostCANCEL, ""}, end}, false},
		{"other messages in the middle do not", [][2]string{begin, {"C0 03", ""}, good, {"F0 7E 00 06 01 F7", "F0 7E 00 06 02 7D 06 00 01 00 01 00 00 00 F7"}, end}, true},
	} {
		s := standing(t, "open-parameter", Options{})
		old := s.codes(3)
		s.talk(c.name, c.turns...)
		if c.written {
			old = s.codes(0)
		}
		require.Equal(t, old, s.codes(3), c.name)
	}
}

func TestAMemoryWithWrongCodesIsCancelled(t *testing.T) {
	// Packets of the unit's own making here: their form is proved above.
	for at, b := range map[int]byte{0: 0x40, 2: 0x04, 4: 0x02, 5: 0x01, 31: 0x01} {
		m := fromHex(t, memory0)
		m[at] = b
		s := standing(t, "open-parameter", Options{})
		old := s.codes(3)
		s.talk("", [2]string{toMemory3, unitACK}, [2]string{toHex(packetOf(0, 0, m)), unitCANCEL}, [2]string{hostEOF, ""})
		require.Equal(t, old, s.codes(3), "byte %d", at)
	}
}

func TestADumpThatStopsIsForgotten(t *testing.T) {
	for wait, answer := range map[time.Duration]string{2*time.Second - 100*time.Millisecond: unitACK, 2 * time.Second: ""} {
		s := standing(t, "open-parameter", Options{})
		s.talk("", [2]string{toMemory3, unitACK})
		s.pass(wait)
		s.talk("", [2]string{packetIn, answer})
	}
}

func TestFaultsOfAFileDump(t *testing.T) {
	type turns = [][2]string
	begin, end := [2]string{toMemory3, unitACK}, [2]string{hostEOF, ""}
	for _, c := range []struct {
		name    string
		faults  Faults
		turns   turns
		written bool
	}{
		{"refused", Faults{RefuseValues: 1}, turns{begin, {packetIn, unitCANCEL}, end}, false},
		{"only the second is refused", Faults{RefuseValues: 2}, turns{begin, {packetIn, unitACK}, end}, true},
		{"not written", Faults{FalseStore: 1}, turns{begin, {packetIn, unitACK}, end}, false},
		{"dead after the header", Faults{DieAfter: 1}, turns{begin, {packetIn, ""}, end}, false},
		{"a packet goes by unheard", Faults{IgnoreMessage: 2}, turns{begin, {packetIn, ""}, {packetIn, unitACK}, end}, true},
		{"a byte is lost", Faults{LoseByte: 30}, turns{begin, {packetIn, unitNAK}, {packetIn, unitACK}, end}, true},
		{"the answer is lost", Faults{LoseAnswer: 2}, turns{begin, {packetIn, ""}, end}, true},
		{"nothing is said", Faults{Mute: true}, turns{{toMemory3, ""}, {packetIn, ""}, end}, true},
		{"twice", Faults{DoubleAnswer: 2}, turns{begin, {packetIn, unitACK + " " + unitACK}, end}, true},
		// 7F to 7E: it reads as NAK.
		{"corrupted", Faults{CorruptAnswer: 2}, turns{begin, {packetIn, unitNAK}, end}, true},
	} {
		s := standing(t, "open-parameter", Options{Faults: c.faults})
		old := s.codes(3)
		s.talk(c.name, c.turns...)
		if c.written {
			old = s.codes(0)
		}
		require.Equal(t, old, s.codes(3), c.name)
	}
}

func TestACorruptedPacketIsWholeWhenItIsSentAgain(t *testing.T) {
	s := standing(t, "open-parameter", Options{Faults: Faults{CorruptAnswer: 2}})
	// The lowest bit of the last byte before the checksum.
	s.talk("", [2]string{askMemory0, header0}, [2]string{hostACK, strings.Replace(packet0, " 00 45 F7", " 01 45 F7", 1)},
		[2]string{hostNAK, packet0}, [2]string{hostACK, unitEOF})
}

func TestASlowUnitAsksToWait(t *testing.T) {
	s := standing(t, "open-parameter", Options{Faults: Faults{LongWrite: 3 * time.Second}})
	s.talk("", [2]string{toMemory3, unitACK}, [2]string{packetIn, unitWAIT}, [2]string{packetIn, ""})
	require.Empty(t, s.pass(2*time.Second))
	require.Equal(t, unitACK, s.pass(time.Second))
	s.talk("", [2]string{hostEOF, ""})
	require.Equal(t, s.codes(0), s.codes(3))
}
