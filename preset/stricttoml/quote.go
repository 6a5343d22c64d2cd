package stricttoml

import (
	"fmt"
	"strings"
	"unicode"
)

// Quote writes s as a TOML text on one line, so that reading it gives s again.
// What cannot be seen is written as an escape. Of bytes that are not UTF-8,
// which no TOML file can hold, it makes the replacement character.
func Quote(s string) string {
	var b strings.Builder
	b.WriteByte('"')
	for _, r := range s {
		switch {
		case r == '"' || r == '\\':
			b.WriteString(`\` + string(r))
		case r == '\n':
			b.WriteString(`\n`)
		case r == '\t':
			b.WriteString(`\t`)
		case unicode.IsPrint(r):
			b.WriteRune(r)
		default:
			fmt.Fprintf(&b, `\U%08X`, r)
		}
	}
	b.WriteByte('"')
	return b.String()
}
