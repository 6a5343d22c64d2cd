package library

import (
	"fmt"
	"strings"
)

// SlotWords lists slots for people, in the order in which they are given: "no slot",
// "slot 5", "slots 0-7, 12". What follows "slots" is what --slots takes.
func SlotWords(numbers []int) string {
	switch len(numbers) {
	case 0:
		return "no slot"
	case 1:
		return fmt.Sprintf("slot %d", numbers[0])
	}
	var parts []string
	for len(numbers) > 0 {
		n := inARow(numbers)
		if n < 3 { // "4, 5" reads better than "4-5"
			n = 1
			parts = append(parts, fmt.Sprint(numbers[0]))
		} else {
			parts = append(parts, fmt.Sprintf("%d-%d", numbers[0], numbers[n-1]))
		}
		numbers = numbers[n:]
	}
	return "slots " + strings.Join(parts, ", ")
}

// inARow is how many numbers at the beginning follow each other without a gap.
func inARow(numbers []int) int {
	n := 1
	for n < len(numbers) && numbers[n] == numbers[n-1]+1 {
		n++
	}
	return n
}
