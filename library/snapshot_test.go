package library

import (
	"bytes"
	"context"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"
)

func evenings() Snapshot {
	return Snapshot{
		Device: "five-line", Profile: []byte("the profile's text\n"), Port: "raw:/dev/snd/midiC1D0", UnitNumber: 3,
		Identity: []byte{0xF0, 0x7E, 0x03, 0x06, 0x02, 0xF7}, Taken: evening.Add(250 * time.Millisecond), Note: "before \"the gig\"\nside B", Complete: true,
		Slots: []SnapshotSlot{{Slot: 12, Messages: []byte{0xF0, 12, 0xF7}}, {Slot: 0, Messages: []byte("abc")}},
	}
}

// SHA-256 of "abc": FIPS 180-4's example, also ba7816bf… in RFC 6234. The others
// were found with the program sha256sum; own_sha256 over all the other lines.
const wantManifest = `format = "echowright-snapshot/1"
own_sha256 = "556d54496235cdae002053eb3ca96825d10730c55670793e61595853bffeb185"
device = "five-line"
profile_sha256 = "c50e91e57904183d7b3240ab127c5ba9596b95fec3318de4ceb3c4dbf08b469a"
port = "raw:/dev/snd/midiC1D0"
unit = 3
identity = "F0 7E 03 06 02 F7"
taken = 2026-03-14T19:30:00.25+01:00
note = "before \"the gig\"\nside B"
complete = true
[[slot]]
slot = 0
file = "slot-00.syx"
sha256 = "ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad"
bytes = 3
[[slot]]
slot = 12
file = "slot-12.syx"
sha256 = "63ff29ed4d6ec33624b03a8d016715cc43d304c714abcdd961b56c99a1396463"
bytes = 3
`

func TestASnapshotComesBackAsItWasWritten(t *testing.T) {
	l := open(t)
	want := evenings()
	name, err := l.WriteSnapshot(t.Context(), want)
	require.NoError(t, err)
	require.Equal(t, "2026-03-14-193000-five-line", name)
	require.Equal(t, []string{
		"lock", "snapshots/" + name + "/manifest.toml", "snapshots/" + name + "/profile.toml",
		"snapshots/" + name + "/slot-00.syx", "snapshots/" + name + "/slot-12.syx",
	}, files(t, l))
	manifest, err := os.ReadFile(filepath.Join(l.Home(), "snapshots", name, "manifest.toml"))
	require.NoError(t, err)
	require.Equal(t, wantManifest, string(manifest))

	got, err := l.Snapshot(name)
	require.NoError(t, err)
	require.True(t, want.Taken.Equal(got.Taken), "%v and %v", want.Taken, got.Taken)
	want.Name, want.Taken, want.ProfileSHA256, want.Sealed = name, got.Taken, got.ProfileSHA256, true
	want.Slots[0], want.Slots[1] = want.Slots[1], want.Slots[0]
	require.Equal(t, want, got)
	require.NoError(t, l.CheckSnapshot(name))
}

func TestSnapshotsOfOneSecondGetNamesOfTheirOwn(t *testing.T) {
	l := open(t)
	var names []string
	for range 3 {
		name, err := l.WriteSnapshot(t.Context(), evenings())
		require.NoError(t, err)
		names = append(names, name)
	}
	require.Equal(t, []string{"2026-03-14-193000-five-line", "2026-03-14-193000-five-line-2", "2026-03-14-193000-five-line-3"}, names)
	all, err := l.Snapshots()
	require.NoError(t, err)
	require.Len(t, all, 3)
	for i, e := range all {
		require.NoError(t, e.Err)
		require.Equal(t, names[i], e.Name)
		require.Equal(t, "five-line", e.Snapshot.Device)
		require.Len(t, e.Snapshot.Slots, 2)
		require.Empty(t, e.Snapshot.Profile)
	}
}

func TestASnapshotOfADeviceWithALongName(t *testing.T) {
	l := open(t)
	s := evenings()
	s.Device = strings.Repeat("long-", 12) + "name"
	for range 3 {
		name, err := l.WriteSnapshot(t.Context(), s)
		require.NoError(t, err)
		require.LessOrEqual(t, len(name), 64)
		got, err := l.Snapshot(name)
		require.NoError(t, err)
		require.Equal(t, s.Device, got.Device)
	}
}

