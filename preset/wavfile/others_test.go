package wavfile

import (
	"bytes"
	"fmt"
	"math"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"

	"github.com/go-audio/audio"
	"github.com/go-audio/wav"
	"github.com/stretchr/testify/require"
)

// noise is a sound with all its bits in use, the same every time.
func noise(channels, frames int) [][]float64 {
	all := make([][]float64, channels)
	state := uint32(1)
	for c := range all {
		all[c] = make([]float64, frames)
		for i := range all[c] {
			state = state*1664525 + 1013904223
			all[c][i] = float64(int32(state)>>8) / (1 << 23)
		}
	}
	return all
}

// On plain PCM of 16, 24 and 32 bits the library go-audio/wav gives the same
// whole numbers, of its files as of ours.
func TestPlainPCMAgainstAnotherLibrary(t *testing.T) {
	for _, bits := range []int{16, 24, 32} {
		for _, channels := range []int{1, 2, 6} {
			t.Run(fmt.Sprintf("%d bits, %d channels", bits, channels), func(t *testing.T) {
				want := &audio.IntBuffer{Format: &audio.Format{NumChannels: channels, SampleRate: 44100}, SourceBitDepth: bits}
				scale := math.Ldexp(1, bits-1)
				sound := noise(channels, 1001)
				for i := range 1001 {
					for c := range channels {
						want.Data = append(want.Data, int(math.Floor(sound[c][i]*scale)))
					}
				}
				path := filepath.Join(t.TempDir(), "theirs.wav")
				file, err := os.Create(path)
				require.NoError(t, err)
				e := wav.NewEncoder(file, 44100, bits, channels, 1)
				require.NoError(t, e.Write(want))
				require.NoError(t, e.Close())
				require.NoError(t, file.Close())

				take := readFile(t, path)
				for i, v := range want.Data {
					require.Equal(t, float64(v)/scale, take.Channels[i%channels][i/channels])
				}
			})
		}
	}
	sound := noise(3, 1001)
	var out bytes.Buffer
	_, err := Write(&out, 48000, sound, PCM24)
	require.NoError(t, err)
	got, err := wav.NewDecoder(bytes.NewReader(out.Bytes())).FullPCMBuffer()
	require.NoError(t, err)
	require.Equal(t, 3, got.Format.NumChannels)
	for i, v := range got.Data[:3*1001] { // it counts the pad byte as one sample more
		require.Equal(t, sound[i%3][i/3]*(1<<23), float64(v))
	}
}

func readFile(t testing.TB, path string) *Take {
	t.Helper()
	b, err := os.ReadFile(path)
	require.NoError(t, err)
	take, err := Read(filepath.Base(path), bytes.NewReader(b), int64(len(b)))
	require.NoError(t, err)
	return take
}

// convert runs a program on an input of ours and reads what it made of it.
func convert(t *testing.T, sound [][]float64, args ...string) *Take {
	t.Helper()
	if _, err := exec.LookPath(args[0]); err != nil {
		t.Skipf("SKIP: %s is not installed", args[0])
	}
	dir := t.TempDir()
	var in bytes.Buffer
	_, err := Write(&in, 48000, sound, Float32)
	require.NoError(t, err)
	require.NoError(t, os.WriteFile(filepath.Join(dir, "in.wav"), in.Bytes(), 0o600))
	for i, a := range args {
		args[i] = strings.NewReplacer("IN", filepath.Join(dir, "in.wav"), "OUT", filepath.Join(dir, "out.wav")).Replace(a)
	}
	command := exec.Command(args[0], args[1:]...)
	told, err := command.CombinedOutput()
	require.NoError(t, err, "%s", told)
	return readFile(t, filepath.Join(dir, "out.wav"))
}

