package emulator

import (
	"context"
	"errors"
	"testing"
	"testing/synctest"
	"time"

	"github.com/stretchr/testify/require"

	"echowright/midi/port"
)

// cable is a unit being served at the other end of a pipe.
type cable struct {
	t *testing.T
	port.Port
	unit  *Unit
	ended chan error
	stop  func()
}

// onCable runs inside a synctest bubble: its time passes only while all wait.
func onCable(t *testing.T, o Options) *cable { return connected(t, fiveLineName, o) }

func connected(t *testing.T, name string, o Options) *cable {
	unit, err := New(name, o)
	require.NoError(t, err)
	ctx, stop := context.WithCancel(t.Context())
	here, there := port.Pipe("test")
	c := &cable{t, here, unit, make(chan error, 1), stop}
	go func() { c.ended <- Serve(ctx, there, unit) }()
	return c
}

func (c *cable) send(message string) {
	require.NoError(c.t, c.Send(c.t.Context(), fromHex(c.t, message)))
}

// receive is the next piece, or nothing if none comes within a second.
func (c *cable) receive() string {
	ctx, cancel := context.WithTimeout(c.t.Context(), time.Second)
	defer cancel()
	piece, err := c.Receive(ctx)
	if errors.Is(err, context.DeadlineExceeded) {
		return ""
	}
	require.NoError(c.t, err)
	return toHex(piece)
}

func TestServedInRealTime(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		c := onCable(t, Options{})
		start := time.Now()
		c.send(askTime)
		require.Equal(t, told, c.receive())
		// Nine bytes read by 2.56 ms, eleven more on the way back.
		require.Equal(t, 6080*time.Microsecond, time.Since(start))

		time.Sleep(4 * time.Millisecond)
		start = time.Now()
		c.send("F0 7D 05 00 22 05 " + threeHeads + " 00 F7")
		time.Sleep(100 * time.Millisecond)
		c.send(load)
		require.Equal(t, "F0 7D 05 00 7E 31 06 4B F7", c.receive()) // 7E+31+06 = B5h
		require.Equal(t, "F0 7D 05 00 7F 22 5F F7", c.receive())
		require.Equal(t, 290*time.Millisecond, time.Since(start))

		sound, err := c.unit.Sound(5)
		require.NoError(t, err)
		echoes, err := sound.Echoes(-60, 4000)
		require.NoError(t, err)
		require.NotEmpty(t, echoes, "it may be looked at while it is served")

		c.stop()
		require.NoError(t, <-c.ended, "to be told to stop is no failure")
	})
}

func TestAnswersKeepToWireSpeed(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		c := onCable(t, Options{})
		start := time.Now()
		for range fiveLineSlots {
			c.send("F0 7D 05 00 20 00 60 F7")
			require.NotEmpty(t, c.receive())
		}
		// Each: 8 bytes read by 2.24 ms, 118 bytes back.
		require.Equal(t, fiveLineSlots*(2240+118*320)*time.Microsecond, time.Since(start))
		c.stop()
		require.NoError(t, <-c.ended)
	})
}

func TestServedInPiecesOfOneByte(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		c := onCable(t, Options{Faults: Faults{SingleBytes: true}})
		c.send(load)
		for _, want := range fromHex(t, loaded) {
			require.Equal(t, toHex([]byte{want}), c.receive())
		}
		c.stop()
		require.NoError(t, <-c.ended)
	})
}

func TestALumpBeyondTheBufferIsLost(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		c := onCable(t, Options{})
		for range 40 {
			c.send(askTime)
		}
		// Of 360 bytes without a pause 256 fit: 28 messages of 2.88 ms. After each
		// that is taken two begin before its silence is over: ten are taken.
		for range 10 {
			require.Equal(t, told, c.receive())
		}
		require.Empty(t, c.receive())
		c.send(load)
		require.Equal(t, loaded, c.receive(), "it works on")
		c.stop()
		require.NoError(t, <-c.ended)
	})
}

func TestServingEndsWithThePort(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		c := onCable(t, Options{})
		c.send("F0 7D 05 00 30 05 4B F7")
		time.Sleep(10 * time.Millisecond)
		require.NoError(t, c.Close())
		err := <-c.ended
		require.ErrorIs(t, err, port.ErrGone)
		require.ErrorContains(t, err, "emulator five-line: ")
		c.stop()
	})
}

func TestServingStopsWhileNobodyTakesTheAnswers(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		c := onCable(t, Options{})
		for range 100 { // 118 bytes each: more than the pipe holds
			c.send("F0 7D 05 00 20 00 60 F7")
			time.Sleep(100 * time.Millisecond)
		}
		c.stop()
		require.NoError(t, <-c.ended)
	})
}
