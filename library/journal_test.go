package library

import (
	"context"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"
)

func pushing() Intent {
	return Intent{
		Doing: "push", Note: "saltmarsh-drum-1 into slot 5", Device: "five-line", Profile: []byte("the profile's text\n"),
		Port: "raw:/dev/snd/midiC1D0", Rig: "left-rack", UnitNumber: 3, Channel: 11, Began: evening.Add(250 * time.Millisecond),
		Snapshot: "2026-03-14-192959-five-line", ReadBack: true,
		Slots: []IntentSlot{{Slot: 12, Content: []byte{0xF0, 12, 0xF7}}, {Slot: 5, Content: []byte("abc")}},
	}
}

// The hashes are those of wantManifest: the same bytes, in another order.
const wantIntent = `format = "echowright-intent/1"
own_sha256 = "1853fe8c9ad32ddef787a6ca38b69b98838fcbb7f4abeb6107d35e523c8e20b0"
doing = "push"
note = "saltmarsh-drum-1 into slot 5"
device = "five-line"
profile_sha256 = "c50e91e57904183d7b3240ab127c5ba9596b95fec3318de4ceb3c4dbf08b469a"
port = "raw:/dev/snd/midiC1D0"
rig = "left-rack"
unit = 3
channel = 11
began = 2026-03-14T19:30:00.25+01:00
snapshot = "2026-03-14-192959-five-line"
read_back = true
[[slot]]
slot = 12
file = "slot-12.bin"
sha256 = "63ff29ed4d6ec33624b03a8d016715cc43d304c714abcdd961b56c99a1396463"
bytes = 3
[[slot]]
slot = 5
file = "slot-05.bin"
sha256 = "ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad"
bytes = 3
`

func begin(t testing.TB, l *Library, i Intent) (name string) {
	t.Helper()
	name, err := l.Begin(t.Context(), i)
	require.NoError(t, err)
	return name
}

func TestAnIntentComesBackAsItWasBegun(t *testing.T) {
	l := open(t)
	want := pushing()
	name := begin(t, l, want)
	require.Equal(t, "2026-03-14-193000-five-line", name)
	folder := "journal/" + name + "/"
	require.Equal(t, []string{folder + "intent.toml", folder + "profile.toml", folder + "slot-05.bin", folder + "slot-12.bin", "lock"}, files(t, l))
	text, err := os.ReadFile(filepath.Join(l.Home(), "journal", name, "intent.toml"))
	require.NoError(t, err)
	require.Equal(t, wantIntent, string(text))

	got, err := l.Intent(name)
	require.NoError(t, err)
	require.True(t, want.Began.Equal(got.Began), "%v and %v", want.Began, got.Began)
	want.Name, want.Began, want.ProfileSHA256 = name, got.Began, got.ProfileSHA256
	require.Equal(t, want, got, "the slots in the order in which they are written")
	all, err := l.Intents()
	require.NoError(t, err)
	require.Equal(t, []IntentEntry{{Name: name, Path: l.intentPath(name), Intent: got}}, all)
}

func TestAFinishedIntentIsGone(t *testing.T) {
	l := open(t)
	name := begin(t, l, pushing())
	other := begin(t, l, pushing())
	require.Equal(t, name+"-2", other)
	require.NoError(t, l.Finish(t.Context(), name))
	all, err := l.Intents()
	require.NoError(t, err)
	require.Len(t, all, 1)
	require.Equal(t, other, all[0].Name)
	require.NoDirExists(t, filepath.Join(l.Home(), "trash"), "a folder with every push would fill the disk")

	var missing *NotFoundError
	require.ErrorAs(t, l.Finish(t.Context(), name), &missing)
	_, err = l.Intent(name)
	require.ErrorAs(t, err, &missing)
	require.NoError(t, l.Finish(t.Context(), other))
	require.Equal(t, []string{"lock"}, files(t, l))
}

func TestIntentsAreListedOldestFirst(t *testing.T) {
	l := open(t)
	var want []string
	for _, c := range []struct {
		minutes int
		zone    int
	}{{0, 1}, {10, 14}, {20, -12}, {30, 0}} { // as at the ends of journeys: names tell the time of the place
		i := pushing()
		i.Began = evening.Add(time.Duration(c.minutes) * time.Minute).In(time.FixedZone("", c.zone*3600))
		want = append(want, begin(t, l, i))
	}
	broken := begin(t, l, pushing())
	require.NoError(t, os.WriteFile(filepath.Join(l.intentPath(broken), intentName), []byte("?"), 0o600))
	all, err := l.Intents()
	require.NoError(t, err)
	var names []string
	for _, e := range all {
		names = append(names, e.Name)
		require.Equal(t, e.Name == broken, e.Err != nil, "%s: %v", e.Name, e.Err)
	}
	require.Equal(t, append([]string{broken}, want...), names, "nobody knows how old the broken one is")
}

