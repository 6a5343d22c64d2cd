package cli

import (
	"testing"

	"github.com/stretchr/testify/require"
)

func TestFirstWordOfACommandLine(t *testing.T) {
	for _, c := range []struct {
		args []string
		want string
	}{
		{nil, ""},
		{[]string{"mesure", "take.wav"}, "mesure"},
		{[]string{"--json", "mesure"}, "mesure"},
		{[]string{"--home", "folder", "mesure"}, "mesure"},
		{[]string{"--home=folder", "-q", "mesure"}, "mesure"},
		{[]string{"--home"}, ""},
	} {
		require.Equal(t, c.want, firstWord(c.args), c.args)
	}
}

func TestAnUnknownCommandIsNamedBeforeItsFlags(t *testing.T) {
	for _, args := range [][]string{
		{"mesure", "take.wav", "--heads", "2"},
		{"--json", "mesure", "--heads", "2"},
		{"--home", "device", "mesure", "--heads=2"},
	} {
		got := world(t).run(t, args...)
		require.Equal(t, exitMisused, got.code)
		require.Contains(t, got.talk, "did you mean `echowright measure`?", args)
	}
	require.Contains(t, world(t).run(t, "--heads", "2").talk, "unknown flag")
}

func TestArguments(t *testing.T) {
	c := &call{}
	for _, test := range []struct {
		takes []string
		args  []string
		want  string // of the error, "" for none
	}{
		{nil, nil, ""},
		{nil, []string{"x"}, `"x" is one argument too many`},
		{[]string{"UNIT"}, nil, "UNIT is missing"},
		{[]string{"UNIT"}, []string{"a"}, ""},
		{[]string{"UNIT"}, []string{"a", "b"}, `"b" is one argument too many`},
		{[]string{"FILE…"}, nil, "FILE… is missing"},
		{[]string{"FILE…"}, []string{"a", "b", "c"}, ""},
		{[]string{"A", "B"}, []string{"a"}, "B is missing"},
	} {
		err := takes(test.takes...)(newRetimeCommand(c), test.args)
		if test.want == "" {
			require.NoError(t, err)
			continue
		}
		require.ErrorContains(t, err, test.want)
		require.Equal(t, exitMisused, exitCode(err))
	}
}

func TestAFlagsWrongValueIsToldInWords(t *testing.T) {
	for want, args := range map[string][]string{
		`--heads "2,x": that is no list of whole numbers, such as 2,4,6`: {"measure", "take.wav", "--heads", "2,x"},
		`--slot "five": that is no whole number`:                         {"push", "unit", "--slot", "five"},
		`--for "soon": that is no time, such as 10s or 500ms`:            {"listen", "--for", "soon"},
	} {
		s := world(t).run(t, args...)
		require.Equal(t, exitMisused, s.code)
		require.Contains(t, s.talk, want)
		require.NotContains(t, s.talk, "strconv")
	}
}
