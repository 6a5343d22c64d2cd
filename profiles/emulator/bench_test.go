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

// stand is any unit on the test bench: time passes only when told.
type stand struct {
	t *testing.T
	*Unit
	now time.Time
}

func standing(t *testing.T, name string, o Options) *stand {
	t.Helper()
	u, err := New(name, o)
	require.NoError(t, err)
	return &stand{t, u, time.Date(2026, 3, 14, 9, 0, 0, 0, time.UTC)}
}

// arrive hands bytes over at once, without waiting.
func (s *stand) arrive(message string) { s.Arrive(s.now, fromHex(s.t, message)) }

// pass lets time go by and gives what left the unit meanwhile.
func (s *stand) pass(d time.Duration) string {
	s.now = s.now.Add(d)
	return toHex(slices.Concat(s.Run(s.now)...))
}

// ask sends a message, waits a second for what comes, and gives it.
func (s *stand) ask(message string) string {
	s.arrive(message)
	return s.pass(time.Second)
}

// bench is a five-line unit on it, opened.
type bench struct {
	*stand
	*fiveLine
}

func onBench(t *testing.T, o Options) *bench {
	t.Helper()
	s := standing(t, fiveLineName, o)
	return &bench{s, s.firmware.(*fiveLine)}
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
