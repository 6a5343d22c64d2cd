package library

import (
	"bytes"
	"fmt"
	"strings"
)

// The second line of a manifest is the SHA-256 of all other lines, so that a
// changed byte is found in it as in the files that it proves. A person finds the
// same with `grep -v '^own_sha256 ' manifest.toml | sha256sum`.
const sealStart, sealEnd = "own_sha256 = \"", "\"\n"

// sealed puts the line after the first of a text.
func sealed(text string) []byte {
	first, others, _ := strings.Cut(text, "\n")
	return []byte(first + "\n" + sealStart + hash([]byte(text)) + sealEnd + others)
}

// unsealed is the text without the line, and the SHA-256 that the line tells: ""
// if there is no such line.
func unsealed(text []byte) (rest []byte, sum string) {
	before, after, found := bytes.Cut(text, []byte("\n"+sealStart))
	told, others, ended := bytes.Cut(after, []byte(sealEnd))
	if !found || !ended {
		return text, ""
	}
	return fmt.Appendf(nil, "%s\n%s", before, others), string(told)
}

// intact is whether a text is as it was when it was sealed; of one that never was
// nobody can tell.
func intact(text []byte) bool {
	rest, sum := unsealed(text)
	return sum != "" && sum == hash(rest)
}

// checkSeal compares a manifest with what it tells of itself, if it does.
func (k keptFolder) checkSeal(file string, text []byte, told string) error {
	if told == "" || intact(text) {
		return nil
	}
	rest, _ := unsealed(text)
	return k.damaged(file, "has the SHA-256 %s without its line own_sha256, where %s was kept", hash(rest), told)
}