func TestWhereNothingIsUnderWayNothingIsMade(t *testing.T) {
	l := open(t)
	all, err := l.Intents()
	require.NoError(t, err)
	require.Empty(t, all)
	require.NoDirExists(t, l.Home())
	var missing *NotFoundError
	require.ErrorAs(t, l.Finish(t.Context(), "2026-03-14-193000-five-line"), &missing)
	require.NoDirExists(t, l.Home())
}

func TestNoNameOfAnIntentLeadsElsewhere(t *testing.T) {
	l := open(t)
	name := begin(t, l, pushing())
	snapshot := write(t, l, evenings())
	require.NoError(t, os.Symlink(l.snapshotPath(snapshot), l.intentPath("a-link")))
	for _, bad := range []string{"", ".", "..", "../snapshots/" + snapshot, "x/../" + name, "a-link", "\x1b[2J", name + "/"} {
		var missing *NotFoundError
		_, err := l.Intent(bad)
		require.ErrorAs(t, err, &missing, "%q", bad)
		require.NotContains(t, err.Error(), "\x1b")
		require.ErrorAs(t, l.Finish(t.Context(), bad), &missing, "%q", bad)
	}
	require.NoError(t, l.CheckSnapshot(snapshot))
	_, err := l.Intent("2026-03-14-193000-fiveline")
	require.EqualError(t, err, `no intent "2026-03-14-193000-fiveline" in the library: did you mean "`+name+`"?`)
}

func TestWhatElseLiesInTheJournal(t *testing.T) {
	l := open(t)
	name := begin(t, l, pushing())
	for _, folder := range []string{".git", ".partial-0011223344556677", "My \x1b[2JNotes"} {
		require.NoError(t, os.Mkdir(l.intentPath(folder), 0o755))
	}
	require.NoError(t, os.WriteFile(l.intentPath("notes.txt"), []byte("not an intent"), 0o600))
	all, err := l.Intents()
	require.NoError(t, err)
	require.Len(t, all, 2)
	require.ErrorContains(t, all[0].Err, `intent "My \x1b[2JNotes": use lower-case letters`)
	require.ErrorContains(t, all[0].Err, "rename its folder")
	require.Equal(t, name, all[1].Name)
	require.NoError(t, all[1].Err)

	begin(t, l, pushing())
	require.NoDirExists(t, l.intentPath(".partial-0011223344556677"), "what a kill left is cleared by the next")
	require.DirExists(t, l.intentPath(".git"))
}

func TestWhatIsNoIntentIsNotWritten(t *testing.T) {
	for _, c := range []struct {
		name   string
		change func(*Intent)
		want   string
	}{
		{"doing nothing", func(i *Intent) { i.Doing = "" }, "doing is empty: say it"},
		{"no port", func(i *Intent) { i.Port = "" }, "port is empty: say it"},
		{"an escape in the port", func(i *Intent) { i.Port = "raw:\x1b[2J" }, "port is too long or holds a control character"},
		{"an endless note", func(i *Intent) { i.Note = strings.Repeat("x", 1<<15) }, "note is too long"},
		{"device that is a path", func(i *Intent) { i.Device = "../x" }, `device "../x": use lower-case letters`},
		{"rig that is a path", func(i *Intent) { i.Rig = "../x" }, `rig "../x": use lower-case letters`},
		{"snapshot that is a path", func(i *Intent) { i.Snapshot = "../x" }, `snapshot "../x": use lower-case letters`},
		{"no profile", func(i *Intent) { i.Profile = nil }, "the profile has 0 bytes: 1 to 1048576"},
		{"another profile than stated", func(i *Intent) { i.ProfileSHA256 = strings.Repeat("0", 64) }, "not 0000"},
		{"unit −1", func(i *Intent) { i.UnitNumber = -1 }, "unit -1: must lie from 0 to 127"},
		{"channel 17", func(i *Intent) { i.Channel = 17 }, "channel 17: must lie from 1 to 16"},
		{"no time", func(i *Intent) { i.Began = time.Time{} }, "began in the year 1: set the clock right"},
		{"no slot", func(i *Intent) { i.Slots = nil }, "slot is missing: an intent is about one slot at least"},
		{"a slot twice", func(i *Intent) { i.Slots[1].Slot = 12 }, "slot 12: stands twice: each slot once"},
		{"slot below 0", func(i *Intent) { i.Slots[1].Slot = -1 }, "slot -1: must lie from 0 to 16383"},
		{"slot without content", func(i *Intent) { i.Slots[1].Content = nil }, "slot 5: has 0 bytes: must lie from 1 to 1048576"},
		{"slot with too much", func(i *Intent) { i.Slots[1].Content = make([]byte, 1<<20+1) }, "slot 5: has 1048577 bytes"},
	} {
		t.Run(c.name, func(t *testing.T) {
			l := open(t)
			i := pushing()
			c.change(&i)
			name, err := l.Begin(t.Context(), i)
			require.ErrorContains(t, err, "intent cannot be written: ")
			require.ErrorContains(t, err, c.want)
			require.Empty(t, name)
			require.NoDirExists(t, l.Home())
		})
	}
}

