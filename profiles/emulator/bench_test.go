package emulator

import (
	"encoding/hex"
	"fmt"
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"
)

// bench is a unit on the test bench: time passes only when told.
type bench struct {
	t *testing.T
	*FiveLine
	now time.Time
}

func onBench(t *testing.T, o Options) *bench {
	t.Helper()
	d, err := New("five-line", o)
	require.NoError(t, err)
	return &bench{t, d, time.Date(2026, 3, 14, 9, 0, 0, 0, time.UTC)}
}

// arrive hands bytes over at once, without waiting.
func (b *bench) arrive(message string) { b.Arrive(b.now, fromHex(b.t, message)) }

// pass lets time go by and gives what left the unit meanwhile.
func (b *bench) pass(d time.Duration) string {
	b.now = b.now.Add(d)
	return toHex(slices.Concat(b.Run(b.now)...))
}

// ask sends a message, waits a second for what comes, and gives it.
func (b *bench) ask(message string) string {
	b.arrive(message)
	return b.pass(time.Second)
}

// code is what the edit buffer holds at an address.
func (b *bench) code(address int) int {
	f, ok := find(address)
	require.True(b.t, ok, "address %02Xh", address)
	return b.edit.get(f)
}

func fromHex(t testing.TB, s string) []byte {
	t.Helper()
	b, err := hex.DecodeString(strings.ReplaceAll(s, " ", ""))
	require.NoError(t, err, s)
	return b
}

func toHex(b []byte) string { return strings.TrimSuffix(fmt.Sprintf("% X", b), " ") }

// framed is a message to unit 0 with its checksum, for where the bytes
// themselves are not what is tested; the golden conversations prove its parts.
func framed(command byte, data ...byte) string {
	rest := append([]byte{command}, data...)
	rest = append(rest, -sum7(rest)&0x7F)
	return "F0 7D 05 00 " + toHex(rest) + " F7"
}

// overwrite is 22h with a memory under a right CRC.
func overwrite(slot byte, m memory) string {
	m.seal()
	return framed(0x22, append([]byte{slot}, pack(m[:])...)...)
}
