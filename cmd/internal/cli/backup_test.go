package cli

import (
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"echowright/profiles/emulator"
)

func TestABackupThatIsBrokenOffIsGoneOnWith(t *testing.T) {
	for _, flag := range []string{"--resume", "--resume=2026-03-14-193000-five-line"} {
		// Its identity and three slots, then it is dead.
		onBench(t, emulator.Options{Faults: emulator.Faults{DieAfter: 4}}, func(t *testing.T, b bench) {
			got := b.with(t, "backup", "--slots", "2-9")
			require.Equal(t, exitNoAnswer, got.code)
			require.Equal(t, "2026-03-14-193000-five-line\n", got.out)
			require.Contains(t, got.talk, "3 of 8 slots are kept in 2026-03-14-193000-five-line, which is marked partial: `echowright backup --device five-line --port bench:device --resume=2026-03-14-193000-five-line` goes on with it")
			listed := first(t, b.run(t, "snapshot", "list", "--json").decode(t)["snapshot"]).(map[string]any)
			require.Equal(t, false, listed["complete"])
			require.Equal(t, exitMisused, b.with(t, "backup", "--slots", "1", flag).code)

			b = b.repaired(t)
			done := b.with(t, "backup", flag, "--json").decode(t)
			require.Equal(t, "2026-03-14-193000-five-line", done["snapshot"])
			require.Equal(t, 8.0, done["slots"])
			require.Equal(t, true, done["complete"])
			require.Equal(t, exitDone, b.run(t, "snapshot", "check").code)
			none := b.with(t, "backup", flag)
			require.Equal(t, exitFailed, none.code, "there is nothing left to go on with")
			require.Regexp(t, "no backup of this device over bench:device was broken off|there is nothing to go on with", none.talk)
			require.Empty(t, none.out)
		})
	}
}

func TestAPartialBackupAsJSON(t *testing.T) {
	onBench(t, emulator.Options{Faults: emulator.Faults{DieAfter: 3}}, func(t *testing.T, b bench) {
		got := b.with(t, "backup", "--json", "-q")
		require.Equal(t, exitNoAnswer, got.code)
		got.code = exitDone // the result is whole all the same
		v := got.decode(t)
		require.Equal(t, false, v["complete"])
		require.Equal(t, 2.0, v["slots"])
	})
	onBench(t, emulator.Options{Faults: emulator.Faults{DieAfter: 1}}, func(t *testing.T, b bench) {
		got := b.with(t, "backup", "--json")
		require.Empty(t, got.out)
		require.True(t, strings.Contains(got.talk, "nothing was kept"))
	})
}