func TestAnIntentOfADeviceThatCannotBeRead(t *testing.T) {
	l := open(t)
	i := pushing()
	i.ReadBack, i.Snapshot, i.Rig, i.Note, i.Channel = false, "", "", "", 0
	name := begin(t, l, i)
	got, err := l.Intent(name)
	require.NoError(t, err)
	require.False(t, got.ReadBack)
	require.Empty(t, got.Snapshot+got.Rig+got.Note)
	require.Zero(t, got.Channel)
	text, err := os.ReadFile(filepath.Join(l.intentPath(name), intentName))
	require.NoError(t, err)
	require.NotRegexp(t, "(?m)^(snapshot|rig|note|channel)", string(text), "what there is none of is left out")
}

func TestTheLargestIntentCanBeReadAgain(t *testing.T) {
	i := pushing()
	i.ProfileSHA256 = hash(i.Profile)
	i.Doing, i.Note, i.Port = strings.Repeat("\"", mostNote), strings.Repeat("\"", mostNote), strings.Repeat("\"", mostNote)
	i.Slots = nil
	for n := topSlot; n > topSlot-mostSlots; n-- {
		i.Slots = append(i.Slots, IntentSlot{Slot: n, Content: []byte{0xF0, 0xF7}})
	}
	m := intentFileOf(i)
	require.Empty(t, m.mistakes())
	got, err := parseIntent("i", m.format())
	require.NoError(t, err)
	require.Equal(t, m.Slots, got.Slots)
}

func TestWithoutTheLockNoIntentIsBegun(t *testing.T) {
	l := open(t)
	name := begin(t, l, pushing())
	other := hold(t, l)
	defer other.Unlock()
	ctx, cancel := context.WithCancel(t.Context())
	cancel()
	_, err := l.Begin(ctx, pushing())
	require.ErrorIs(t, err, context.Canceled)
	require.ErrorIs(t, l.Finish(ctx, name), context.Canceled)
	require.Equal(t, 1, requireIntents(t, l, 1), "reading asks for no lock")
}

func FuzzParseIntent(f *testing.F) {
	f.Add([]byte(wantIntent))
	f.Add([]byte(strings.Replace(wantIntent, "channel = 11\n", "", 1)))
	f.Add([]byte("format = \"echowright-intent/1\"\n[[slot]]\n"))
	f.Fuzz(func(t *testing.T, text []byte) {
		m, err := parseIntent("i", text)
		if err != nil {
			return
		}
		formatted := m.format()
		require.True(t, intact(formatted))
		again, err := parseIntent("i", formatted)
		require.NoError(t, err)
		require.True(t, m.Began.Equal(again.Began))
		m.OwnSHA256, again.OwnSHA256, again.Began = "", "", m.Began
		require.Equal(t, m, again)
	})
}

// Nothing under way is what nearly every command finds.
func BenchmarkIntentsOfAnEmptyJournal(b *testing.B) {
	l := open(b)
	require.NoError(b, l.Finish(b.Context(), begin(b, l, pushing())))
	for b.Loop() {
		all, err := l.Intents()
		require.NoError(b, err)
		require.Empty(b, all)
	}
	b.ReportMetric(float64(b.Elapsed().Microseconds())/float64(b.N), "µs/look")
}
