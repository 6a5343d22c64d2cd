package emulator

import (
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"
)

// A byte takes 10 bits at 31 250 a second: 320 µs (MIDI 1.0 Detailed
// Specification 4.2.1, Hardware). Bytes handed over together are read at 0, 320,
// 640 µs and so on.

const (
	askTime = "F0 7D 05 00 11 00 00 6F F7"       // 9 bytes: the last is read after 2.56 ms
	told    = "F0 7D 05 00 12 00 00 08 4C 1A F7" // slot 0: 1100 = 8·128 + 76; 12+08+4C = 66h
)

func TestAnAnswerTakesItsTimeOnTheWire(t *testing.T) {
	b := onBench(t, Options{})
	b.arrive(askTime)
	// 2.56 ms to read, 11 · 0.32 = 3.52 ms to answer.
	require.Empty(t, b.pass(6080*time.Microsecond-1))
	require.Equal(t, told, b.pass(1))
}

func TestAFlashWriteIsAcknowledgedWhenItIsDone(t *testing.T) {
	for _, c := range []struct {
		flash, done time.Duration
	}{
		// 118 bytes are read in 117 · 0.32 = 37.44 ms, the acknowledge's 8 take 2.56 ms.
		{0, 290 * time.Millisecond}, // 250 ms unless said otherwise
		{300 * time.Millisecond, 340 * time.Millisecond},
		{time.Millisecond, 41 * time.Millisecond},
	} {
		b := onBench(t, Options{FlashWrite: c.flash})
		old, now := b.slots[5], b.slots[9]
		b.arrive(overwrite(5, now))
		require.Empty(t, b.pass(c.done-2560*time.Microsecond-1))
		require.Equal(t, old, b.slots[5], "not yet written")
		require.Empty(t, b.pass(2560*time.Microsecond))
		require.Equal(t, now, b.slots[5])
		require.Equal(t, "F0 7D 05 00 7F 22 5F F7", b.pass(1), "flash write of %v", c.flash)
	}
}

func TestBusyDuringAFlashWrite(t *testing.T) {
	b := onBench(t, Options{})
	b.arrive("F0 7D 05 00 30 02 4E F7") // read after 2.24 ms, done at 252.24
	b.pass(10 * time.Millisecond)
	// 7E+11+06 = 95h, 6Bh.
	b.arrive(askTime)
	require.Equal(t, "F0 7D 05 00 7E 11 06 6B F7", b.pass(90*time.Millisecond))
	b.arrive("F0 7E 00 06 01 F7")
	require.Equal(t, "F0 7E 00 06 02 7D 05 00 01 00 01 00 00 00 F7", b.pass(100*time.Millisecond))
	// At 249.68 ms the last byte would be read at 252.24: the write is done by then.
	b.pass(49680 * time.Microsecond)
	b.arrive(askTime)
	require.Equal(t, "F0 7D 05 00 7F 30 51 F7 "+told, b.pass(time.Second))
}

func TestAMessageThatEndsJustBeforeTheWriteIsDoneFindsItBusy(t *testing.T) {
	b := onBench(t, Options{})
	b.arrive("F0 7D 05 00 30 02 4E F7")
	b.pass(249680*time.Microsecond - 1)
	b.arrive(askTime)
	// The acknowledge waits for the answer before it to leave the wire.
	require.Equal(t, "F0 7D 05 00 7E 11 06 6B F7 F0 7D 05 00 7F 30 51 F7", b.pass(time.Second))
}

func TestA22SentAgainTooEarlyIsBusyThenAcknowledged(t *testing.T) {
	b := onBench(t, Options{})
	again := overwrite(5, b.slots[9])
	b.arrive(again)
	b.pass(100 * time.Millisecond)
	b.arrive(again)
	// 7E+22+06 = A6h, 5Ah: then the first one's acknowledge, which names the command alone.
	require.Equal(t, "F0 7D 05 00 7E 22 06 5A F7 F0 7D 05 00 7F 22 5F F7", b.pass(time.Second))
	require.Equal(t, b.slots[9], b.slots[5])
}

func TestWithoutItsSilenceAMessageIsLost(t *testing.T) {
	for _, c := range []struct {
		name   string
		wait   time.Duration // from the last byte of one message to the first of the next
		first  string
		option time.Duration
		want   string
	}{
		{"just too early", 4*time.Millisecond - 1, askTime, 0, ""},
		{"just in time", 4 * time.Millisecond, askTime, 0, told},
		{"a shorter silence was asked for", time.Millisecond, askTime, time.Millisecond, told},
		{"a message for another unit needs none", time.Millisecond, "F0 7D 05 01 11 00 00 6F F7", 0, told},
		{"nor does one that was broken off", time.Millisecond, "F0 7D 05 00 11 00 00 90 40", 0, told},
		{"a message without an answer does", time.Millisecond, "F0 7D 05 00 13 00 00 6D F7", 0, ""},
	} {
		b := onBench(t, Options{Silence: c.option})
		b.arrive(c.first)
		b.pass(8*byteTime + c.wait) // 9 bytes each
		b.out.waiting = nil
		b.arrive(askTime)
		require.Equal(t, c.want, b.pass(time.Second), c.name)
	}
}

