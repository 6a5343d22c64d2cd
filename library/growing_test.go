package library

import (
	"os"
	"path/filepath"
	"testing"

	"github.com/stretchr/testify/require"
)

// begun is a partial snapshot: slots 0, 3 and 12 were asked for, 3 is there.
func begun() Snapshot {
	s := evenings()
	s.Complete, s.Asked = false, []int{12, 0, 3}
	s.Slots = []SnapshotSlot{{Slot: 3, Messages: []byte{0xF0, 3, 0xF7}}}
	return s
}

var rest = []SnapshotSlot{{Slot: 12, Messages: []byte{0xF0, 12, 0xF7}}, {Slot: 0, Messages: []byte("abc")}}

func write(t testing.TB, l *Library, s Snapshot) (name string) {
	t.Helper()
	name, err := l.WriteSnapshot(t.Context(), s)
	require.NoError(t, err)
	return name
}

func read(t testing.TB, l *Library, name string) Snapshot {
	t.Helper()
	s, err := l.Snapshot(name)
	require.NoError(t, err)
	return s
}

func slotNumbers(s Snapshot) (numbers []int) {
	for _, slot := range s.Slots {
		numbers = append(numbers, slot.Slot)
	}
	return numbers
}

func TestASnapshotGrowsUntilItIsComplete(t *testing.T) {
	l := open(t)
	name := write(t, l, begun())
	require.Equal(t, []int{0, 3, 12}, read(t, l, name).Asked, "lowest first")

	require.NoError(t, l.GrowSnapshot(t.Context(), name, rest[:1], false))
	s := read(t, l, name)
	require.Equal(t, []int{3, 12}, slotNumbers(s))
	require.False(t, s.Complete)

	require.NoError(t, l.GrowSnapshot(t.Context(), name, rest[1:], true))
	s = read(t, l, name)
	require.Equal(t, []SnapshotSlot{rest[1], {Slot: 3, Messages: []byte{0xF0, 3, 0xF7}}, rest[0]}, s.Slots)
	require.True(t, s.Complete)
	require.Empty(t, s.Asked)
	require.ErrorContains(t, l.GrowSnapshot(t.Context(), name, nil, true), "is complete: begin another one for further slots")
}

func TestASnapshotThatCannotGrowStaysAsItIs(t *testing.T) {
	for _, c := range []struct {
		name     string
		more     []SnapshotSlot
		complete bool
		want     string
	}{
		{"a slot that was not asked for", []SnapshotSlot{{Slot: 4, Messages: []byte{1}}}, false, "slot 4: is not among the slots that were asked for"},
		{"a slot twice", []SnapshotSlot{rest[0], rest[0]}, false, "slot 12: stands twice"},
		{"a slot without bytes", []SnapshotSlot{{Slot: 12}}, false, "slot 12: has 0 bytes"},
		{"a slot that holds something else", []SnapshotSlot{{Slot: 3, Messages: []byte{1}}}, false, "slot 3 is in it already, with other content"},
		{"complete while two are lacking", nil, true, "it is not complete: slots 0, 12 asked for, and not there; read what is missing first"},
		{"complete while one is lacking", rest[:1], true, "it is not complete: slot 0 asked for"},
	} {
		t.Run(c.name, func(t *testing.T) {
			l := open(t)
			name := write(t, l, begun())
			before := read(t, l, name)
			err := l.GrowSnapshot(t.Context(), name, c.more, c.complete)
			require.ErrorContains(t, err, `snapshot "`+name+`"`)
			require.ErrorContains(t, err, c.want)
			require.Equal(t, before, read(t, l, name))
			require.Len(t, files(t, l), 4, "lock, manifest, profile and slot 3")
		})
	}
}

func TestTheSameSlotAgainIsNoChange(t *testing.T) {
	l := open(t)
	name := write(t, l, begun())
	before := read(t, l, name)
	require.NoError(t, l.GrowSnapshot(t.Context(), name, before.Slots, false))
	require.Equal(t, before, read(t, l, name))
}

func TestWhatIsDamagedIsNotMadeComplete(t *testing.T) {
	l := open(t)
	name := write(t, l, begun())
	flip(t, filepath.Join(l.snapshotPath(name), "slot-03.syx"), 1)
	err := l.GrowSnapshot(t.Context(), name, rest, true)
	require.ErrorContains(t, err, "it stays partial")
	var damaged *DamagedError
	require.ErrorAs(t, err, &damaged)
	require.Equal(t, "slot-03.syx", damaged.File)
	m, err := l.readManifest(name)
	require.NoError(t, err)
	require.False(t, m.Complete)
}

