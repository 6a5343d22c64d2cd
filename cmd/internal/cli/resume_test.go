package cli

import (
	"errors"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"echowright/library"
	"echowright/library/exchange"
	"echowright/midi/transfer"
	"echowright/profiles/emulator"
)

// leaveOpen notes, as a push that was killed has done, that slot 5 is to hold what
// slot 9 does, and gives the name of the entry. Nothing has been sent yet.
func (b bench) leaveOpen(t *testing.T, port string) string {
	t.Helper()
	shelf, err := library.Open(b.Getenv("ECHOWRIGHT_HOME"), b.Now)
	require.NoError(t, err)
	snapshot := b.with(t, "backup", "--slots", "5", "--json", "-q").decode(t)["snapshot"].(string)
	asked, err := b.device.Memory(9)
	require.NoError(t, err)
	name, err := shelf.Begin(t.Context(), library.Intent{
		Doing: "push", Note: "left open", Device: "five-line", Profile: fiveLine(t).Source(),
		Port: port, Rig: "stage", Began: b.Now(), Snapshot: snapshot, ReadBack: true,
		Slots: []library.IntentSlot{{Slot: 5, Content: asked}},
	})
	require.NoError(t, err)
	return name
}

func (b bench) slot(t *testing.T, number int) []byte {
	t.Helper()
	m, err := b.device.Memory(number)
	require.NoError(t, err)
	return m
}

func TestNothingIsForgottenAfterANo(t *testing.T) {
	for _, answer := range []string{"", "n\n", "bench\n"} {
		onBench(t, emulator.Options{}, func(t *testing.T, b bench) {
			name := b.leaveOpen(t, "bench:device")
			b.Stdin = strings.NewReader(answer)
			got := b.run(t, "resume", "--forget")
			require.Equal(t, exitMisused, got.code, got.talk)
			require.Contains(t, got.talk, "Forget "+name+" and leave the slots as they are? [y/N] \nechowright: "+name+" stays in the journal: not agreed to")
			require.Contains(t, b.run(t, "resume", "--list").out, name)

			b.Stdin = strings.NewReader("y\n")
			require.Equal(t, exitDone, b.run(t, "resume", "--forget").code)
			require.Equal(t, "nothing is under way\n", b.run(t, "resume", "--list").out)
		})
	}
}

func TestResumeEndsWhatIsUnderWay(t *testing.T) {
	for _, c := range []struct {
		flags []string
		holds int // slot 5 ends with what this one held in the beginning
		says  string
	}{
		{nil, 9, "push of slot 5 on bench:device is finished; slot 5 written; read back and verified\n"},
		{[]string{"--put-back"}, 5, "push of slot 5 on bench:device is put back as it was; slot 5 held it already; read back and verified\n"},
		{[]string{"--forget", "--yes"}, 5, "is forgotten; the device is as it is; what the slots held before is kept as "},
	} {
		onBench(t, emulator.Options{}, func(t *testing.T, b bench) {
			want := b.slot(t, c.holds)
			name := b.leaveOpen(t, "bench:device")
			got := b.run(t, append([]string{"resume", name}, c.flags...)...)
			require.Equal(t, exitDone, got.code, got.talk)
			require.Contains(t, got.out, c.says)
			require.Empty(t, got.talk)
			require.Equal(t, want, b.slot(t, 5))
			require.Equal(t, "nothing is under way\n", b.run(t, "resume").out)
			require.Equal(t, exitFailed, b.run(t, "resume", name).code, "it is gone")
		})
	}
}

func TestFieldsOfResume(t *testing.T) {
	onBench(t, emulator.Options{}, func(t *testing.T, b bench) {
		b.leaveOpen(t, "bench:device")
		open := hasFields(t, first(t, b.run(t, "resume", "--list", "--json").decode(t)["intent"]),
			"name", "doing", "note", "device", "port", "rig", "unit", "began", "slots", "snapshot", "port_in_use")
		require.Equal(t, "2026-03-14 19:30:00", open["began"])
		require.Equal(t, []any{5.0}, open["slots"])
		done := hasFields(t, first(t, b.run(t, "resume", "--json").decode(t)["resumed"]),
			"intent", "doing", "put_back", "written", "same", "verified", "found", "messages", "bytes", "seconds")
		require.Equal(t, open["name"], done["intent"])
		require.Equal(t, []any{}, b.run(t, "resume", "--json").decode(t)["resumed"])
		require.Equal(t, []any{}, b.run(t, "resume", "--forget", "--json").decode(t)["forgotten"])
	})
}

