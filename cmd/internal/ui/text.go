package ui

import (
	"math"
	"strconv"
	"strings"
	"unicode"
	"unicode/utf8"
)

// Line makes text from a file or a device fit to print on one line: what is not
// printable, such as the control characters that move a terminal's cursor, is
// shown as Go would write it in quotes ("\n", "\x1b", "\u202e").
func Line(s string) string { return escape(s, func(rune) bool { return false }) }

// Lines is Line for text of several lines: newlines and tabs stay.
func Lines(s string) string { return escape(s, func(r rune) bool { return r == '\n' || r == '\t' }) }

func escape(s string, keep func(rune) bool) string {
	clean := func(r rune) bool { return r != utf8.RuneError && (unicode.IsPrint(r) || keep(r)) }
	if strings.IndexFunc(s, func(r rune) bool { return !clean(r) }) < 0 {
		return s
	}
	var out strings.Builder
	for len(s) > 0 {
		r, n := utf8.DecodeRuneInString(s)
		if clean(r) {
			out.WriteString(s[:n])
		} else {
			quoted := strconv.Quote(s[:n])
			out.WriteString(quoted[1 : len(quoted)-1])
		}
		s = s[n:]
	}
	return out.String()
}

// Fixed is a number with a fixed count of decimals; never "-0".
func Fixed(v float64, decimals int) string {
	s := strconv.FormatFloat(v, 'f', decimals, 64)
	if strings.Trim(s, "-0.") == "" {
		return strings.TrimPrefix(s, "-")
	}
	return s
}

// Signed is Fixed with a plus before what lies above 0.
func Signed(v float64, decimals int) string {
	s := Fixed(v, decimals)
	if strings.Trim(s, "0.") != "" && v > 0 {
		return "+" + s
	}
	return s
}

// PlusMinus is a number with its standard deviation, without it where that is 0.
func PlusMinus(v, sd float64, decimals int) string {
	if sd == 0 || math.IsNaN(sd) {
		return Fixed(v, decimals)
	}
	return Fixed(v, decimals) + " ± " + Fixed(sd, decimals)
}

// Count is a number with the word for what is counted: "1 echo", "3 echoes".
func Count(n int, one, many string) string {
	if n == 1 {
		return "1 " + one
	}
	return strconv.Itoa(n) + " " + many
}
