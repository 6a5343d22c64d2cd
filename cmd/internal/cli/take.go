package cli

import (
	"bytes"
	"fmt"
	"io"
	"os"

	"echowright/preset/wavfile"
)

// readTake reads a WAV file whole and says its hash.
func (c *call) readTake(path string) (take *wavfile.Take, sum string, err error) {
	f, err := os.Open(path)
	if err != nil {
		return nil, "", fileError(path, err)
	}
	defer f.Close()
	text, err := io.ReadAll(f)
	if err != nil {
		return nil, "", fileError(path, err)
	}
	take, err = wavfile.Read(path, bytes.NewReader(text), int64(len(text)))
	if err != nil {
		return nil, "", fmt.Errorf("take %w", err)
	}
	for _, w := range take.Warnings {
		c.warn("take " + path + ": " + w)
	}
	return take, hash(text), nil
}

// oneChannel is the channel to measure: the only one, the only one with sound, or
// any of several alike. Channels that differ are no recording of one kind of
// sound, and it would be a guess which of them is meant.
func (c *call) oneChannel(path string, take *wavfile.Take) ([]float64, error) {
	var sounding []int
	for i, samples := range take.Channels {
		if !silent(samples) {
			sounding = append(sounding, i)
		}
	}
	if len(sounding) == 0 {
		return take.Channels[0], nil // measuring says what to do about silence
	}
	first := take.Channels[sounding[0]]
	for _, i := range sounding[1:] {
		if !alike(first, take.Channels[i]) {
			return nil, misused(fmt.Errorf("take %s: its channels %d and %d hold different sound: export a mono file that holds the direct sound and the echoes mixed",
				path, sounding[0]+1, i+1))
		}
	}
	if len(sounding) < len(take.Channels) {
		c.say("take %s: measuring channel %d: the others are silent", path, sounding[0]+1)
	}
	return first, nil
}

func silent(samples []float64) bool {
	for _, v := range samples {
		if v != 0 {
			return false
		}
	}
	return true
}

// alike reports whether two channels are one: half a step of 16 bits apart at the most.
func alike(a, b []float64) bool {
	for i := range a {
		if d := a[i] - b[i]; d > 1./65536 || d < -1./65536 {
			return false
		}
	}
	return true
}