func TestWhatIsNoSnapshotIsNotWritten(t *testing.T) {
	for _, c := range []struct {
		name   string
		change func(*Snapshot)
		want   string
	}{
		{"device that is a path", func(s *Snapshot) { s.Device = "../x" }, `device "../x": use lower-case letters`},
		{"channel 17", func(s *Snapshot) { s.Channel = 17 }, "channel 17: must lie from 1 to 16"},
		{"partial, and what was asked for not told", func(s *Snapshot) { s.Complete = false }, "complete is false, and what was asked for is not told: list the slots in asked"},
		{"complete, and yet something asked for", func(s *Snapshot) { s.Asked = []int{0, 12} }, "asked stands in a snapshot that is complete: leave it out"},
		{"a slot that was not asked for", func(s *Snapshot) { s.Complete, s.Asked = false, []int{0, 13} }, "slot 12: is not among the slots that were asked for"},
		{"asked for twice", func(s *Snapshot) { s.Complete, s.Asked = false, []int{12, 0, 12} }, "asked slot 12 stands twice or after a higher one"},
		{"asked for beyond every device", func(s *Snapshot) { s.Complete, s.Asked = false, []int{0, 12, 1 << 14} }, "asked slot 16384: must lie from 0 to 16383"},
		{"no profile", func(s *Snapshot) { s.Profile = nil }, "the profile has 0 bytes: 1 to 1048576"},
		{"another profile than stated", func(s *Snapshot) { s.ProfileSHA256 = strings.Repeat("0", 64) }, "not 0000"},
		{"slot twice", func(s *Snapshot) { s.Slots[1].Slot = 12 }, "slot 12: stands twice"},
		{"slot below 0", func(s *Snapshot) { s.Slots[1].Slot = -1 }, "slot -1: must lie from 0 to 16383"},
		{"slot without bytes", func(s *Snapshot) { s.Slots[1].Messages = nil }, "slot 0: has 0 bytes: must lie from 1 to 1048576"},
		{"unit 128", func(s *Snapshot) { s.UnitNumber = 128 }, "unit 128: must lie from 0 to 127"},
		{"no time", func(s *Snapshot) { s.Taken = time.Time{} }, "taken in the year 1: set the clock right"},
		{"an escape in the port", func(s *Snapshot) { s.Port = "raw:\x1b[2J" }, "port is too long or holds a control character"},
		{"an endless note", func(s *Snapshot) { s.Note = strings.Repeat("x", 1<<15) }, "note is too long or holds a control character"},
		{"too many slots", func(s *Snapshot) {
			s.Slots = nil
			for i := range 4097 {
				s.Slots = append(s.Slots, SnapshotSlot{Slot: i, Messages: []byte{1}})
			}
		}, "slot stands 4097 times: 4096 at most"},
	} {
		t.Run(c.name, func(t *testing.T) {
			l := open(t)
			s := evenings()
			c.change(&s)
			name, err := l.WriteSnapshot(t.Context(), s)
			require.ErrorContains(t, err, c.want)
			require.Empty(t, name)
			require.NoDirExists(t, l.Home())
		})
	}
}

func TestTheLargestManifestCanBeReadAgain(t *testing.T) {
	s := evenings()
	s.ProfileSHA256 = hash(s.Profile)
	s.Port, s.Note, s.Slots = strings.Repeat("\"", mostNote), strings.Repeat("\"", mostNote), nil
	for i := topSlot - mostSlots + 1; i <= topSlot; i++ {
		s.Slots = append(s.Slots, SnapshotSlot{Slot: i, Messages: []byte{0xF0, 0xF7}})
	}
	m := manifestOf(s)
	require.Empty(t, m.mistakes())
	got, err := parseManifest("m", m.format())
	require.NoError(t, err)
	require.Equal(t, m.Slots, got.Slots)
}

