package emulator

// The controllers by which a parameter that has a number is set.
const (
	valueHigh      = 6
	valueLow       = 38
	numberLow      = 98 // of a parameter that is not registered
	numberHigh     = 99
	registeredLow  = 100
	registeredHigh = 101
)

// unknown stands for a half that has not come.
const unknown = -1

// dataEntry is the parameter that has been chosen, and the high byte of a value
// that waits for its low byte.
type dataEntry struct{ high, low, value int }

func noEntry() dataEntry { return dataEntry{unknown, unknown, unknown} }

// control takes a controller. With the low byte of a value it lets enter set the
// parameter, whose number has 14 bits; high is unknown where only the low byte
// has come. A registered parameter that is chosen is none of the unit's.
func (e *dataEntry) control(number, value byte, enter func(parameter, high, low int)) {
	switch number {
	case numberHigh:
		e.high, e.value = int(value), unknown
	case numberLow:
		e.low, e.value = int(value), unknown
	case registeredHigh, registeredLow:
		*e = noEntry()
	case valueHigh:
		e.value = int(value)
	case valueLow:
		if e.high != unknown && e.low != unknown {
			enter(e.high<<7|e.low, e.value, int(value))
		}
		e.value = unknown
	}
}
