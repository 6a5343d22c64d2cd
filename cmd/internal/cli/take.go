package cli

import (
	"bytes"
	"context"
	"crypto/sha256"
	"encoding/hex"
	"errors"
	"fmt"
	"io"
	"math"
	"os"

	"echowright/preset/wavfile"
)

// A recording is a WAV file open for measuring. It is read block by block, as
// often as need be: a take of hours takes no more memory than what is measured.
type recording struct {
	*wavfile.Stream
	path string
	r    io.ReaderAt
	size int64
	file *os.File
}

// openTake opens a WAV file and tells its flaws.
func (c *call) openTake(path string) (*recording, error) {
	f, err := os.Open(path)
	if err != nil {
		return nil, fileError(path, err)
	}
	r := &recording{path: path, file: f}
	if err := r.open(); err != nil {
		f.Close()
		return nil, err
	}
	for _, w := range r.Warnings {
		c.warn("take " + path + ": " + w)
	}
	return r, nil
}

func (r *recording) open() error {
	info, err := r.file.Stat()
	if err != nil {
		return fileError(r.path, err)
	}
	r.r, r.size = r.file, info.Size()
	if !info.Mode().IsRegular() { // a pipe can be read once only
		text, err := io.ReadAll(r.file)
		if err != nil {
			return fileError(r.path, err)
		}
		r.r, r.size = bytes.NewReader(text), int64(len(text))
	}
	r.Stream, err = wavfile.Open(r.path, r.r, r.size)
	return asTake(err)
}

func asTake(err error) error {
	if err == nil {
		return nil
	}
	return fmt.Errorf("take %w", err)
}

func (r *recording) close() { r.file.Close() }

func (r *recording) seconds() float64 { return float64(r.Frames) / float64(r.Rate) }

// sum is the SHA-256 of the whole file.
func (r *recording) sum() (string, error) {
	h := sha256.New()
	if _, err := io.Copy(h, io.NewSectionReader(r.r, 0, r.size)); err != nil {
		return "", fileError(r.path, err)
	}
	return hex.EncodeToString(h.Sum(nil)), nil
}

// blockFrames of a recording are read at once.
const blockFrames = 8192

// each gives do the first frames of the recording, block by block, a slice a
// channel. What it is given is overwritten by the next block.
func (r *recording) each(ctx context.Context, frames int64, do func(block [][]float64)) error {
	s, err := wavfile.Open(r.path, r.r, r.size)
	if err != nil {
		return asTake(err)
	}
	room := make([][]float64, s.Channels)
	for i := range room {
		room[i] = make([]float64, blockFrames)
	}
	block := make([][]float64, s.Channels)
	for left := min(frames, s.Frames); left > 0; {
		if err := ctx.Err(); err != nil {
			return fmt.Errorf("take %s: %w", r.path, err)
		}
		for i := range block {
			block[i] = room[i][:min(left, blockFrames)]
		}
		n, err := s.Next(block)
		if errors.Is(err, io.EOF) {
			return nil
		}
		if err != nil {
			return asTake(err)
		}
		for i := range block {
			block[i] = block[i][:n]
		}
		do(block)
		left -= int64(n)
	}
	return nil
}

// channels are the first frames of the channels with these indices.
func (r *recording) channels(ctx context.Context, frames int64, indices ...int) ([][]float64, error) {
	out := make([][]float64, len(indices))
	for k := range out {
		out[k] = make([]float64, 0, min(frames, r.Frames))
	}
	err := r.each(ctx, frames, func(block [][]float64) {
		for k, i := range indices {
			out[k] = append(out[k], block[i]...)
		}
	})
	return out, err
}

// within is how many frames of the recording lie within seconds.
func (r *recording) within(seconds float64) int64 {
	return min(r.Frames, int64(math.Ceil(seconds*float64(r.Rate))))
}
