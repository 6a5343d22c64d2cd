package stricttoml

import (
	"fmt"
	"strings"
	"testing"
	"unicode/utf8"

	"github.com/stretchr/testify/require"
)

// awkward holds keys where a reader that looks for "key =" at the beginning of
// lines would be misled.
const awkward = `# a.b = 1
"quoted key" = 1 # not = a key
'raw' = '''
fake = 1
''' # after
multi = """
also_fake = 1 \"""
[fake]
still = "text" """""
list = [ # [[x]]
  1, # one ]
  "two ] , three",
  [3,
   4],
  {in = 5, deep.er = 6},
]
a . "b.c" . d = 1
a.e = 2
"esc\u0061ped" = 3
empty = ""
raw_empty = ''

[ table . sub ] # header
key = 1970-01-01 00:00:00 # a date with a space
[[table.list]]
x = 1
[[table.list]]
x = 2
[table.list.inner]
y = 1
[table]
late = {
  over = 1, # inline tables may span lines since TOML 1.1
  lines = 2,
}
`

func TestLineOfEveryKey(t *testing.T) {
	root, bad := outline(awkward)
	require.Nil(t, bad)
	doc := Document{File: "a.toml", root: root}
	for path, want := range map[string]int{
		"quoted key": 2, "raw": 3, "multi": 6, "list": 10, "list.0": 11, "list.1": 12, "list.2": 13, "list.2.0": 13, "list.2.1": 14,
		"list.3.in": 15, "list.3.deep.er": 15, "a": 17, "a.e": 18, "escaped": 19, "empty": 20, "raw_empty": 21,
		"table.sub": 23, "table.sub.key": 24, "table.list.0": 25, "table.list.0.x": 26, "table.list.1": 27, "table.list.1.x": 28,
		"table.list.1.inner": 29, "table.list.1.inner.y": 30, "table.late": 32, "table.late.over": 33, "table.late.lines": 34,
	} {
		require.True(t, doc.Has(path), path)
		require.Equal(t, want, doc.Line(path), path)
	}
	for path, want := range map[string]int{
		"fake": 1, "still": 1, "x": 1, "": 1, "table.list.1.z": 27, "table.list.7": 25, "list.9": 10, "list.-1": 10, "list.2.x": 13,
		"table.nothing": 31, "empty.more": 20,
	} {
		require.False(t, doc.Has(path), path)
		require.Equal(t, want, doc.Line(path), "the nearest to %s", path)
	}
}

// Texts that the TOML specification (toml.io/en/v1.0.0) calls invalid or says
// "is not allowed" of, in the words of this program's files. Those marked ! the
// parsing library lets through.
func TestWhatTOMLRefusesIsRefused(t *testing.T) {
	for _, text := range []string{
		// Key/value pairs: unspecified values, two on a line.
		"key =", "name = 'a' count = 1", "= 'no name'", "key", "key = # comment",
		// Keys: defined twice, also with quotes; a value made a table; bare keys broken over lines.
		"name = 'a'\nname = 'b'", "name = 'a'\n\"name\" = 'b'", "a.b = 1\na.b.c = 2", "a.b = 1\na = 2", "a\n.b = 1", "a..b = 1", "\"\"\"key\"\"\" = 1",
		// Strings: control characters, unknown escapes, no end, quotes inside.
		"a = \"\x00\"", "a = \"\x7f\"", `a = "\q"`, `a = "\uD800"`, `a = "\U00110000"`, `a = "\u12"`, `a = "x`, "a = 'it's'", `a = """x"""""" `,
		"a = '''x''''''", "a = \"x\ny\"",
		// Integers: leading zeros, underscores, signs before prefixes, range.
		"a = 01", "a = -01", "a = 1__0", "a = _1", "a = 1_", "a = +0x1", "a = 0x", "a = 0b2", "a = 0o8", "a = 0xG", "a = 9223372036854775808",
		// Floats: the point needs digits on both sides.
		"a = .7", "a = 7.", "a = 3.e+20", "a = 1e", "a = 1.2.3", "a = 01.5", "a = 1e1_", "a = Inf", "a = NaN",
		// Booleans and dates.
		"a = True", "a = tru", "a = 2026-13-01", "a = 2026-02-30", "a = 2026-3-4", "a = 24:00:00", "a = 2026-03-14T10:00:00+25:00", "a = 2026-03-14T",
		// Arrays and inline tables.
		"a = [1 2]", "a = [1,, 2]", "a = [,1]", "a = [1", "a = {b = 1", "a = {b = 1, b = 2}", "a = {b}", "a = {b = 1 c = 2}", "a = {b.c = 1, b = 2}",
		// Tables: twice, and once more after a value of that name.
		"[a]\n[a]", "[a]\nb = 1\n[a.b]", "[]", "[a", "[a]]", "[[a]", "[a.]", "[a..b]", "[a] b = 1", "[ [a] ]", "a = 1\n[a]", "a = 1\n[[a]]",
		"a.b = 1\n[a]", // ! a table made by dotted keys, opened by a header
		"[fruit]\napple.color = 1\napple.taste.sweet = true\n[fruit.apple]",       // !
		"[fruit]\napple.color = 1\napple.taste.sweet = true\n[fruit.apple.taste]", // !
		"[a.b.c]\nz = 9\n[a]\nb.c.t = 1",                                          // a header's table, entered by dotted keys
		"[product]\ntype = {name = 'x'}\ntype.edible = false",                     // ! an inline table is closed
		"a = {}\n[a.b]", // !
		"a = {b = {}}\n[a.b.c]",
		"a = {b = 1}\na.c = 2",
		// Arrays of tables: after a static one, after a table, a table after them.
		"fruits = []\n[[fruits]]", "x = [{a = 1}]\n[[x]]", "[fruit]\n[[fruit]]", "[[a]]\n[a]", "[[fruits]]\n[[fruits.v]]\n[fruits.v]",
		"[fruits.physical]\n[[fruits]]", "[[a.b]]\n[a.b.c]\n[a.b.c]",
		// Line ends and encoding.
		"a = 1\rb = 2", "\r\r\n", "# \x01", "a = 'caf\xe9'", "a = 1\x00",
	} {
		var free map[string]any
		_, err := Kind{Name: "shelf", Version: 2, Limit: 1 << 16}.Decode("s.toml", []byte(text+"\n"), &free)
		require.Error(t, err, "%q", text)
		require.NotContains(t, err.Error(), "format is missing", "%q is taken for valid TOML", text)
	}
}

