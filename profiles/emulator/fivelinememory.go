package emulator

// The memory of one sound: five lines of twelve bytes, what is common to them,
// the name, and the CRC of all that.
const (
	memorySize = 96
	lines      = 5
	lineSize   = 12
	commonAt   = 60
	nameAt     = 68
	nameSize   = 12
	crcAt      = 94
)

// memory is a slot, or the edit buffer (whose CRC is not kept up).
type memory [memorySize]byte

// field is where the code of a parameter stands and how far it goes. Two bytes
// stand low byte first.
type field struct {
	at       int
	wide     bool
	min, max int
}

// lineFields stand in the order of their addresses, n·10h on, and are found at n·12 on.
var lineFields = [...]field{
	{at: 0, wide: true, max: 16000}, // time
	{at: 2, max: 121},               // level
	{at: 4, max: 1},                 // polarity, the only flag
	{at: 3, max: 127},               // feedback
	{at: 5, max: lines},             // source
	{at: 6, max: 31},                // high cut
	{at: 7, max: 31},                // low cut
}

// commonFields stand at addresses 60h on.
var commonFields = [...]field{
	{at: commonAt, max: 121},                  // dry level
	{at: commonAt + 1, max: 100},              // drive
	{at: commonAt + 2, wide: true, max: 1000}, // wobble rate
	{at: commonAt + 4, max: 200},              // wobble depth
}

// The addresses of what is not a line's.
const (
	lineStep      = 0x10
	commonAddress = 0x60
	nameAddress   = 0x70
	lastAddress   = nameAddress + nameSize - 1
)

// find is the field at a parameter's address, if there is one.
func find(address int) (field, bool) {
	row, offset := address/lineStep, address%lineStep
	switch {
	case row < lines && offset < len(lineFields):
		f := lineFields[offset]
		f.at += row * lineSize
		return f, true
	case row == commonAddress/lineStep && offset < len(commonFields):
		return commonFields[offset], true
	case row == nameAddress/lineStep && offset < nameSize:
		return field{at: nameAt + offset, min: 0x20, max: 0x7E}, true
	}
	return field{}, false
}

func (m *memory) get(f field) int {
	if f.wide {
		return int(m[f.at]) | int(m[f.at+1])<<8
	}
	return int(m[f.at])
}

func (m *memory) set(f field, code int) {
	m[f.at] = byte(code)
	if f.wide {
		m[f.at+1] = byte(code >> 8)
	}
}

// wrong is what forbids the content of a slot: a code that its parameter does
// not have, something where zero should be, or a routing that comes back to itself.
func (m *memory) wrong() reason {
	rest := *m
	for address := range lastAddress + 1 {
		f, ok := find(address)
		if !ok {
			continue
		}
		if code := m.get(f); code < f.min || code > f.max {
			return badValue
		}
		rest.set(f, 0)
	}
	rest[crcAt], rest[crcAt+1] = 0, 0
	if rest != (memory{}) {
		return badValue
	}
	if m.looped() {
		return badRouting
	}
	return fine
}

// looped tells whether a chain of sources comes back to a line it has left: it
// then never reaches the input.
func (m *memory) looped() bool {
	for n := range lines {
		source := m.line(n).source
		for range lines {
			if source != 0 {
				source = m.line(source - 1).source
			}
		}
		if source != 0 {
			return true
		}
	}
	return false
}

// seal writes the CRC.
func (m *memory) seal() {
	crc := crc16(m[:crcAt])
	m[crcAt], m[crcAt+1] = byte(crc>>8), byte(crc)
}

func (m *memory) sealed() bool {
	crc := crc16(m[:crcAt])
	return m[crcAt] == byte(crc>>8) && m[crcAt+1] == byte(crc)
}

// line is the codes of one line.
type line struct {
	time, level, polarity, feedback, source, highCut, lowCut int
}

func (m *memory) line(n int) line {
	var codes [len(lineFields)]int
	for offset := range codes {
		f, _ := find(n*lineStep + offset)
		codes[offset] = m.get(f)
	}
	return line{codes[0], codes[1], codes[2], codes[3], codes[4], codes[5], codes[6]}
}

func (m *memory) setLine(n int, l line) {
	for offset, code := range []int{l.time, l.level, l.polarity, l.feedback, l.source, l.highCut, l.lowCut} {
		f, _ := find(n*lineStep + offset)
		m.set(f, code)
	}
}

func (m *memory) setName(name string) {
	copy(m[nameAt:nameAt+nameSize], "            ")
	copy(m[nameAt:nameAt+nameSize], name)
}