func TestEveryDamageIsFound(t *testing.T) {
	for _, c := range []struct {
		name   string
		damage func(t *testing.T, folder string)
		want   string
	}{
		{"a changed byte", func(t *testing.T, folder string) { flip(t, filepath.Join(folder, "slot-12.syx"), 1) }, "slot-12.syx has the SHA-256"},
		{"a slot cut short", func(t *testing.T, folder string) {
			require.NoError(t, os.Truncate(filepath.Join(folder, "slot-00.syx"), 2))
		},
			"slot-00.syx has 2 bytes where 3 were kept: take it from a copy of the library, or don't use it"},
		{"a slot missing", func(t *testing.T, folder string) { require.NoError(t, os.Remove(filepath.Join(folder, "slot-00.syx"))) }, "slot-00.syx is missing"},
		{"a changed profile", func(t *testing.T, folder string) { flip(t, filepath.Join(folder, "profile.toml"), 0) }, "profile.toml has the SHA-256"},
		{"no manifest", func(t *testing.T, folder string) {
			require.NoError(t, os.Remove(filepath.Join(folder, "manifest.toml")))
		}, "manifest.toml is missing"},
		{"manifest cut short", func(t *testing.T, folder string) {
			require.NoError(t, os.Truncate(filepath.Join(folder, "manifest.toml"), 50))
		}, "manifest.toml:2: "},
		{"a slot's hash cut off", func(t *testing.T, folder string) { rewrite(t, folder, "bytes = 3\n[[slot]]", "[[slot]]") }, "manifest.toml:11: bytes in [[slot]] is missing; add it"},
		{"another file's name", func(t *testing.T, folder string) { rewrite(t, folder, "slot-12.syx", "../../x.syx") }, `manifest.toml:18: slot 12: file "../../x.syx": its name must be "slot-12.syx"`},
		{"slots out of order", func(t *testing.T, folder string) {
			rewrite(t, folder, "slot = 0\nfile = \"slot-00.syx\"", "slot = 13\nfile = \"slot-13.syx\"")
		},
			"manifest.toml:17: slot 12: stands twice or after a higher one"},
		{"identity that is no hex", func(t *testing.T, folder string) { rewrite(t, folder, "F0 7E", "F0 7") }, "manifest.toml:7: identity is not made of pairs of hex digits"},
		{"a time without a zone", func(t *testing.T, folder string) { rewrite(t, folder, ".25+01:00", "") }, "manifest.toml:8: taken has no time zone"},
		{"a newer snapshot", func(t *testing.T, folder string) { rewrite(t, folder, "snapshot/1", "snapshot/2") }, "made by a newer echowright"},
	} {
		t.Run(c.name, func(t *testing.T) {
			l := open(t)
			name, err := l.WriteSnapshot(t.Context(), evenings())
			require.NoError(t, err)
			c.damage(t, l.snapshotPath(name))
			require.ErrorContains(t, l.CheckSnapshot(name), c.want)
			s, err := l.Snapshot(name)
			require.ErrorContains(t, err, c.want)
			require.Equal(t, Snapshot{}, s, "nobody is to restore from it")
			all, err := l.Snapshots()
			require.NoError(t, err)
			require.Len(t, all, 1, "it is listed all the same")
		})
	}
}

func flip(t *testing.T, path string, at int) {
	t.Helper()
	b, err := os.ReadFile(path)
	require.NoError(t, err)
	b[at] ^= 1
	require.NoError(t, os.WriteFile(path, b, 0o600))
}

func rewrite(t *testing.T, folder, from, to string) {
	t.Helper()
	path := filepath.Join(folder, manifestName)
	b, err := os.ReadFile(path)
	require.NoError(t, err)
	require.Contains(t, string(b), from)
	require.NoError(t, os.WriteFile(path, bytes.Replace(b, []byte(from), []byte(to), 1), 0o600))
}

func TestAllDamageIsToldAtOnce(t *testing.T) {
	l := open(t)
	name, err := l.WriteSnapshot(t.Context(), evenings())
	require.NoError(t, err)
	flip(t, filepath.Join(l.snapshotPath(name), "slot-00.syx"), 0)
	flip(t, filepath.Join(l.snapshotPath(name), "slot-12.syx"), 0)
	err = l.CheckSnapshot(name)
	require.ErrorContains(t, err, "slot-00.syx")
	require.ErrorContains(t, err, "slot-12.syx")
	var damaged *DamagedError
	require.ErrorAs(t, err, &damaged)
	require.Equal(t, name, damaged.Name)
}

func TestASnapshotThatIsNotThere(t *testing.T) {
	l := open(t)
	name, err := l.WriteSnapshot(t.Context(), evenings())
	require.NoError(t, err)
	_, err = l.Snapshot("2026-03-14-193000-fiveline")
	require.EqualError(t, err, `no snapshot "2026-03-14-193000-fiveline" in the library: did you mean "`+name+`"?`)
	for _, bad := range []string{"", "..", "../units", "x/../" + name} {
		_, err = l.Snapshot(bad)
		var missing *NotFoundError
		require.ErrorAs(t, err, &missing, "%q", bad)
	}
}

func TestWithoutTheLockNothingIsWritten(t *testing.T) {
	l := open(t)
	other := hold(t, l)
	defer other.Unlock()
	ctx, cancel := context.WithCancel(t.Context())
	cancel()
	_, err := l.WriteSnapshot(ctx, evenings())
	require.ErrorIs(t, err, context.Canceled)
	require.Equal(t, []string{"lock"}, files(t, l))
}

func FuzzParseManifest(f *testing.F) {
	f.Add([]byte(wantManifest))
	f.Fuzz(func(t *testing.T, text []byte) {
		m, err := parseManifest("m", text)
		if err != nil {
			return
		}
		again, err := parseManifest("m", m.format())
		require.NoError(t, err)
		require.True(t, m.Taken.Equal(again.Taken))
		m.OwnSHA256, again.OwnSHA256 = "", ""
		again.Taken, m.Identity, again.Identity = m.Taken, append(hexBytes{}, m.Identity...), append(hexBytes{}, again.Identity...)
		require.Equal(t, m, again)
	})
}
