package midi

import (
	"testing"
	"time"

	"github.com/stretchr/testify/require"
)

func TestMatch(t *testing.T) {
	for _, tc := range []struct {
		pattern string
		fits    []string
		not     []string
	}{
		{"F0 7D 05 .. 7F 10 .. F7",
			[]string{"F0 7D 05 00 7F 10 71 F7", "F0 7D 05 0F 7F 10 00 F7"},
			[]string{"", "F0 7D 05 00 7E 10 71 F7", "F0 7D 05 00 7F 10 F7", "F0 7D 05 00 7F 10 71 F7 F7"}},
		{"F0 7E .. 06 02 *",
			[]string{"F0 7E 01 06 02", "F0 7E 01 06 02 7D 01 00 02 00 01 00 00 00 F7"},
			[]string{"F0 7E 01 06", "F0 7E 01 06 01 F7"}},
		{"B. 07 ..", []string{"B0 07 64", "BF 07 00"}, []string{"C0 07 64", "B0 08 64"}},
		{".5", []string{"05", "F5"}, []string{"04"}},
		{"10&70 00", []string{"10 00", "1F 00", "9A 00"}, []string{"20 00", "10 01"}},
	} {
		t.Run(tc.pattern, func(t *testing.T) {
			m, err := ParseMatch(tc.pattern)
			require.NoError(t, err)
			require.Equal(t, tc.pattern, m.String())
			for _, s := range tc.fits {
				require.True(t, m.Fits(bytesOf(t, s)), "%s should fit", s)
			}
			for _, s := range tc.not {
				require.False(t, m.Fits(bytesOf(t, s)), "%s should not fit", s)
			}
		})
	}
}

func TestMatchIsRefused(t *testing.T) {
	for _, tc := range []struct{ in, want string }{
		{"", "an empty pattern"},
		{"*", "an empty pattern"},
		{"F0 * F7", `word 2, "*"`},
		{"F0 7", `word 2, "7"`},
		{"F0 ...", `word 2, "..."`},
		{"F0 xx", `word 2, "xx"`},
		{"F0 10&7", `word 2, "10&7"`},
		{"F0 +1", `word 2, "+1"`},
	} {
		_, err := ParseMatch(tc.in)
		require.ErrorContains(t, err, tc.want)
	}
}

func TestExactly(t *testing.T) {
	message := []byte{0xF0, 0x7D, 0xF7}
	m := Exactly(message)
	require.Equal(t, "F0 7D F7", m.String())
	message[1] = 0x7E
	require.False(t, m.Fits(message), "the pattern keeps bytes of its own")
	require.False(t, Match{}.Fits(message), "the zero pattern fits nothing that a device says")
	require.False(t, Match{Value: message}.Fits(message), "nor does one without its mask")
}

func FuzzParseMatch(f *testing.F) {
	for _, s := range []string{"F0 7D .. F7", "F0 *", "1. .2 10&70", "10&FF 10&F0 10&00"} {
		f.Add(s)
	}
	f.Fuzz(func(t *testing.T, s string) {
		m, err := ParseMatch(s)
		if err != nil {
			return
		}
		again, err := ParseMatch(m.String())
		require.NoError(t, err)
		require.Equal(t, m, again)
		require.True(t, m.Fits(m.Value), "a pattern fits its own bytes")
	})
}

func TestMeaning(t *testing.T) {
	for m, word := range map[Meaning]string{Done: "done", Data: "data", Busy: "busy", Damaged: "damaged", Refused: "refused", Hold: "hold"} {
		require.Equal(t, word, m.String())
		got, err := ParseMeaning(word)
		require.NoError(t, err)
		require.Equal(t, m, got)
	}
	require.Equal(t, "Meaning(0)", Meaning(0).String())
	_, err := ParseMeaning("")
	require.ErrorContains(t, err, `"": it is one of done, data, busy, damaged, refused, hold`)
}

func TestStepAnswer(t *testing.T) {
	acknowledged, err := ParseMatch("F0 7D 05 .. 7F 10 .. F7")
	require.NoError(t, err)
	refused, err := ParseMatch("F0 7D 05 .. 7E 10 04 .. F7")
	require.NoError(t, err)
	s := Step{Answers: []Answer{{Match: acknowledged, Means: Done}, {Match: refused, Means: Refused, Says: "routing"}}}

	a, ok := s.Answer(bytesOf(t, "F0 7D 05 00 7E 10 04 6E F7"))
	require.True(t, ok)
	require.Equal(t, "routing", a.Says)
	_, ok = s.Answer(bytesOf(t, "F0 7D 05 00 7E 11 04 6D F7"))
	require.False(t, ok, "an answer to another command")
}

func TestStepCheck(t *testing.T) {
	good := Step{What: "line a time", Send: []byte{0xF0, 0x7D, 0xF7}, Timeout: time.Second,
		Answers: []Answer{{Match: Exactly([]byte{0xF8}), Means: Done}}}
	require.NoError(t, good.Check())
	for _, tc := range []struct {
		change func(*Step)
		want   string
	}{
		{func(s *Step) { s.Send = nil }, `step "line a time": it sends nothing`},
		{func(s *Step) { s.Send = []byte{0x10} }, "begins with 10: wanted a status byte"},
		{func(s *Step) { s.Gap = -1 }, "below 0"},
		{func(s *Step) { s.Timeout = -1 }, "below 0"},
		{func(s *Step) { s.Timeout = 0 }, "a timeout of 0"},
		{func(s *Step) { s.Answers = []Answer{{Match: Exactly([]byte{0xF8})}} }, "answer 1 (F8) has no meaning"},
		{func(s *Step) { s.Answers = []Answer{{Means: Done}} }, "answer 1: an empty pattern"},
		{func(s *Step) { s.Answers = []Answer{{Means: Done, Match: Match{Value: []byte{1}}}} }, "a pattern of 1 bytes with a mask of 0"},
	} {
		s := good
		tc.change(&s)
		require.ErrorContains(t, s.Check(), tc.want)
	}
}
