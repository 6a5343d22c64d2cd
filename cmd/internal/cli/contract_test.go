package cli

import (
	"maps"
	"slices"
	"testing"

	"github.com/stretchr/testify/require"

	"echowright/profiles/emulator"
)

// The names below are those that scripts rely on. Taking one away breaks somebody's
// script; adding one does not.

// has requires that v, a decoded JSON object, has all the fields.
func hasFields(t *testing.T, v any, fields ...string) map[string]any {
	t.Helper()
	object, ok := v.(map[string]any)
	require.True(t, ok, "%v is no object", v)
	require.Subset(t, slices.Collect(maps.Keys(object)), fields)
	return object
}

// first is the first element of a list, which must not be empty.
func first(t *testing.T, v any) any {
	t.Helper()
	list, ok := v.([]any)
	require.True(t, ok, "%v is no list", v)
	require.NotEmpty(t, list)
	return list[0]
}

func TestFieldsOfMeasure(t *testing.T) {
	s := millpond(t)
	take := write(t, "millpond.wav", string(s.take))
	v := world(t).run(t, "measure", take, "--heads", "1,3", "--json", "-q").decode(t)
	hasFields(t, v, "name", "kind", "head", "direct", "origin", "warnings")
	hasFields(t, first(t, v["head"]), "head", "delay_ms", "delay_sd_ms", "level_db", "level_sd_db", "inverted", "low_cut_hz", "high_cut_hz")
	hasFields(t, v["direct"], "echo_to_direct_db")
	hasFields(t, v["origin"], "take", "take_sha256", "measured")
	require.NotContains(t, v, "feedback", "no loop, no field")
	require.IsType(t, []any{}, v["warnings"])
	require.InDelta(t, 125, v["head"].([]any)[0].(map[string]any)["delay_ms"], 0.5)
}

func TestFieldsOfUnits(t *testing.T) {
	e := world(t)
	hasFields(t, first(t, e.run(t, "library", "add", write(t, "fen.toml", someUnit), "--json").decode(t)["added"]), "name", "kind", "revision", "path")
	listed := hasFields(t, first(t, e.run(t, "library", "list", "--json").decode(t)["unit"]), "name", "kind", "heads", "revision")
	require.Equal(t, []any{1.0, 3.0}, listed["heads"])
	shown := e.run(t, "library", "show", "fen-disc", "--json").decode(t)
	hasFields(t, shown, "name", "kind", "head", "feedback", "revision", "path")
	hasFields(t, shown["feedback"], "heads", "gain_db", "gain_sd_db")
	hasFields(t, e.run(t, "library", "remove", "fen-disc", "--json").decode(t), "removed", "trash")
}

func TestFieldsOfRetimeAndPlan(t *testing.T) {
	e := world(t)
	unit := write(t, "fen.toml", someUnit)
	v := e.run(t, "retime", unit, "--bpm", "120", "--note", "1/4", "--json").decode(t)
	hasFields(t, v, "speed_ratio", "head")
	hasFields(t, first(t, v["head"]), "head", "delay_ms", "note", "off_ms")

	v = e.run(t, "plan", unit, "--device", "five-line", "--json").decode(t)
	hasFields(t, v, "device", "setting", "echo", "extra", "pattern_error_db", "message", "warnings")
	hasFields(t, first(t, v["setting"]), "parameter", "value", "unit", "code")
	hasFields(t, first(t, v["echo"]), "ms", "db", "got_ms", "got_db")
	require.IsType(t, "", first(t, v["message"]))
	require.IsType(t, []any{}, v["extra"])
	require.IsType(t, []any{}, v["warnings"])
	last := 0.0
	for _, one := range v["echo"].([]any) {
		at := one.(map[string]any)["ms"].(float64)
		require.GreaterOrEqual(t, at, last, "sorted by time")
		last = at
	}
}

func TestEchoesThatAreMissingAreNull(t *testing.T) {
	far := `format = "echowright-unit/1"
name = "far"
kind = "other"
[[head]]
head = 1
delay_ms = 20000.0
level_db = 0.0
[[head]]
head = 2
delay_ms = 20500.0
level_db = 0.0
`
	v := world(t).run(t, "plan", write(t, "far.toml", far), "--device", "five-line", "--json", "-q").decode(t)
	missing := hasFields(t, first(t, v["echo"]), "ms", "db", "got_ms", "got_db")
	require.Nil(t, missing["got_ms"])
	require.Nil(t, missing["got_db"])
	require.NotEmpty(t, v["warnings"])
}

