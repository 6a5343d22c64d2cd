package midi

import (
	"encoding/hex"
	"fmt"
	"strings"
)

const hexDigits = "0123456789ABCDEF"

// Hex writes bytes the way manuals do: "F0 7D 05 F7".
func Hex(b []byte) string {
	if len(b) == 0 {
		return ""
	}
	out := make([]byte, 0, 3*len(b)-1)
	for i, c := range b {
		if i > 0 {
			out = append(out, ' ')
		}
		out = append(out, hexDigits[c>>4], hexDigits[c&15])
	}
	return string(out)
}

// ParseHex reads what Hex writes, and is as lenient as manuals are: upper or
// lower case, any white space between bytes or none.
func ParseHex(s string) ([]byte, error) {
	var out []byte
	for i, field := range strings.Fields(s) {
		b, err := hex.DecodeString(field)
		if err != nil {
			return nil, fmt.Errorf("hex bytes: word %d, %q: write each byte as two digits 0 to F, such as F0 7D 05", i+1, field)
		}
		out = append(out, b...)
	}
	return out, nil
}
