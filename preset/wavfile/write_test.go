package wavfile

import (
	"bytes"
	"errors"
	"math"
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/require"

	"echowright/preset"
)

func TestWriteTheBytesOfA24BitFile(t *testing.T) {
	var out bytes.Buffer
	clipped, err := Write(&out, 48000, [][]float64{{-1, 1, 0}}, PCM24)
	require.NoError(t, err)
	require.Zero(t, clipped)
	require.Equal(t, unhex(t, mono24), out.Bytes())
}

// By hand: RIFF size 4 + 26 (fmt) + 12 (fact) + 8 + 8 = 58 = 3Ah; 2 channels of 4
// bytes, 44100·8 = 352800 = 56220h bytes a second; one frame; +½ is
// 3F000000h and −2 is C0000000h in IEEE 754.
func TestWriteTheBytesOfAFloatFile(t *testing.T) {
	var out bytes.Buffer
	clipped, err := Write(&out, 44100, [][]float64{{0.5}, {-2}}, Float32)
	require.NoError(t, err)
	require.Zero(t, clipped, "float has room beyond full scale")
	require.Equal(t, unhex(t, `52 49 46 46 3A 00 00 00 57 41 56 45
		66 6D 74 20 12 00 00 00 03 00 02 00 44 AC 00 00 20 62 05 00 08 00 20 00 00 00
		66 61 63 74 04 00 00 00 01 00 00 00
		64 61 74 61 08 00 00 00 00 00 00 3F 00 00 00 C0`), out.Bytes())
}

func TestWhatIsBeyondFullScaleIsClippedAndCounted(t *testing.T) {
	const top, step = 8388607.0 / 8388608, 1.0 / 8388608
	var out bytes.Buffer
	clipped, err := Write(&out, 48000, [][]float64{{1, 1.0000001, -1, -1.5, 0.49 * step, 0.51 * step, -0.51 * step, 1e300}}, PCM24)
	require.NoError(t, err)
	require.Equal(t, 3, clipped)
	take, err := readBytes(out.Bytes())
	require.NoError(t, err)
	require.Equal(t, []float64{top, top, -1, -1, 0, step, -step, top}, take.Channels[0])
}

func TestWhatIsWrittenIsReadAgain(t *testing.T) {
	r := rand.New(rand.NewPCG(3, 14))
	for _, e := range []Encoding{PCM24, Float32} {
		for channels := 1; channels <= MaxChannels; channels++ {
			want := make([][]float64, channels)
			for c := range want {
				want[c] = make([]float64, 1001)
				for i := range want[c] {
					want[c][i] = float64(float32(2*r.Float64() - 1))
					if e == PCM24 {
						want[c][i] = math.Round(want[c][i]*(1<<23)) / (1 << 23)
					}
				}
			}
			var out bytes.Buffer
			_, err := Write(&out, 96000, want, e)
			require.NoError(t, err)
			take, err := readBytes(out.Bytes())
			require.NoError(t, err)
			require.Empty(t, take.Warnings)
			require.Equal(t, &Take{Rate: 96000, Channels: want, Encoding: e}, take)
		}
	}
}

func TestWhatNoFileCanHoldIsNotWritten(t *testing.T) {
	one := [][]float64{{0}}
	for _, c := range []struct {
		name     string
		rate     preset.Hertz
		channels [][]float64
		encoding Encoding
		want     string
	}{
		{"no channels", 48000, nil, PCM24, "0 channels: 1 to 8"},
		{"nine channels", 48000, make([][]float64, 9), PCM24, "9 channels: 1 to 8"},
		{"channels of two lengths", 48000, [][]float64{{0, 0}, {0}}, PCM24, "channel 2 has 1 samples and channel 1 has 2"},
		{"nan", 48000, [][]float64{{0}, {math.NaN()}}, PCM24, "sample 1 of channel 2 is NaN"},
		{"inf", 48000, [][]float64{{0, math.Inf(1)}}, Float32, "sample 2 of channel 1 is +Inf"},
		{"too loud for 32 bits", 48000, [][]float64{{1e39}}, Float32, "is 1e+39: no file can hold it as sound"},
		{"a rate that is too low", 100, one, PCM24, "a sample rate of 100 Hz: a whole number from 8000 to 192000 Hz"},
		{"a rate between two numbers", 44100.5, one, PCM24, "a sample rate of 44100.5 Hz"},
		{"no rate", preset.Hertz(math.NaN()), one, PCM24, "a sample rate of NaN Hz"},
		{"an encoding that is only read", 48000, one, Encoding{Bits: 16, ValidBits: 16}, "16-bit PCM is not written"},
	} {
		t.Run(c.name, func(t *testing.T) {
			var out bytes.Buffer
			_, err := Write(&out, c.rate, c.channels, c.encoding)
			require.ErrorContains(t, err, c.want)
			require.Zero(t, out.Len())
		})
	}
}

type fullDisk struct{ room int }

var errFull = errors.New("no space left on device")

func (d *fullDisk) Write(b []byte) (int, error) {
	if len(b) > d.room {
		return d.room, errFull
	}
	d.room -= len(b)
	return len(b), nil
}

func TestAFullDiskIsTold(t *testing.T) {
	sound := [][]float64{make([]float64, 100_000)}
	for _, room := range []int{0, 40, 200_000, 300_043} {
		_, err := Write(&fullDisk{room}, 48000, sound, PCM24)
		require.ErrorIs(t, err, errFull, "%d bytes free", room)
	}
	_, err := Write(&fullDisk{300_044}, 48000, sound, PCM24)
	require.NoError(t, err)
}
