package profiles_test

import (
	"context"
	"errors"
	"math/rand/v2"
	"sync"
	"testing"
	"testing/synctest"
	"time"

	"github.com/stretchr/testify/require"

	"echowright/midi"
	"echowright/midi/port"
	"echowright/midi/transfer"
	"echowright/profiles"
	"echowright/profiles/emulator"
)

// A slot is pushed and read back over a port, with the conversation that steps
// stand for, retries and all: what a program does, and what ails the hardware.
func TestSlotsOverAPort(t *testing.T) {
	for _, c := range []struct {
		name, device string
		faults       emulator.Faults
		anew         int // times that the conversation had to begin anew
	}{
		{"five-line in health", "five-line", emulator.Faults{}, 0},
		{"tap-loop in health", "tap-loop", emulator.Faults{}, 0},
		{"twin in health", "twin", emulator.Faults{}, 0},
		{"open-parameter in health", "open-parameter", emulator.Faults{}, 0},
		{"it asks to wait for its memory", "open-parameter", emulator.Faults{LongWrite: 900 * time.Millisecond}, 0},
		{"the answer to the header is lost", "open-parameter", emulator.Faults{LoseAnswer: 1}, 0},
		{"the answer to the packet is lost", "open-parameter", emulator.Faults{LoseAnswer: 2}, 0},
		{"the header of the dump that was asked for is lost", "open-parameter", emulator.Faults{LoseAnswer: 3}, 0},
		{"the end of the dump that was asked for is lost", "open-parameter", emulator.Faults{LoseAnswer: 5}, 0},
		{"a packet comes damaged", "open-parameter", emulator.Faults{CorruptAnswer: 4}, 0},
		{"answers come twice", "open-parameter", emulator.Faults{DoubleAnswer: emulator.Every}, 0},
		{"answers come byte by byte", "open-parameter", emulator.Faults{SingleBytes: true}, 0},
		{"rubbish comes before every answer", "open-parameter", emulator.Faults{Rubbish: emulator.Every}, 0},
	} {
		t.Run(c.name, func(t *testing.T) {
			synctest.Test(t, func(t *testing.T) { overAPort(t, c.device, c.faults, c.anew) })
		})
	}
}

func overAPort(t *testing.T, name string, faults emulator.Faults, anew int) {
	d, err := profiles.Shipped(name)
	require.NoError(t, err)
	unit := d.Manners.FirstUnit + 2
	o := emulator.Options{Unit: 2, Channel: 3, Faults: faults}
	u, err := emulator.New(name, o)
	require.NoError(t, err)
	near, far := port.Pipe("cable")
	ctx, stop := context.WithCancel(t.Context())
	var serving sync.WaitGroup
	serving.Go(func() { _ = emulator.Serve(ctx, far, u) })
	link := transfer.Open(near, transfer.Options{Retries: max(1, d.Manners.Retries)})
	defer func() {
		require.NoError(t, link.Close())
		stop()
		serving.Wait()
	}()

	want := randomSetting(rand.New(rand.NewPCG(6, 8)), d)
	steps, err := d.PushSteps(unit, 5, want)
	require.NoError(t, err)
	_, err = link.Run(ctx, steps)
	require.NoError(t, err)
	if last := steps[len(steps)-1]; last.Gap > 0 {
		time.Sleep(last.Gap)
	}
	time.Sleep(time.Second) // a healthy unit is ready by now
	b := bench{t: t, device: d, unit: u}
	require.Equal(t, want.Codes, b.codes(5))
	if !d.Readable() {
		return
	}
	begun := 0
	for {
		memory, err := readOverAPort(ctx, link, d, unit)
		if errors.Is(err, profiles.ErrDamaged) && begun < anew {
			begun++
			continue
		}
		require.NoError(t, err)
		got, err := d.SlotSetting(memory)
		require.NoError(t, err)
		require.Equal(t, want, got)
		break
	}
	require.Equal(t, anew, begun)
}

func readOverAPort(ctx context.Context, link *transfer.Link, d *profiles.Device, unit int) ([]byte, error) {
	r, err := d.ReadSlot(unit, 5)
	if err != nil {
		return nil, err
	}
	for {
		step, more := r.Next()
		if !more {
			_, memory, err := d.SlotMemory(r.Messages())
			return memory, err
		}
		result, err := link.Run(ctx, []midi.Step{step})
		if err != nil {
			return nil, err
		}
		if err := r.Take(result.Replies[0].Message); err != nil {
			return nil, err
		}
	}
}
