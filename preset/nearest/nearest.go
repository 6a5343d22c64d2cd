// Package nearest turns a mistyped name into the known name that was probably
// meant: a key of a file, a command, a unit, a device.
package nearest

import (
	"strings"
	"unicode/utf8"
)

// leastPrefix is how many letters a word needs to be taken for the beginning of
// a longer name.
const leastPrefix = 3

// Name returns the one of known that word was probably meant to be, or "" if
// none is near. Near is at most one slip in three letters, a slip being a letter
// too many, too few, a wrong one, or two neighbours swapped; capitals don't
// count. Of equally near names the first is taken. Where none is near, a word
// that begins just one of the names stands for it ("level" for "level_db").
func Name(word string, known []string) string {
	best, least := "", -1
	for _, name := range known {
		d, ok := slips(word, name)
		if ok && (least < 0 || d < least) {
			best, least = name, d
		}
	}
	if least >= 0 {
		return best
	}
	return begun(word, known)
}

// slips is the distance of the two, and whether it is small for their length.
// A name that is too long or too short is told by its length alone, so that a
// word of a megabyte costs nothing.
func slips(word, name string) (int, bool) {
	most := max(1, utf8.RuneCountInString(name)/3)
	gap := utf8.RuneCountInString(word) - utf8.RuneCountInString(name)
	if word == "" || name == "" || gap > most || gap < -most {
		return 0, false
	}
	d := distance([]rune(strings.ToLower(word)), []rune(strings.ToLower(name)))
	return d, d <= most && d < utf8.RuneCountInString(name)
}

// distance counts insertions, deletions, substitutions and swaps of neighbours,
// no place edited twice (optimal string alignment).
func distance(a, b []rune) int {
	twoAbove, above, row := make([]int, len(b)+1), make([]int, len(b)+1), make([]int, len(b)+1)
	for j := range row {
		row[j] = j
	}
	for i := 1; i <= len(a); i++ {
		twoAbove, above, row = above, row, twoAbove
		row[0] = i
		for j := 1; j <= len(b); j++ {
			other := 1
			if a[i-1] == b[j-1] {
				other = 0
			}
			row[j] = min(above[j]+1, row[j-1]+1, above[j-1]+other)
			if i > 1 && j > 1 && a[i-1] == b[j-2] && a[i-2] == b[j-1] {
				row[j] = min(row[j], twoAbove[j-2]+1)
			}
		}
	}
	return row[len(b)]
}

func begun(word string, known []string) string {
	if utf8.RuneCountInString(word) < leastPrefix {
		return ""
	}
	found := ""
	for _, name := range known {
		if !strings.HasPrefix(name, strings.ToLower(word)) {
			continue
		}
		if found != "" && found != name {
			return ""
		}
		found = name
	}
	return found
}