func TestWhatTOMLAllowsIsTaken(t *testing.T) {
	for _, text := range []string{
		"[a.b.c]\n[a]\nd = 1", "[fruit]\napple.color = 1\n[fruit.apple.texture]\nsmooth = true", "apple.type = 1\norange.type = 2\napple.skin = 3",
		"[[a]]\n[a.b]\n[[a]]\n[a.b]", "3.14159 = 'pi'", "a = [1, 'x', {}, ]", "\"\" = 1", "a = ''''x''''", `a = """"x""""`, "a = 1_000.5e+0_1", "a = 0xDEAD_beef",
		"[[fruits]]\n[fruits.physical]\n[[fruits.varieties]]\n[[fruits.varieties]]\n[[fruits]]\n[[fruits.varieties]]",
	} {
		var free map[string]any
		_, err := shelfKind.Decode("s.toml", []byte(head+text+"\n"), &free)
		require.NoError(t, err, "%q", text)
	}
}

// Without the outline's guard the parser took 36 s and 29 GB for the third text.
func TestDeepTextsCostNothing(t *testing.T) {
	const much = 1 << 20
	for _, text := range []string{
		"a=" + strings.Repeat("[", much), "a=" + strings.Repeat("[", much/2) + strings.Repeat("]", much/2),
		"a=" + strings.Repeat("{a=", much/64) + "1" + strings.Repeat("}", much/64),
		strings.Repeat("a.", much/2) + "a=1", "[" + strings.Repeat("a.", much/2) + "a]",
	} {
		var free map[string]any
		_, err := Kind{Name: "unit", Version: 1, Limit: 2 << 20}.Decode("u.toml", []byte(text), &free)
		require.EqualError(t, err, "u.toml:1: is nested more than 16 deep, as no file of echowright is; is this the right file?")
	}
}

// Whatever comes in: no panic, and every line told lies within the file. What
// the parser takes, the outline has followed to the end: it knows each key.
func FuzzDecode(f *testing.F) {
	for _, text := range []string{
		awkward, head + "count = 'x'\n[box]\nzz = 1\n", "a = [[1,\n2]", "[[a]]\n[a.b]\nc = {d.e = 1}", "a=\"\"\"\\\n\n  x\"\"\"", "\ufeffa = 1\r\nb = 2",
		"a = 1979-05-27 07:32:00Z\n", "\"a\\u0041\\n\".b = nan", "a = '''''", "[a]\n'b'.\"c\"={}", "a=\"\\", "[a", "[[a]", "a={b=[{",
	} {
		f.Add([]byte(text))
	}
	f.Fuzz(func(t *testing.T, text []byte) {
		var s shelf
		_, err := shelfKind.Decode("f", text, &s)
		lines := 1 + strings.Count(string(text), "\n")
		for _, e := range split(err) {
			if wrong, ok := e.(*FormatError); ok {
				require.LessOrEqual(t, wrong.Line, lines)
			}
		}
		if !utf8.Valid(text) {
			return // Decode lets no such text near the parser
		}
		source := plain(text)
		root, bad := outline(source)
		tree, syntax := parseTree(source)
		if syntax == nil {
			require.True(t, bad == nil || !bad.lost, "the outline is lost in a text that the parser takes")
		}
		if bad == nil && syntax == nil {
			requireKeys(t, root, tree, "")
		}
	})
}

func split(err error) []error {
	if several, ok := err.(interface{ Unwrap() []error }); ok {
		return several.Unwrap()
	}
	return []error{err}
}

func requireKeys(t *testing.T, n *node, tree any, path string) {
	switch v := tree.(type) {
	case map[string]any:
		require.Len(t, n.keys, len(v), path)
		for key, inner := range v {
			require.Contains(t, n.keys, key, path)
			requireKeys(t, n.keys[key], inner, path+"."+key)
		}
	default:
		items, _ := elements(tree)
		require.Len(t, n.items, len(items), path)
		for i, inner := range items {
			requireKeys(t, n.items[i], inner, fmt.Sprintf("%s.%d", path, i))
		}
	}
}

func BenchmarkDecode(b *testing.B) {
	var text strings.Builder
	text.WriteString(head)
	for i := range 12 {
		fmt.Fprintf(&text, "[[head]]\nhead = %d\ndelay_ms = %d.25\nlevel_db = -%d.5\ninverted = false\n", i+1, 50*i+50, i)
	}
	b.SetBytes(int64(text.Len()))
	b.ReportAllocs()
	for b.Loop() {
		var s shelf
		if _, err := shelfKind.Decode("b", []byte(text.String()), &s); err != nil {
			b.Fatal(err)
		}
	}
}