func TestFieldsOfConversations(t *testing.T) {
	onBench(t, emulator.Options{}, func(t *testing.T, b bench) {
		unit := write(t, "fen.toml", someUnit)
		before := hasFields(t, b.with(t, "backup", "--slots", "5", "--json").decode(t), "snapshot", "slots", "complete", "bytes", "seconds")
		pushed := b.with(t, "push", unit, "--slot", "5", "--json").decode(t)
		hasFields(t, pushed, "slot", "messages", "bytes", "seconds", "verified", "holds", "snapshot", "differences", "loaded")
		require.IsType(t, []any{}, pushed["differences"])
		require.Positive(t, pushed["seconds"])
		read := b.with(t, "read", "--slot", "5", "--json").decode(t)
		hasFields(t, read, "device", "slot", "name", "setting", "echo")
		hasFields(t, first(t, read["setting"]), "parameter", "value", "unit", "code")
		after := b.with(t, "backup", "--slots", "5", "--json").decode(t)
		diff := b.run(t, "snapshot", "diff", before["snapshot"].(string), after["snapshot"].(string), "--json").decode(t)
		hasFields(t, first(t, diff["difference"]), "slot", "parameter", "was", "is")
		hasFields(t, first(t, b.run(t, "snapshot", "list", "--json").decode(t)["snapshot"]), "name", "device", "taken", "slots", "complete")
		shown := b.run(t, "snapshot", "show", after["snapshot"].(string), "--json").decode(t)
		hasFields(t, first(t, shown["slot"]), "slot", "name", "echoes")
		hasFields(t, first(t, b.run(t, "snapshot", "check", "--json").decode(t)["snapshot"]), "name", "whole")
		restored := b.with(t, "restore", before["snapshot"].(string), "--yes", "--json").decode(t)
		hasFields(t, restored, "snapshot", "written", "same", "verified", "messages", "bytes", "seconds")
	})
}

func TestAPushThatDiffersStillGivesItsResult(t *testing.T) {
	onBench(t, emulator.Options{Faults: emulator.Faults{Keep: []int{0}}}, func(t *testing.T, b bench) {
		got := b.with(t, "push", write(t, "fen.toml", someUnit), "--slot", "5", "--json", "-q")
		require.Equal(t, exitDifferent, got.code)
		got.code = exitDone // the result is whole all the same
		v := got.decode(t)
		require.Equal(t, "no", v["verified"])
		hasFields(t, first(t, v["differences"]), "parameter", "was", "is")
		require.NotEmpty(t, v["snapshot"])
	})
}

func TestFieldsOfDevicesRigsAndPorts(t *testing.T) {
	e := world(t)
	hasFields(t, first(t, e.run(t, "device", "list", "--json").decode(t)["device"]), "name", "title", "from", "lines", "slots")
	v := e.run(t, "device", "show", "five-line", "--json").decode(t)
	hasFields(t, v, "name", "title", "sha256", "slots", "readable", "units", "line", "parameter")
	p := hasFields(t, first(t, v["parameter"]), "parameter", "role", "unit", "codes", "low", "high", "worst_rounding", "bytes")
	hasFields(t, first(t, p["bytes"]), "code", "value", "message")
	hasFields(t, e.run(t, "rig", "add", "stage", "--device", "five-line", "--port", "raw:/dev/x", "--json").decode(t), "name", "device", "port", "unit")
	hasFields(t, first(t, e.run(t, "rig", "list", "--json").decode(t)["rig"]), "name", "device", "port", "unit")
	hasFields(t, first(t, e.run(t, "ports", "--json").decode(t)["driver"]), "driver", "found")
}

func TestListsOfNothingAreEmptyLists(t *testing.T) {
	e := world(t)
	for _, c := range []struct{ command, list string }{{"library", "unit"}, {"rig", "rig"}, {"snapshot", "snapshot"}} {
		v := e.run(t, c.command, "list", "--json", "-q").decode(t)
		require.Equal(t, []any{}, v[c.list], c.command)
	}
	require.Equal(t, []any{}, e.run(t, "snapshot", "check", "--json").decode(t)["snapshot"])
}
