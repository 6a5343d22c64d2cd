package cli

import (
	"context"
	"errors"
	"fmt"
	"io"

	"echowright/library/wholefile"
	"echowright/preset"
	"echowright/preset/measure"
	"echowright/preset/render"
	"echowright/preset/wavfile"
)

// A rendering is a dry take on its way through a graph. It can be played as often
// as need be and is the same each time, so that its peak can be known before the
// first sample is written, in memory that does not grow with the take.
type rendering struct {
	dry     *recording
	graph   render.Graph
	options render.Options
	tail    int64 // frames after the take's end
	told    func(done float64)
}

// levels are what a pass heard.
type levels struct {
	dry, wet float64 // peaks, in fractions of full scale
	limited  int     // samples that a loop had to be held at
	howls    bool
}

// play renders all of the take and gives do one block after the other.
func (r *rendering) play(ctx context.Context, do func(block [][]float64) error) (levels, error) {
	machine, err := render.New(r.graph, r.options)
	if err != nil {
		return levels{}, fmt.Errorf("take %s: %w", r.dry.path, err)
	}
	sound, err := wavfile.Open(r.dry.path, r.dry.r, r.dry.size)
	if err != nil {
		return levels{}, asTake(err)
	}
	l := levels{howls: machine.Howls()}
	late := int64(machine.Latency())
	room := blocks(sound.Channels)
	for at, end := int64(0), r.frames()+late; at < end; {
		if err := ctx.Err(); err != nil {
			return l, fmt.Errorf("take %s: %w", r.dry.path, err)
		}
		block, err := nextBlock(sound, room, end-at)
		if err != nil {
			return l, asTake(err)
		}
		l.dry = max(l.dry, peakOf(block))
		if err := machine.Process(block, block); err != nil {
			return l, fmt.Errorf("take %s: %w", r.dry.path, err)
		}
		at += int64(len(block[0]))
		block = behind(block, late-(at-int64(len(block[0]))))
		l.wet = max(l.wet, peakOf(block))
		if err := do(block); err != nil {
			return l, err
		}
		r.told(float64(at) / float64(end))
	}
	l.limited = machine.Limited()
	return l, nil
}

// frames are those of the output.
func (r *rendering) frames() int64 { return r.dry.Frames + r.tail }

func blocks(channels int) [][]float64 {
	room := make([][]float64, channels)
	for c := range room {
		room[c] = make([]float64, blockFrames)
	}
	return room
}

// nextBlock reads the next of the sound, and silence after its end.
func nextBlock(sound *wavfile.Stream, room [][]float64, most int64) ([][]float64, error) {
	block := make([][]float64, len(room))
	for c := range room {
		block[c] = room[c][:min(most, blockFrames)]
	}
	n, err := sound.Next(block)
	if errors.Is(err, io.EOF) {
		for c := range block {
			clear(block[c])
		}
		return block, nil
	}
	for c := range block {
		block[c] = block[c][:n]
	}
	return block, err
}

// behind is a block without its first n samples.
func behind(block [][]float64, n int64) [][]float64 {
	if n <= 0 {
		return block
	}
	for c := range block {
		block[c] = block[c][min(n, int64(len(block[c]))):]
	}
	return block
}

func peakOf(block [][]float64) float64 {
	top := 0.0
	for _, samples := range block {
		for _, v := range samples {
			if v > top {
				top = v
			} else if -v > top {
				top = -v
			}
		}
	}
	return top
}

// write renders the take into the file: once where the gain is given, else a first
// time to hear how loud it becomes.
func (o *renderOptions) write(ctx context.Context, c *call, dry *recording, s sounding) (rendered, error) {
	progress := c.talk.Progress("rendering", c.Now)
	defer progress.End()
	r := rendering{
		dry: dry, graph: s.graph, tail: o.tailFrames(s, dry.Rate), told: progress.Set,
		options: render.Options{Rate: dry.Rate, Channels: dry.Channels, Seed: o.seed},
	}
	if o.hiss {
		level := preset.Decibels(o.noise)
		r.options.Noise = &level
	}
	w := rendered{WAV: o.out, Unit: s.unit, Device: s.device, Seed: o.seed, Rate: dry.Rate, Channels: dry.Channels}
	gain := preset.Decibels(o.gain).Amplitude()
	if !o.gainSet && o.start == startSafe {
		r.told = func(done float64) { progress.Set(done / 2) }
		l, err := r.play(ctx, func([][]float64) error { return nil })
		if err != nil {
			return w, err
		}
		if err := audible(l, dry.path); err != nil {
			return w, err
		}
		gain = min(1, l.dry/l.wet)
		r.told = func(done float64) { progress.Set((1 + done) / 2) }
	}
	var l levels
	clipped := 0
	err := wholefile.Stream(o.out, 0o666, func(out io.Writer) (err error) {
		l, clipped, err = r.writeTo(ctx, out, gain)
		return err
	})
	if err != nil {
		return w, err
	}
	w.fill(r, s, l, gain, clipped)
	return w, nil
}

// audible refuses a take that holds no sound: there is nothing to be heard of the
// machine.
func audible(l levels, path string) error {
	if l.dry > 0 && l.wet > 0 {
		return nil
	}
	what := "the take is silent"
	if l.dry > 0 {
		what = "nothing would be heard: the echoes are silent, and so is the direct sound"
	}
	return fmt.Errorf("take %s: %w", path, &measure.Refusal{Reason: measure.Silence, Detail: what})
}

// writeTo writes the take as it is rendered, times gain.
func (r *rendering) writeTo(ctx context.Context, w io.Writer, gain float64) (levels, int, error) {
	form := wavfile.PCM24
	if r.dry.Encoding.Float {
		form = wavfile.Float32
	}
	out, err := wavfile.NewWriter(w, r.dry.Rate, r.dry.Channels, r.frames(), form)
	if err != nil {
		return levels{}, 0, err
	}
	b := newBeside(r.dry.Channels, out.Write)
	l, err := r.play(ctx, func(block [][]float64) error { return b.hand(block, gain) })
	if e := b.end(); err == nil {
		err = e
	}
	if err == nil {
		err = audible(l, r.dry.path)
	}
	if err == nil {
		err = out.Close()
	}
	return l, out.Clipped, err
}

// A beside writes blocks while the next is being rendered: writing costs as much as
// two heads do, and there is mostly a second processor.
type beside struct {
	full chan [][]float64
	free chan freed
}

// A freed block has been written, or could not be.
type freed struct {
	block [][]float64
	err   error
}

const besideBlocks = 3

// newBeside starts writing; end has to be called.
func newBeside(channels int, write func([][]float64) error) *beside {
	b := &beside{full: make(chan [][]float64, besideBlocks), free: make(chan freed, besideBlocks)}
	for range besideBlocks {
		b.free <- freed{block: blocks(channels)}
	}
	go func() {
		defer close(b.free)
		var err error // the first; nothing is written after it
		for block := range b.full {
			if err == nil {
				err = write(block)
			}
			b.free <- freed{block, err}
		}
	}()
	return b
}

// hand gives a block on, times gain. The error is that of a block before it.
func (b *beside) hand(block [][]float64, gain float64) error {
	next := <-b.free
	if next.err != nil {
		return next.err
	}
	room := next.block
	for c, samples := range block {
		room[c] = next.block[c][:len(samples)] // of as much room as there ever was
		for i, v := range samples {
			room[c][i] = v * gain
		}
	}
	b.full <- room
	return nil
}

// end waits until all is written.
func (b *beside) end() error {
	close(b.full)
	var err error
	for f := range b.free {
		if f.err != nil {
			err = f.err
		}
	}
	return err
}