func TestALostMessageDoesNotLengthenTheSilence(t *testing.T) {
	b := onBench(t, Options{})
	b.arrive(askTime)
	b.pass(8*byteTime + time.Millisecond)
	b.arrive(askTime) // lost; its last byte comes 3.56 ms after the first one's
	b.pass(4 * time.Millisecond)
	b.arrive(askTime)
	require.Equal(t, told, b.pass(time.Second))
}

func TestTheInputBufferHolds256Bytes(t *testing.T) {
	for _, c := range []struct {
		name  string
		stray int
		want  string
	}{
		{"247 stray bytes and 9 fit", 247, told},
		{"of 257 the last is lost, and with it the message", 248, ""},
	} {
		b := onBench(t, Options{})
		b.arrive(strings.Repeat("33 ", c.stray) + askTime)
		require.Equal(t, c.want, b.pass(time.Second), c.name)
		require.Equal(t, told, b.ask(askTime), "%s: and nothing else is hurt", c.name)
	}
}

func TestBytesMayComeAtWireSpeedAndNoFaster(t *testing.T) {
	for _, c := range []struct {
		name string
		each time.Duration
		want string
	}{
		{"at wire speed for ever", byteTime, told},
		{"one part in five faster", byteTime * 4 / 5, ""}, // 2000 bytes in 512 ms, 1600 read, 256 waiting
	} {
		b := onBench(t, Options{})
		for range 2000 {
			b.arrive("33")
			b.pass(c.each)
		}
		b.arrive(askTime)
		require.Equal(t, c.want, b.pass(time.Second), c.name)
	}
}

func TestAnswersBeyondSixteenAreLost(t *testing.T) {
	b := onBench(t, Options{})
	// A slot's answer takes 38 ms, its question 2.56 ms and the silence.
	for range 40 {
		b.arrive("F0 7D 05 00 20 00 60 F7")
		b.pass(8*byteTime + 4*time.Millisecond)
		require.LessOrEqual(t, len(b.out.waiting), maxAnswers)
	}
	b.pass(time.Second)
	require.Equal(t, told, b.ask(askTime), "it answers again when they are out")
}

func TestNextTellsWhenToComeBack(t *testing.T) {
	b := onBench(t, Options{})
	_, ok := b.Next()
	require.False(t, ok, "nothing to do")
	b.arrive("F0 7D 05 00 30 02 4E F7")
	steps := 0
	for {
		next, ok := b.Next()
		if !ok {
			break
		}
		if next.After(b.now) {
			b.now = next
		}
		if pieces := b.Run(b.now); len(pieces) > 0 {
			require.Equal(t, "F0 7D 05 00 7F 30 51 F7", toHex(pieces[0]))
		}
		steps++
	}
	require.Equal(t, 8+1+1, steps, "eight bytes, the flash write, the answer")
	require.Equal(t, 254800*time.Microsecond, b.now.Sub(time.Date(2026, 3, 14, 9, 0, 0, 0, time.UTC)), "2.24 + 250 + 2.56 ms")
}

func TestNextIsNowWhileAnAnswerLiesReady(t *testing.T) {
	b := onBench(t, Options{})
	b.arrive(askTime)
	b.now = b.now.Add(time.Second)
	b.arrive("33") // the unit works up to this moment, and nobody has taken its answer
	next, ok := b.Next()
	require.True(t, ok)
	require.False(t, next.After(b.now))
	require.Equal(t, told, b.pass(0))
}

func TestLongMessages(t *testing.T) {
	zeros := func(n int) string { return strings.Repeat("00 ", n) }
	for _, c := range []struct {
		name, message, want string
	}{
		// F0 and F7 do not count; 7D 05 00 20 and the checksum do. 7E+20+01 = 9Fh, 61h.
		{"256 bytes, a wrong checksum", "F0 7D 05 00 20 " + zeros(251) + "01 F7", "F0 7D 05 00 7E 20 01 61 F7"},
		{"256 bytes, a right one: the length is wrong", "F0 7D 05 00 20 " + zeros(251) + "60 F7", ""},
		{"257 bytes", "F0 7D 05 00 20 " + zeros(252) + "01 F7", ""},
	} {
		b := onBench(t, Options{})
		got := ""
		for _, one := range strings.Fields(c.message) {
			b.arrive(one)
			got += b.pass(byteTime)
		}
		require.Equal(t, c.want, got+b.pass(time.Second), c.name)
		require.Equal(t, told, b.ask(askTime), c.name)
	}
}