// Files that other programs write of a sound of ours. Each sample must come back
// within one step of the encoding (programs differ in how they round).
func TestFilesOfOtherPrograms(t *testing.T) {
	sound := noise(2, 3001)
	for _, c := range []struct {
		name     string
		command  string
		want     Encoding
		warnings int
	}{
		{"sox 8 bits", "sox -D IN -b 8 OUT", Encoding{Bits: 8, ValidBits: 8}, 0},
		{"sox 16 bits", "sox -D IN -b 16 -e signed OUT", Encoding{Bits: 16, ValidBits: 16}, 0},
		{"sox 24 bits (extensible)", "sox -D IN -b 24 -e signed OUT", Encoding{Bits: 24, ValidBits: 24}, 0},
		{"sox 32 bits (extensible)", "sox -D IN -b 32 -e signed OUT", Encoding{Bits: 32, ValidBits: 32}, 0},
		{"sox float of 32 bits", "sox -D IN -b 32 -e float OUT", Encoding{Float: true, Bits: 32, ValidBits: 32}, 0},
		{"sox float of 64 bits", "sox -D IN -b 64 -e float OUT", Encoding{Float: true, Bits: 64, ValidBits: 64}, 0},
		{"ffmpeg 8 bits", "ffmpeg -v error -i IN -c:a pcm_u8 OUT", Encoding{Bits: 8, ValidBits: 8}, 0},
		{"ffmpeg 16 bits, list before the sound", "ffmpeg -v error -i IN -c:a pcm_s16le -metadata title=odd OUT", Encoding{Bits: 16, ValidBits: 16}, 0},
		{"ffmpeg 24 bits", "ffmpeg -v error -i IN -c:a pcm_s24le OUT", Encoding{Bits: 24, ValidBits: 24}, 0},
		{"ffmpeg 32 bits", "ffmpeg -v error -i IN -c:a pcm_s32le OUT", Encoding{Bits: 32, ValidBits: 32}, 0},
		{"ffmpeg float of 64 bits", "ffmpeg -v error -i IN -c:a pcm_f64le OUT", Encoding{Float: true, Bits: 64, ValidBits: 64}, 0},
		{"ffmpeg RF64", "ffmpeg -v error -i IN -c:a pcm_s24le -rf64 always OUT", Encoding{Bits: 24, ValidBits: 24}, 0},
		{"ffmpeg with a broadcast chunk", "ffmpeg -v error -i IN -c:a pcm_s16le -write_bext 1 -metadata time_reference=1728000000 OUT", Encoding{Bits: 16, ValidBits: 16}, 0},
		{"ffmpeg into a pipe: sizes never written", "sh -c ffmpeg\u00a0-v\u00a0error\u00a0-i\u00a0IN\u00a0-c:a\u00a0pcm_s24le\u00a0-f\u00a0wav\u00a0-\u00a0>OUT", Encoding{Bits: 24, ValidBits: 24}, 1},
		{"sox into a pipe: sizes never written", "sh -c sox\u00a0-D\u00a0IN\u00a0-t\u00a0s24\u00a0-\u00a0|\u00a0sox\u00a0-D\u00a0-t\u00a0s24\u00a0-r\u00a048000\u00a0-c\u00a02\u00a0-\u00a0-t\u00a0wav\u00a0-\u00a0|\u00a0cat\u00a0>OUT", Encoding{Bits: 24, ValidBits: 24}, 1},
		{"sox with libsndfile, 16 bits", "sox -D IN -b 16 -t sndfile OUT", Encoding{Bits: 16, ValidBits: 16}, 0},
		{"sox with libsndfile, 24 bits", "sox -D IN -b 24 -t sndfile OUT", Encoding{Bits: 24, ValidBits: 24}, 0},
		{"sox with libsndfile, float with peaks before the sound", "sox -D IN -b 32 -e float -t sndfile OUT", Encoding{Float: true, Bits: 32, ValidBits: 32}, 0},
	} {
		t.Run(c.name, func(t *testing.T) {
			args := strings.Fields(strings.ReplaceAll(c.command, "\u00a0", "\x00"))
			for i := range args {
				args[i] = strings.ReplaceAll(args[i], "\x00", " ")
			}
			if _, err := exec.LookPath(strings.Fields(c.name)[0]); err != nil {
				t.Skipf("SKIP: %v", err)
			}
			if told, _ := exec.Command("sox", "--help").Output(); strings.Contains(c.name, "libsndfile") && !bytes.Contains(told, []byte(" sndfile")) {
				t.Skip("SKIP: this sox was built without libsndfile")
			}
			take := convert(t, sound, args...)
			require.Equal(t, c.want, take.Encoding)
			require.Len(t, take.Warnings, c.warnings, "%v", take.Warnings)
			require.Equal(t, 3001, take.Frames())
			step := math.Ldexp(1, 1-min(c.want.Bits, 25))
			for ch := range sound {
				for i := range sound[ch] {
					require.InDelta(t, sound[ch][i], take.Channels[ch][i], step)
				}
			}
			if strings.Contains(c.name, "broadcast") {
				require.EqualValues(t, 1_728_000_000, *take.StartSample)
			}
		})
	}
}

// Another program reads what Write writes.
func TestOtherProgramsReadOurFiles(t *testing.T) {
	for _, program := range []string{"sox -D IN -t wav -b 24 -e signed OUT", "ffmpeg -v error -i IN -c:a pcm_s24le OUT"} {
		args := strings.Fields(program)
		t.Run(args[0], func(t *testing.T) {
			sound := noise(1, 999) // an odd number of bytes
			take := convert(t, sound, args...)
			require.Equal(t, sound, take.Channels)
		})
	}
}

// benchmarkRead reads a minute of stereo, beside go-audio/wav where that can.
func benchmarkRead(b *testing.B, file []byte, read func(file []byte) error) {
	b.SetBytes(int64(len(file)))
	b.ReportAllocs()
	for b.Loop() {
		if err := read(file); err != nil {
			b.Fatal(err)
		}
	}
	b.ReportMetric(float64(len(file))*float64(b.N)/b.Elapsed().Seconds()/1e6, "MB/s_of_file")
}

func BenchmarkRead(b *testing.B) {
	sound := noise(2, 60*48000)
	ours := func(file []byte) error {
		_, err := readBytes(file)
		return err
	}
	theirs := func(file []byte) error {
		buffer, err := wav.NewDecoder(bytes.NewReader(file)).FullPCMBuffer()
		if err == nil {
			buffer.AsFloatBuffer()
		}
		return err
	}
	for _, e := range []Encoding{PCM24, Float32} {
		var file bytes.Buffer
		_, err := Write(&file, 48000, sound, e)
		require.NoError(b, err)
		b.Run(e.String(), func(b *testing.B) { benchmarkRead(b, file.Bytes(), ours) })
		if !e.Float { // the other gives garbage for float
			b.Run(e.String()+" by go-audio", func(b *testing.B) { benchmarkRead(b, file.Bytes(), theirs) })
		}
	}
}

func BenchmarkWrite(b *testing.B) {
	sound := noise(2, 60*48000)
	for _, e := range []Encoding{PCM24, Float32} {
		b.Run(e.String(), func(b *testing.B) {
			b.SetBytes(int64(2 * 60 * 48000 * e.Bits / 8))
			for b.Loop() {
				if _, err := Write(discard{}, 48000, sound, e); err != nil {
					b.Fatal(err)
				}
			}
		})
	}
}

type discard struct{}

func (discard) Write(b []byte) (int, error) { return len(b), nil }