func TestASnapshotThatIsNotThereDoesNotGrow(t *testing.T) {
	l := open(t)
	for _, name := range []string{"", "..", "2026-03-14-193000-five-line", "../units"} {
		var missing *NotFoundError
		require.ErrorAs(t, l.GrowSnapshot(t.Context(), name, rest, false), &missing, "%q", name)
	}
	require.NoDirExists(t, l.Home())

	name := write(t, l, begun())
	require.NoError(t, os.Remove(filepath.Join(l.snapshotPath(name), manifestName)))
	require.ErrorContains(t, l.GrowSnapshot(t.Context(), name, rest, false), "manifest.toml is missing")
	require.NoFileExists(t, filepath.Join(l.snapshotPath(name), "slot-12.syx"))
}

// What a kill leaves in a snapshot's folder between one file and the next: readers
// see the old snapshot, and growing goes on as if nothing had happened.
func TestGrowingAfterAKillInTheMiddle(t *testing.T) {
	grown := open(t)
	write(t, grown, begun())
	require.NoError(t, grown.GrowSnapshot(t.Context(), firstName, rest, true))
	whole, err := os.ReadFile(filepath.Join(grown.snapshotPath(firstName), manifestName))
	require.NoError(t, err)

	for _, c := range []struct {
		name string
		left map[string]string // file to content
	}{
		{"a slot half written", map[string]string{".partial-0011223344556677": "a"}},
		{"a slot without a line", map[string]string{"slot-12.syx": "\xf0\x0c\xf7"}},
		{"a slot without a line, of another conversation", map[string]string{"slot-12.syx": "something that the device held then"}},
		{"two slots without lines", map[string]string{"slot-12.syx": "\xf0\x0c\xf7", "slot-00.syx": "abc"}},
		{"the new manifest half written", map[string]string{
			"slot-12.syx": "\xf0\x0c\xf7", "slot-00.syx": "abc", ".partial-0011223344556677": string(whole[:100])}},
		{"the new manifest written, not in its place", map[string]string{
			"slot-12.syx": "\xf0\x0c\xf7", "slot-00.syx": "abc", ".partial-0011223344556677": string(whole)}},
	} {
		t.Run(c.name, func(t *testing.T) {
			l := open(t)
			name := write(t, l, begun())
			before := read(t, l, name)
			for file, content := range c.left {
				require.NoError(t, os.WriteFile(filepath.Join(l.snapshotPath(name), file), []byte(content), 0o600))
			}
			require.Equal(t, before, read(t, l, name))

			require.NoError(t, l.GrowSnapshot(t.Context(), name, rest, true))
			require.Equal(t, files(t, grown), files(t, l))
			require.Equal(t, read(t, grown, firstName).Slots, read(t, l, name).Slots)
		})
	}
}

// Whoever reads while a snapshot grows sees one that is valid, and never one that
// has become smaller.
func TestReadersWhileASnapshotGrows(t *testing.T) {
	l := open(t)
	s := begun()
	s.Asked, s.Slots = nil, nil
	for i := range 40 {
		s.Asked = append(s.Asked, i)
	}
	name := write(t, l, s)
	done := make(chan error)
	go func() {
		var err error
		for i := 0; i < 40 && err == nil; i++ {
			err = l.GrowSnapshot(t.Context(), name, []SnapshotSlot{{Slot: i, Messages: []byte{0xF0, byte(i), 0xF7}}}, i == 39)
		}
		done <- err
	}()
	seen := 0
	for {
		select {
		case err := <-done:
			require.NoError(t, err)
			require.True(t, read(t, l, name).Complete)
			return
		default:
			got := read(t, l, name)
			require.GreaterOrEqual(t, len(got.Slots), seen)
			seen = len(got.Slots)
			require.Equal(t, seen == 40, got.Complete)
		}
	}
}

// What a backup pays for being resumable: the disk is waited for at each slot.
func BenchmarkGrowSnapshotSlotBySlot(b *testing.B) {
	const slots = 64
	s := begun()
	s.Asked, s.Slots = nil, nil
	for i := range slots {
		s.Asked = append(s.Asked, i)
	}
	l := open(b)
	message := make([]byte, 110) // about what a memory of the five-line unit takes
	for b.Loop() {
		name := write(b, l, s)
		for i := range slots {
			require.NoError(b, l.GrowSnapshot(b.Context(), name, []SnapshotSlot{{Slot: i, Messages: message}}, i == slots-1))
		}
	}
	b.ReportMetric(float64(b.Elapsed().Microseconds())/1000/slots/float64(b.N), "ms/slot")
}
