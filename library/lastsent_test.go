package library

import (
	"fmt"
	"os"
	"path/filepath"
	"testing"
	"time"

	"github.com/stretchr/testify/require"
)

// sent is what was sent to slots of a device that cannot be read; each slot's
// message holds the number that tells it from others.
func sent(at time.Time, number byte, slots ...int) Snapshot {
	s := Snapshot{
		Device: "five-line", Profile: []byte("p"), Port: "os:left", UnitNumber: 3, Channel: 5,
		Taken: at, Sent: true, Complete: true,
	}
	for _, n := range slots {
		s.Slots = append(s.Slots, SnapshotSlot{Slot: n, Messages: []byte{0xF0, number, 0xF7}})
	}
	return s
}

func lastSent(t testing.TB, l *Library, slot int) (number byte) {
	t.Helper()
	s, found, err := l.LastSent("five-line", "os:left", 3, 5, slot)
	require.NoError(t, err)
	require.True(t, found)
	require.True(t, s.Sent)
	require.NotEmpty(t, s.Name)
	return s.Slots[0].Messages[1]
}

func TestWhatWasLastSent(t *testing.T) {
	l := open(t)
	_, found, err := l.LastSent("five-line", "os:left", 3, 5, 0)
	require.NoError(t, err)
	require.False(t, found, "in an empty library")

	write(t, l, sent(evening, 1, 0, 1))
	write(t, l, sent(evening.Add(time.Minute), 2, 0))
	write(t, l, sent(evening.Add(2*time.Minute), 3, 7))
	for _, other := range []func(*Snapshot){
		func(s *Snapshot) { s.Device = "five-line-2" },
		func(s *Snapshot) { s.Port = "os:right" },
		func(s *Snapshot) { s.UnitNumber = 4 },
		func(s *Snapshot) { s.Channel = 0 },
		func(s *Snapshot) { s.Sent = false },
	} {
		s := sent(evening.Add(time.Hour), 9, 0, 1, 7)
		other(&s)
		write(t, l, s)
	}
	for slot, want := range map[int]byte{0: 2, 1: 1, 7: 3} {
		require.Equal(t, want, lastSent(t, l, slot), "slot %d", slot)
	}
	_, found, err = l.LastSent("five-line", "os:left", 3, 5, 8)
	require.NoError(t, err)
	require.False(t, found, "nothing was ever sent to slot 8")
}

func TestTheLastOfASecond(t *testing.T) {
	l := open(t)
	for i := range 12 { // to "…-12", which comes before "…-2" in a listing
		write(t, l, sent(evening.Add(time.Duration(i)*time.Millisecond), byte(i), 0))
	}
	require.Equal(t, byte(11), lastSent(t, l, 0))
}

// The names tell the time of the place. Where clocks were put back in between, by
// a journey or the end of summer, an earlier name may be the later snapshot.
func TestTheLastOnAJourney(t *testing.T) {
	for _, c := range []struct {
		name         string
		first, later int // hours before UTC
		between      time.Duration
	}{
		{"the end of summer", 2, 1, 10 * time.Minute},
		{"from Auckland to Hawaii", 13, -10, 9 * time.Hour},
		{"from one end of the day to the other", 14, -12, time.Second},
		{"eastwards", -8, 9, time.Second},
	} {
		t.Run(c.name, func(t *testing.T) {
			l := open(t)
			write(t, l, sent(evening.In(time.FixedZone("", c.first*3600)), 1, 0))
			write(t, l, sent(evening.Add(c.between).In(time.FixedZone("", c.later*3600)), 2, 0))
			write(t, l, sent(evening.Add(-48*time.Hour), 0, 0))
			require.Equal(t, byte(2), lastSent(t, l, 0))
		})
	}
}

// What is older than the last is not looked at; what is newer and damaged may have
// been the last.
func TestDamageAndWhatWasLastSent(t *testing.T) {
	l := open(t)
	old := write(t, l, sent(evening.Add(-72*time.Hour), 1, 0))
	write(t, l, sent(evening, 2, 0))
	flip(t, filepath.Join(l.snapshotPath(old), manifestName), 100)
	require.Equal(t, byte(2), lastSent(t, l, 0))

	newer := write(t, l, sent(evening.Add(time.Hour), 3, 0))
	flip(t, filepath.Join(l.snapshotPath(newer), "slot-00.syx"), 1)
	_, found, err := l.LastSent("five-line", "os:left", 3, 5, 0)
	var damaged *DamagedError
	require.ErrorAs(t, err, &damaged)
	require.Equal(t, newer, damaged.Name)
	require.False(t, found)

	require.NoError(t, os.Truncate(filepath.Join(l.snapshotPath(newer), manifestName), 0))
	_, _, err = l.LastSent("five-line", "os:left", 3, 5, 0)
	require.ErrorContains(t, err, newer)
	require.NoError(t, os.RemoveAll(l.snapshotPath(newer)))
	require.Equal(t, byte(2), lastSent(t, l, 0))
}

func TestASnapshotThatWasGivenAnotherName(t *testing.T) {
	l := open(t)
	name := write(t, l, sent(evening, 1, 0))
	write(t, l, sent(evening.Add(-time.Hour), 0, 0))
	require.NoError(t, os.Rename(l.snapshotPath(name), l.snapshotPath("before-the-gig")))
	require.Equal(t, byte(1), lastSent(t, l, 0))
}

// A thousand snapshots, four of five of them backups of 64 slots; where the slot
// was never sent all of them must be looked at.
func BenchmarkLastSent(b *testing.B) {
	l := open(b)
	for i := range 1000 {
		at := evening.Add(time.Duration(i) * 3 * time.Hour)
		s := sent(at, byte(i&0x7F), i%16)
		if i%5 != 0 {
			for n := range 64 {
				s.Slots = append(s.Slots[:n], SnapshotSlot{Slot: n, Messages: []byte{0xF0, 0xF7}})
			}
			s.Sent = false
		}
		m := s
		m.ProfileSHA256 = hash(s.Profile)
		putUnsynced(b, l, m)
	}
	for _, c := range []struct {
		name  string
		slot  int
		found bool
	}{{"found among the newest", 3, true}, {"never sent", 99, false}} {
		b.Run(c.name, func(b *testing.B) {
			for b.Loop() {
				_, found, err := l.LastSent("five-line", "os:left", 3, 5, c.slot)
				require.NoError(b, err)
				require.Equal(b, c.found, found)
			}
			b.ReportMetric(float64(b.Elapsed().Milliseconds())/float64(b.N), "ms/lookup")
		})
	}
}

// putUnsynced writes a snapshot as WriteSnapshot does, without waiting for the disk.
func putUnsynced(b *testing.B, l *Library, s Snapshot) {
	b.Helper()
	folder := l.snapshotPath(folderName(s.Taken, s.Device))
	require.NoError(b, os.MkdirAll(folder, 0o755))
	contents := map[string][]byte{manifestName: manifestOf(s).format(), profileName: s.Profile}
	for _, slot := range s.Slots {
		contents[fmt.Sprintf("slot-%02d.syx", slot.Slot)] = slot.Messages
	}
	for name, content := range contents {
		require.NoError(b, os.WriteFile(filepath.Join(folder, name), content, 0o644))
	}
}