func TestOfSeveralEachIsTried(t *testing.T) {
	onBench(t, emulator.Options{}, func(t *testing.T, b bench) {
		want := b.slot(t, 9)
		b.leaveOpen(t, "raw:/nowhere")
		b.leaveOpen(t, "bench:device")
		got := b.run(t, "resume")
		require.Equal(t, exitFailed, got.code)
		require.Contains(t, got.out, "push of slot 5 on bench:device is finished")
		require.Contains(t, got.talk, "push of slot 5 on raw:/nowhere (stage), begun 2026-03-14 19:30: port raw:/nowhere")
		require.Contains(t, got.talk, "it stays in the journal: `echowright resume` finishes it")
		require.Contains(t, got.talk, "--port names the port if the device is on another one now")
		require.Equal(t, want, b.slot(t, 5))

		got = b.run(t, "resume", "--port", "bench:device", "--put-back")
		require.Equal(t, exitDone, got.code, got.talk)
		require.NotEqual(t, want, b.slot(t, 5), "what it held when that one was begun")
	})
}

func TestResumeOfADeviceThatIsStillIll(t *testing.T) {
	onBench(t, emulator.Options{Faults: emulator.Faults{Keep: []int{0}}}, func(t *testing.T, b bench) {
		b.leaveOpen(t, "bench:device")
		got := b.run(t, "resume")
		require.Equal(t, exitDifferent, got.code)
		require.Contains(t, got.talk, "a-time: wanted ")
		require.Contains(t, got.talk, "`echowright resume --put-back` puts back what was there")
		require.Contains(t, b.run(t, "device", "list").talk, "has not come to its end", "it is still known")
		require.Equal(t, exitDone, b.run(t, "resume", "--put-back").code)
		require.Empty(t, b.run(t, "device", "list").talk)
	})
}

func TestWhatIsUnderWayInASentence(t *testing.T) {
	i := library.Intent{
		Doing: "restore", Port: "raw:/dev/midi1", Rig: "stage", Snapshot: "s", Began: time.Date(2026, 11, 25, 19, 30, 0, 0, time.UTC),
		Slots: []library.IntentSlot{{Slot: 3}, {Slot: 4}, {Slot: 9}},
	}
	long, unknown := i, i
	for n := range 64 {
		long.Slots = append(long.Slots, library.IntentSlot{Slot: n + 10})
	}
	unknown.Rig, unknown.Snapshot, unknown.Slots = "", "", i.Slots[:1]
	for _, c := range []struct {
		entry library.IntentEntry
		how   standing
		want  string
	}{
		{library.IntentEntry{Intent: i}, brokenOff, "restore of slots 3, 4, 9 on raw:/dev/midi1 (stage), begun 2026-11-25 19:30, has not come to its end: " +
			"`echowright resume` finishes it, `echowright resume --put-back` puts back what was there"},
		{library.IntentEntry{Intent: long}, portInUse, "restore of slots 3, 4, 9-73 on raw:/dev/midi1 (stage), begun 2026-11-25 19:30, has not come to its end: another echowright is using that port right now and may be at it"},
		{library.IntentEntry{Intent: unknown}, brokenOff, "restore of slot 3 on raw:/dev/midi1, begun 2026-11-25 19:30, has not come to its end: " +
			"`echowright resume` finishes it; what was there before is not known"},
		{library.IntentEntry{Name: "n", Err: errors.New("it is torn")}, brokenOff, "the journal's entry n cannot be read: it is torn; `echowright resume --forget n` drops it"},
	} {
		require.Equal(t, c.want, underWay(c.entry, c.how))
	}
}

func TestOfSeveralFailuresTheFirstGivesTheExitCode(t *testing.T) {
	silent, differs := error(&transfer.NoAnswerError{}), error(&exchange.DiffersError{})
	require.Equal(t, exitNoAnswer, exitCode(failures{silent, differs}.err()))
	require.Equal(t, exitDifferent, exitCode(failures{differs, silent}.err()))
	require.Equal(t, exitFailed, exitCode(failures(nil).and(errors.New("x")).and(nil).and(silent).err()))
	require.NoError(t, failures(nil).and(nil).err())
	require.Equal(t, "a\nb", failures{errors.New("a"), errors.New("b")}.err().Error())
}
