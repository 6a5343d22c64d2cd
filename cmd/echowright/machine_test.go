package main

import (
	"bytes"
	"fmt"
	"math"
	"os"
	"strconv"
	"strings"

	"github.com/rogpeppe/go-internal/testscript"

	"echowright/preset/wavfile"
)

// An echoMachine is what scripts play a file through, sample by sample in time: a
// record path that saturates, a carrier whose speed wavers, heads at whole
// samples, the last of which feeds the loop.
type echoMachine struct {
	delays, gains []float64 // ms and linear
	loop          float64   // gain of one turn
	direct        float64   // gain of the direct sound in the wet channel
	drive         float64   // k of tanh(k·x)/k, 0 for none
	wow, wowHz    float64   // peak part of speed; the whole take is played back so
	two           bool      // the direct sound goes to a channel of its own
}

// playThrough runs a file through a machine: "machine IN.wav OUT.wav WORD…", with
// the words heads=MS:DB,…, loop=DB, direct=DB or off, drive=K, wow=PERCENT:HZ and
// two.
func playThrough(ts *testscript.TestScript, _ bool, args []string) {
	if len(args) < 2 {
		ts.Fatalf("usage: machine IN.wav OUT.wav WORD…")
	}
	m, err := readMachine(args[2:])
	ts.Check(err)
	text, err := os.ReadFile(ts.MkAbs(args[0]))
	ts.Check(err)
	in, err := wavfile.Read(args[0], bytes.NewReader(text), int64(len(text)))
	ts.Check(err)
	dry := in.Channels[0]
	channels := [][]float64{m.play(dry, float64(in.Rate))}
	if m.two {
		channels = [][]float64{dry, channels[0]}
	}
	var out bytes.Buffer
	_, err = wavfile.Write(&out, in.Rate, channels, wavfile.PCM24)
	ts.Check(err)
	ts.Check(os.WriteFile(ts.MkAbs(args[1]), out.Bytes(), 0o644))
}

func readMachine(words []string) (echoMachine, error) {
	m := echoMachine{direct: 1}
	var bad error
	number := func(s string) float64 {
		v, err := strconv.ParseFloat(s, 64)
		if err != nil {
			bad = err
		}
		return v
	}
	gain := func(s string) float64 { return math.Pow(10, number(s)/20) }
	for _, word := range words {
		key, value, _ := strings.Cut(word, "=")
		switch {
		case key == "two":
			m.two, m.direct = true, 0
		case word == "direct=off":
			m.direct = 0
		case key == "direct":
			m.direct = gain(value)
		case key == "loop":
			m.loop = gain(value)
		case key == "drive":
			m.drive = number(value)
		case key == "wow":
			peak, hertz, _ := strings.Cut(value, ":")
			m.wow, m.wowHz = number(peak)/100, number(hertz)
		case key == "heads":
			for head := range strings.SplitSeq(value, ",") {
				ms, db, _ := strings.Cut(head, ":")
				m.delays, m.gains = append(m.delays, number(ms)), append(m.gains, gain(db))
			}
		default:
			return m, fmt.Errorf("no word %q for a machine", word)
		}
	}
	return m, bad
}

func (m echoMachine) play(dry []float64, rate float64) []float64 {
	memory, wet := make([]float64, len(dry)), make([]float64, len(dry))
	for i, x := range dry {
		if m.loop > 0 {
			x += m.loop * before(memory, i, m.delays[len(m.delays)-1], rate)
		}
		if m.drive > 0 {
			x = math.Tanh(m.drive*x) / m.drive
		}
		memory[i] = x
		wet[i] = m.direct * dry[i]
		for k, ms := range m.delays {
			wet[i] += m.gains[k] * before(memory, i, ms, rate)
		}
	}
	if m.wow > 0 {
		return m.wavering(wet, rate)
	}
	return wet
}

// before is the sample of memory so many ms before i.
func before(memory []float64, i int, ms, rate float64) float64 {
	if at := i - int(math.Round(ms*rate/1000)); at >= 0 {
		return memory[at]
	}
	return 0
}

// wavering plays x at the speed 1 + wow·sin(2π·hz·t): by then the carrier has come
// t − wow·cos(2π·hz·t)/(2π·hz). Between samples stands a cubic through four.
func (m echoMachine) wavering(x []float64, rate float64) []float64 {
	out := make([]float64, len(x))
	turn := 2 * math.Pi * m.wowHz
	for i := range out {
		at := float64(i) - rate*m.wow/turn*math.Cos(turn*float64(i)/rate)
		n := int(math.Floor(at))
		if n < 1 || n+2 >= len(x) {
			continue
		}
		t := at - float64(n)
		a, b, c, d := x[n-1], x[n], x[n+1], x[n+2]
		out[i] = b + t*((c-a)/2+t*(a-2.5*b+2*c-d/2+t*(1.5*(b-c)+(d-a)/2)))
	}
	return out
}
