package emulator

import (
	"testing"
	"testing/synctest"
	"time"

	"github.com/stretchr/testify/require"

	"echowright/preset"
)

// served runs a unit at the other end of a pipe, on the clock of a bubble.
func served(t *testing.T, name string, o Options, talk func(c *cable)) {
	t.Helper()
	synctest.Test(t, func(t *testing.T) {
		c := connected(t, name, o)
		talk(c)
		c.stop()
		require.NoError(t, <-c.ended)
	})
}

// codeIs looks at the unit while it is served.
func (c *cable) codeIs(name string, want int, why string) {
	c.t.Helper()
	code, err := c.unit.Code(name)
	require.NoError(c.t, err)
	require.Equal(c.t, want, code, why)
}

func TestTapLoopServed(t *testing.T) {
	served(t, "tap-loop", Options{USB: true}, func(c *cable) {
		c.send("B0 10 40")
		time.Sleep(640*time.Microsecond + time.Millisecond)
		c.send("B0 11 41")
		time.Sleep(time.Millisecond) // its last byte was read 0.36 ms ago
		c.send("B0 12 42")
		time.Sleep(10 * time.Millisecond)
		c.codeIs("tap 0 level", 0x40, "")
		c.codeIs("tap 1 level", 0x41, "a millisecond later")
		c.codeIs("tap 2 level", 0, "too early: the factory's")
		c.send("B0 77 05")
		time.Sleep(450 * time.Millisecond) // of 450.64
		c.send("B0 58 01")
		time.Sleep(time.Second)
		c.codeIs("dry level", 127, "it was storing")
		c.send("B0 58 01")
		require.Empty(c.t, c.receive(), "it says nothing")
		c.codeIs("dry level", 1, "it has stored")
	})
}

func TestTwinServed(t *testing.T) {
	served(t, "twin", Options{}, func(c *cable) {
		c.send("B0 51 00")
		time.Sleep(640*time.Microsecond + 2*time.Millisecond)
		c.send("B0 0E 01")
		for range 30 {
			time.Sleep(20 * time.Millisecond)
			c.send("F8")
		}
		require.Empty(c.t, c.receive(), "it says nothing")
		echoes, err := c.unit.Echoes(-60, 500)
		require.NoError(c.t, err)
		require.InDelta(c.t, 480, float64(echoes[0].At), 1e-6, "24 clocks, 20 ms apart")
		c.send("B0 76 7F")
		time.Sleep(180 * time.Millisecond) // of 180.64
		c.send("B0 54 05")
		time.Sleep(10 * time.Millisecond)
		c.codeIs("mix", 90, "it was storing")
		c.send("B0 54 05")
		time.Sleep(10 * time.Millisecond)
		c.codeIs("mix", 5, "it has stored")
	})
}

func TestOpenParameterServed(t *testing.T) {
	served(t, "open-parameter", Options{}, func(c *cable) {
		c.send("F0 7F 00 04 05 01 01 02 02 01 00 3A 09 F7")
		c.send(askMemory0)
		require.Equal(c.t, header0, c.receive())
		c.codeIs("tap 1 time", 1210, "")
		start := time.Now()
		require.Equal(c.t, packet0, c.receive())
		require.Equal(c.t, 214720*time.Microsecond, time.Since(start), "nobody answered for 200 ms, then 46 bytes")
		start = time.Now()
		c.send(hostACK)
		require.Equal(c.t, unitEOF, c.receive())
		require.Equal(c.t, 3520*time.Microsecond, time.Since(start), "six bytes read by 1.6 ms, six sent in 1.92")
	})
}

func TestFaultsOfUnitsThatSayNothing(t *testing.T) {
	for _, c := range []struct {
		name        string
		faults      Faults
		level0, dry int // after B0 10 40, B0 58 01: healthy 64 and 1
		storedDry   int // of memory 5 after a store there
	}{
		{"health", Faults{}, 64, 1, 1},
		{"a byte is lost", Faults{LoseByte: 3}, 127, 1, 1}, // the next status breaks it off
		{"every byte is lost", Faults{LoseByte: Every}, 127, 127, 127},
		{"the second message is ignored", Faults{IgnoreMessage: 2}, 64, 127, 127},
		{"every message is ignored", Faults{IgnoreMessage: Every}, 127, 127, 127},
		{"dead after one", Faults{DieAfter: 1}, 64, 127, 127},
		{"the store is not made", Faults{FalseStore: 1}, 64, 1, 127},
		{"the store takes a minute", Faults{LongWrite: time.Minute}, 64, 1, 127},
		{"it reads slowly, and has not come to the end", Faults{SlowReading: 4 * time.Second}, 64, 127, 127},
	} {
		s := standing(t, "tap-loop", Options{Faults: c.faults})
		s.ask("B0 10 40 B0 58 01 B0 77 05")
		s.pass(10 * time.Second)
		require.Equal(t, c.level0, s.code("tap 0 level"), c.name)
		require.Equal(t, c.dry, s.code("dry level"), c.name)
		require.Equal(t, c.storedDry, s.codes(5)["dry level"], c.name)
	}
}

func TestASlowUnitLosesWhatItsBufferCannotHold(t *testing.T) {
	// 600 bytes at wire speed in 192 ms; at 1 ms a byte 192 are read, 256 wait.
	s := standing(t, "tap-loop", Options{Faults: Faults{SlowReading: time.Millisecond}})
	for range 200 {
		s.arrive("B0 10 40")
		s.pass(3 * byteTime)
	}
	s.arrive("B0 58 01")
	s.pass(10 * time.Second)
	require.Equal(t, 127, s.code("dry level"), "lost")
	s.ask("B0 58 01")
	require.Equal(t, 1, s.code("dry level"), "it works on")
}

func TestWhatCannotBeAskedOfASound(t *testing.T) {
	for _, name := range Names() {
		s := standing(t, name, Options{})
		require.Equal(t, name, s.Name())
		_, err := s.Code("warmth")
		require.ErrorContains(t, err, `emulator `+name+`: no parameter "warmth"; there are: [`)
		for _, limit := range []preset.Millis{-1, 60_001} {
			_, err = s.Echoes(-60, limit)
			require.ErrorContains(t, err, "ask for up to 60000 ms")
		}
		for slot := range s.Slots() {
			require.NotEmpty(t, s.echoes(slot), "%s: slot %d is heard", name, slot)
		}
		_, err = s.Sound(s.Slots())
		require.ErrorContains(t, err, "slot")
	}
}
