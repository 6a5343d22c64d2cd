package profiles_test

import (
	"context"
	"math/rand/v2"
	"strings"
	"sync"
	"testing"
	"testing/synctest"
	"time"

	"github.com/stretchr/testify/require"

	"echowright/midi/port"
	"echowright/midi/transfer"
	"echowright/profiles"
	"echowright/profiles/emulator"
)

// The handshakes of a File Dump to the unit, each as the standard has it (M1 pages
// 44 to 46), told by how often each of the three messages was sent: announcement,
// packet, end.
func TestADumpToTheUnitByItsHandshakes(t *testing.T) {
	var silent *transfer.NoAnswerError
	var refused *transfer.RefusedError
	for _, c := range []struct {
		name     string
		openLoop bool // the profile says that it acknowledges nothing
		faults   emulator.Faults
		tries    []int
		fails    any // the kind of error, nil for none
		says     string
	}{
		{name: "in health", tries: []int{1, 1, 1}},
		// The announcement takes bytes 1 to 20.
		{name: "NAK: a byte of the packet is lost, and it comes again", faults: emulator.Faults{LoseByte: 40}, tries: []int{1, 2, 1}},
		{name: "WAIT: longer than the time-out", faults: emulator.Faults{LongWrite: 2 * time.Second}, tries: []int{1, 1, 1}},
		{name: "CANCEL: it will not have the codes", faults: emulator.Faults{RefuseValues: 1}, tries: []int{1}, fails: &refused, says: "CANCEL"},
		{name: "nobody answers: a packet counts as taken", faults: emulator.Faults{LoseAnswer: 2}, tries: []int{1, 1, 1}},
		{name: "nobody ever answers", faults: emulator.Faults{Mute: true}, fails: &silent, says: "announce 32 bytes"},
		{name: "an open loop", openLoop: true, faults: emulator.Faults{Mute: true}, tries: []int{1, 1, 1}},
	} {
		t.Run(c.name, func(t *testing.T) {
			d, err := profiles.Shipped("open-parameter")
			require.NoError(t, err)
			if c.openLoop {
				text := strings.Replace(string(d.Source()), "[memory.file_dump]\n", "[memory.file_dump]\nopen_loop = true\n", 1)
				d, err = profiles.Parse("open-loop.toml", []byte(text))
				require.NoError(t, err)
			}
			synctest.Test(t, func(t *testing.T) {
				want := randomSetting(rand.New(rand.NewPCG(71, 1)), d)
				onACable(t, d, c.faults, func(ctx context.Context, link *transfer.Link, b *bench) {
					before := b.codes(5)
					steps, err := d.PushSteps(2, 5, want)
					require.NoError(t, err)
					result, err := link.Run(ctx, steps)
					var tries []int
					for _, r := range result.Replies {
						tries = append(tries, r.Tries)
					}
					require.Equal(t, c.tries, tries)
					time.Sleep(time.Second)
					if c.fails != nil {
						require.ErrorAs(t, err, c.fails)
						require.ErrorContains(t, err, c.says)
						require.Equal(t, before, b.codes(5))
						return
					}
					require.NoError(t, err)
					require.Equal(t, want.Codes, b.codes(5))
				})
			})
		})
	}
}

// onACable is a link to the unit that the device describes.
func onACable(t *testing.T, d *profiles.Device, faults emulator.Faults, work func(ctx context.Context, link *transfer.Link, b *bench)) {
	t.Helper()
	u, err := emulator.New("open-parameter", emulator.Options{Unit: 2, Channel: 3, Faults: faults})
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
	work(ctx, link, &bench{t: t, device: d, unit: u})
}

// A dump that is given up must not become a memory by what comes later: without
// CANCEL the next end of a dump would end this one.
func TestADumpThatIsGivenUpIsForgotten(t *testing.T) {
	for _, cancelled := range []bool{true, false} {
		b := newBench(t, "open-parameter")
		before := b.codes(5)
		want := randomSetting(rand.New(rand.NewPCG(72, 1)), b.device)
		steps, err := b.device.PushSteps(b.number, 5, want)
		require.NoError(t, err)
		b.mustRun(steps[:2]...)
		if cancelled {
			stop, ok := b.device.CancelStep(b.number)
			require.True(t, ok)
			b.mustRun(stop)
		}
		b.mustRun(steps[2])
		if cancelled {
			require.Equal(t, before, b.codes(5))
		} else {
			require.Equal(t, want.Codes, b.codes(5), "so that it is CANCEL that made the difference")
		}
	}
}

// A unit whose dump is refused is told so at once and is ready for the next word,
// instead of sending the rest into a conversation that is over.
func TestADumpThatIsOfNoUseIsCancelled(t *testing.T) {
	b := newBench(t, "open-parameter")
	reading, err := b.device.ReadSlot(b.number, 5)
	require.NoError(t, err)
	request, _ := reading.Next()
	_, header := b.run(request)
	other := append([]byte(nil), header...)
	other[len(other)-2]++ // MEM06
	require.NoError(t, reading.Take(other))
	stop, more := reading.Next()
	require.True(t, more)
	b.mustRun(stop)
	require.ErrorContains(t, reading.Take(nil), "slot 5 was asked for, slot 6 came")
	_, more = reading.Next()
	require.False(t, more)
	b.heard = nil
	b.now = b.now.Add(time.Second)
	b.collect()
	require.Empty(t, b.heard, "it sends nothing more")
}
