package transfer

import (
	"bytes"
	"fmt"
	"math/rand/v2"
	"testing"
	"testing/synctest"
	"time"

	"github.com/stretchr/testify/require"

	"echowright/midi"
	"echowright/midi/port"
)

// A file of 300 packets: the numbers run on after 127 with 0, twice (M1 page 43).
const dumpPackets = 300

func dumpFile() []byte {
	r := rand.New(rand.NewPCG(9, 10))
	file := make([]byte, dumpPackets*midi.MostInPacket-5)
	for i := range file {
		file[i] = byte(r.Uint32())
	}
	return file
}

// sendingSteps sends a file to unit 3 with the time-outs of the standard: 200 ms
// for the header, 50 for a packet, and silence is an ACK (M1 pages 45 and 46).
func sendingSteps(t *testing.T, file []byte) []midi.Step {
	shaken := func(what string, message []byte, packet int, timeout time.Duration) midi.Step {
		return midi.Step{What: what, Send: message, Timeout: timeout, Silence: midi.Done, Answers: []midi.Answer{
			{Match: midi.ACK.Answer(packet), Means: midi.Done},
			{Match: midi.NAK.Answer(packet), Means: midi.Damaged, Says: "NAK"},
			{Match: midi.WAIT.Answer(-1), Means: midi.Hold, Says: "WAIT"},
			{Match: midi.CANCEL.Answer(-1), Means: midi.Refused, Says: "CANCEL"},
		}}
	}
	header, err := midi.FileDump{Device: 3, Source: 0x7E, Type: "BIN ", Name: "ALL", Length: len(file)}.Header()
	require.NoError(t, err)
	steps := []midi.Step{shaken("header", header, -1, 200*ms)}
	n := 0
	for ; len(file) > 0; n++ {
		piece := file[:min(len(file), midi.MostInPacket)]
		file = file[len(piece):]
		packet, err := midi.AppendFilePacket(nil, 3, n, piece)
		require.NoError(t, err)
		steps = append(steps, shaken(fmt.Sprintf("packet %d", n), packet, n%128, 50*ms))
	}
	end, err := midi.EOF.Message(3, (n-1)%128)
	require.NoError(t, err)
	return append(steps, midi.Step{What: "end", Send: end})
}

// dumpTaker takes a file as the standard has it: a packet that did not arrive
// whole gets NAK, at the third time CANCEL; another number than the next gets
// CANCEL; the end writes the file (M1 pages 44 to 46). Its faults count packets
// as they come, from 0, damaged ones too; −1 is the header.
type dumpTaker struct {
	faults map[int]string
	came   int
	due    int
	errors int
	held   []byte
	stored []byte
	over   bool
}

func (d *dumpTaker) hear(m []byte) []say {
	if h, _, ok := midi.ParseHandshake(m); ok {
		if h == midi.EOF && !d.over {
			d.stored = d.held
		}
		return nil
	}
	if d.over {
		return nil
	}
	if _, err := midi.ParseFileDumpHeader(m); err == nil {
		return d.answer(-1, midi.ACK, 0)
	}
	nth := d.came
	d.came++
	number, data, err := midi.ParseFilePacket(m)
	switch {
	case err != nil || d.faults[nth] == "damaged":
		if d.errors++; d.errors == 3 {
			d.over = true
			return d.answer(nth, midi.CANCEL, d.due)
		}
		return d.answer(nth, midi.NAK, d.due)
	case number != d.due%128 || d.faults[nth] == "cancel":
		d.over = true
		return d.answer(nth, midi.CANCEL, d.due)
	}
	d.held = append(d.held, data...)
	d.due, d.errors = d.due+1, 0
	return d.answer(nth, midi.ACK, number)
}

func (d *dumpTaker) answer(nth int, h midi.Handshake, packet int) []say {
	shake := func(after time.Duration, h midi.Handshake) say {
		m, err := h.Message(3, packet%128)
		if err != nil {
			panic(err)
		}
		return say{after: after, hex: midi.Hex(m)}
	}
	const passed = 45 * ms // the longest packet takes 43.84 ms
	answer := shake(passed, h)
	for _, fault := range []string{d.faults[nth], d.faults[every]} {
		switch fault {
		case "lost":
			return nil
		case "doubled":
			return []say{answer, answer}
		case "late":
			return []say{shake(passed+80*ms, h)}
		case "wait":
			return []say{shake(passed, midi.WAIT), shake(passed+900*ms, h)}
		case "wait for ever":
			return []say{shake(passed, midi.WAIT)}
		}
	}
	return []say{answer}
}

// every stands for all messages in the table of faults.
const every = -2

func TestAFileOfManyPackets(t *testing.T) {
	var refused *RefusedError
	var silent *NoAnswerError
	for _, tc := range []struct {
		name   string
		faults map[int]string
		again  int // packets sent more than once
		fails  any
		at     string
	}{
		{name: "in health"},
		{name: "one packet damaged, in the second round of numbers", faults: map[int]string{130: "damaged"}, again: 1},
		{name: "one packet damaged twice", faults: map[int]string{128: "damaged", 129: "damaged"}, again: 1},
		{name: "one packet damaged three times: CANCEL", faults: map[int]string{128: "damaged", 129: "damaged", 130: "damaged"}, fails: &refused, at: "packet 128"},
		{name: "CANCEL in the middle", faults: map[int]string{200: "cancel"}, fails: &refused, at: "packet 200"},
		{name: "WAIT, and then ACK", faults: map[int]string{5: "wait"}},
		{name: "WAIT before NAK", faults: map[int]string{5: "damaged", every: "wait"}, again: 1},
		{name: "WAIT for longer than anybody waits", faults: map[int]string{5: "wait for ever"}, fails: &silent, at: "packet 5"},
		{name: "an ACK is lost", faults: map[int]string{7: "lost"}},
		{name: "every ACK is lost: an open loop", faults: map[int]string{every: "lost"}},
		{name: "every ACK comes twice", faults: map[int]string{every: "doubled"}},
		{name: "every ACK is late", faults: map[int]string{every: "late"}},
	} {
		t.Run(tc.name, func(t *testing.T) {
			synctest.Test(t, func(t *testing.T) {
				file := dumpFile()
				taker := &dumpTaker{faults: tc.faults}
				near, far := port.Pipe("cable")
				l, d := talkOver(t, near, far, Options{}, nil)
				d.hears = taker.hear
				r, err := l.Run(t.Context(), sendingSteps(t, file))
				time.Sleep(time.Second)
				synctest.Wait()
				if tc.fails != nil {
					require.ErrorAs(t, err, tc.fails)
					require.ErrorContains(t, err, fmt.Sprintf("step %q", tc.at))
					require.Nil(t, taker.stored, "nothing is written")
					require.Less(t, r.Elapsed, 30*time.Second)
					return
				}
				require.NoError(t, err)
				require.True(t, bytes.Equal(file, taker.stored))
				again := 0
				for _, reply := range r.Replies {
					if reply.Tries > 1 {
						again++
					}
				}
				require.Equal(t, tc.again, again)
				// The wire, and for each packet the 50 ms after which silence is an
				// ACK (200 for the header) or the second that a WAIT takes.
				most := time.Duration(r.Bytes)*320*us + dumpPackets*50*ms + 200*ms
				if tc.faults[every] == "wait" {
					most += (dumpPackets + 2) * 900 * ms
				}
				require.LessOrEqual(t, r.Elapsed, most+time.Second)
			})
		})
	}
}
