package emulator

import (
	"errors"
	"fmt"
	"strconv"
	"strings"
)

// imageFormat begins an image; the name of the hardware follows.
const imageFormat = "echowright-memory/1"

// Image is what the memory holds, as text that SetImage takes: so a unit can be
// switched off and on again. Each line is a slot: its number, then its codes in
// the order of [Sound.Parameters]. A write that is under way is not in it.
func (u *Unit) Image() []byte {
	u.mu.Lock()
	defer u.mu.Unlock()
	return u.image()
}

func (u *Unit) image() []byte {
	text := []byte(imageFormat + " " + u.name + "\n")
	for slot := range u.firmware.memories() {
		text = append(appendLine(text, slot, u.firmware.sound(slot).codes), '\n')
	}
	return text
}

func appendLine(text []byte, slot int, codes []parameter) []byte {
	text = strconv.AppendInt(text, int64(slot), 10)
	for _, p := range codes {
		text = strconv.AppendInt(append(text, ' '), int64(p.code), 10)
	}
	return text
}

// SetImage makes the memory what an image of the same hardware says, and the
// first slot sound, as at power-up. The error names the line; the memory is then
// as it was.
func (u *Unit) SetImage(image []byte) error {
	u.mu.Lock()
	defer u.mu.Unlock()
	before := u.image()
	if err := u.insert(image); err != nil {
		_ = u.insert(before) // it was taken before
		return fmt.Errorf("emulator %s: %w", u.name, err)
	}
	u.firmware.recall(0)
	return nil
}

func (u *Unit) insert(image []byte) error {
	lines := strings.Split(strings.TrimSuffix(string(image), "\n"), "\n")
	if want := imageFormat + " " + u.name; lines[0] != want {
		return fmt.Errorf("memory: line 1: %.60q: must be %q; it is the memory of something else", lines[0], want)
	}
	if slots := len(lines) - 1; slots != u.firmware.memories() {
		return fmt.Errorf("memory: %d slots where the unit has %d; without the file it starts with its factory memory", slots, u.firmware.memories())
	}
	for slot, line := range lines[1:] {
		if err := u.insertSlot(slot, line); err != nil {
			return fmt.Errorf("memory: line %d: slot %d: %w", slot+2, slot, err)
		}
	}
	return nil
}

func (u *Unit) insertSlot(slot int, line string) error {
	words := strings.Split(line, " ")
	parameters := u.firmware.sound(slot).codes
	if len(words) != 1+len(parameters) {
		return fmt.Errorf("%d numbers: its own and %d codes are wanted", len(words), len(parameters))
	}
	codes := make([]int, len(parameters))
	for i, word := range words[1:] {
		code, err := strconv.Atoi(word)
		if err != nil {
			return fmt.Errorf("%s: %.20q is no code", parameters[i].name, word)
		}
		codes[i] = code
	}
	ok := u.firmware.put(slot, codes)
	// What was taken, written out again, shows a code that is too large for its place.
	if !ok || string(appendLine(nil, slot, u.firmware.sound(slot).codes)) != line {
		return errors.New("there is a code, or a routing, that the unit does not have")
	}
	return nil
}
