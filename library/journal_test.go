package library

import (
	"os"
	"path/filepath"
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

func TestAFinishedIntentLiesInTheTrash(t *testing.T) {
	l := open(t)
	name := begin(t, l, pushing())
	require.NoError(t, l.Finish(t.Context(), name))
	all, err := l.Intents()
	require.NoError(t, err)
	require.Empty(t, all)
	require.FileExists(t, filepath.Join(l.Home(), "trash", "journal", name, "intent.toml"))
	var missing *NotFoundError
	require.ErrorAs(t, l.Finish(t.Context(), name), &missing)
	_, err = l.Intent(name)
	require.ErrorAs(t, err, &missing)

	require.Equal(t, name+"-2", begin(t, l, pushing()), "a name is never given twice")
	require.Equal(t, name+"-3", begin(t, l, pushing()))
}
