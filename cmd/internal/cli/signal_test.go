package cli

import (
	"bytes"
	"context"
	"errors"
	"io"
	"math"
	"os"
	"path/filepath"
	"testing"

	"github.com/stretchr/testify/require"

	"echowright/preset/signals"
	"echowright/preset/wavfile"
)

func TestASignalIsWrittenAsItIsFilled(t *testing.T) {
	for _, kind := range signals.Kinds() {
		s := signals.Default(kind)
		s.Rate = 22_050
		if s.Sweep != nil {
			s.Sweep.To = 9000
		}
		var out bytes.Buffer
		require.NoError(t, writeSignal(t.Context(), &out, s, func(float64) {}))
		take, err := wavfile.Read("x.wav", bytes.NewReader(out.Bytes()), int64(out.Len()))
		require.NoError(t, err)
		require.Equal(t, s.Rate, take.Rate)
		want := s.Samples()
		require.Len(t, take.Channels[0], len(want))
		off := 0.0
		for i, v := range take.Channels[0] {
			off = max(off, math.Abs(v-want[i]))
		}
		require.LessOrEqual(t, off, 1./(1<<24), "%s: half a step of 24 bits", kind)
	}
}

func TestWhoInterruptsASignalFindsNoneOfIt(t *testing.T) {
	ctx, stop := context.WithCancel(t.Context())
	stop()
	require.ErrorIs(t, writeSignal(ctx, io.Discard, signals.Default(signals.KindTone), func(float64) {}), context.Canceled)

	folder := t.TempDir()
	e := world(t, "signal", "tone", "--out", filepath.Join(folder, "tone.wav"))
	var talk bytes.Buffer
	e.Stderr = &talk
	require.Equal(t, exitFailed, Run(ctx, e))
	require.Contains(t, talk.String(), "echowright: interrupted: writing ")
	left, err := os.ReadDir(folder)
	require.NoError(t, err)
	require.Empty(t, left)
}

// The caution must be read before there is anything to play.
func TestTheCautionComesFirst(t *testing.T) {
	path := filepath.Join(t.TempDir(), "tone.wav")
	e := world(t, "signal", "tone", "--out", path, "--seconds", "1")
	said := false
	e.Stderr = writerFunc(func(b []byte) (int, error) {
		if bytes.Contains(b, []byte("Caution")) {
			said = true
			_, err := os.Lstat(path)
			require.ErrorIs(t, err, os.ErrNotExist)
		}
		return len(b), nil
	})
	require.Equal(t, exitDone, Run(t.Context(), e))
	require.True(t, said)
}

type writerFunc func([]byte) (int, error)

func (f writerFunc) Write(b []byte) (int, error) { return f(b) }

func TestAFullDiskEndsASignal(t *testing.T) {
	err := writeSignal(t.Context(), &brokenPipe{room: 100_000}, signals.Default(signals.KindTone), func(float64) {})
	require.ErrorContains(t, err, "no space left")
	require.False(t, errors.Is(err, context.Canceled))
}

func TestFieldsOfSignal(t *testing.T) {
	v := world(t).run(t, "signal", "clicks", "--out", filepath.Join(t.TempDir(), "c.wav"), "--count", "1", "--json").decode(t)
	hasFields(t, v, "wav", "toml", "kind", "seconds", "peak", "caution", "signal")
	require.Equal(t, "clicks", v["kind"])
	require.InDelta(t, 0.1, v["peak"], 1e-12, "-20 dBFS")
	hasFields(t, hasFields(t, v["signal"], "rate_hz", "level_dbfs", "lead_ms", "tail_ms", "clicks")["clicks"], "count", "spacing_ms", "high_cut_hz")
}
