package emulator

// sound is what the maker put into a slot.
type sound struct {
	lines              []line
	drive, rate, depth int
}

const filterOff = 31 // of the high cut

// factorySounds are the eight characters; each is found in eight sizes.
var factorySounds = [...]sound{
	// Three heads, the last one fed back: two more lines repeat the first two.
	{lines: []line{
		{time: 1100, level: 109, highCut: 22},
		{time: 2200, level: 115, highCut: 22},
		{time: 3300, level: 121, feedback: 52, highCut: 22},
		{time: 1100, level: 93, source: 3, highCut: 22},
		{time: 2200, level: 99, source: 3, highCut: 22},
	}, drive: 15, rate: 90, depth: 12},
	// One short repeat.
	{lines: []line{{time: 950, level: 117, highCut: 26, lowCut: 14}}},
	// One long echo that dies away slowly.
	{lines: []line{{time: 3750, level: 113, feedback: 74, highCut: 18, lowCut: 10}}, rate: 60, depth: 8},
	// Two heads at odds, in opposite polarity.
	{lines: []line{
		{time: 1730, level: 119, feedback: 30, highCut: filterOff},
		{time: 2590, level: 115, polarity: 1, feedback: 44, highCut: filterOff},
	}},
	// Four heads evenly spaced, each a little softer, none fed back.
	{lines: []line{
		{time: 1500, level: 121, highCut: 24},
		{time: 3000, level: 117, highCut: 24},
		{time: 4500, level: 113, highCut: 24},
		{time: 6000, level: 109, highCut: 24},
	}, drive: 30},
	// Lines in a row, the signal growing duller from one to the next.
	{lines: []line{
		{time: 1250, level: 121, highCut: 20},
		{time: 1250, level: 119, source: 1, highCut: 18},
		{time: 1250, level: 117, source: 2, highCut: 16},
		{time: 1250, level: 115, source: 3, highCut: 14},
		{time: 1250, level: 113, feedback: 60, source: 4, highCut: 12},
	}, rate: 110, depth: 20},
	// A dense cloud of small rooms.
	{lines: []line{
		{time: 313, level: 105, feedback: 84, highCut: 15, lowCut: 20},
		{time: 419, level: 105, polarity: 1, feedback: 80, highCut: 15, lowCut: 20},
		{time: 577, level: 105, feedback: 76, highCut: 15, lowCut: 20},
		{time: 691, level: 105, polarity: 1, feedback: 72, highCut: 15, lowCut: 20},
		{time: 829, level: 105, feedback: 68, highCut: 15, lowCut: 20},
	}},
	// Far away.
	{lines: []line{
		{time: 7200, level: 103, feedback: 50, highCut: 12, lowCut: 22},
		{time: 10900, level: 97, feedback: 38, highCut: 10, lowCut: 22},
	}, rate: 45, depth: 25},
}

// factory is the memory as it leaves the maker, named after places that are on
// no map: the first half of a name tells the character, the second the size.
func factory() (slots [fiveLineSlots]memory) {
	first := [len(factorySounds)]string{"Orla", "Brine", "Tesko", "Dulma", "Vaska", "Fenni", "Quore", "Heska"}
	second := [...]string{"nby", "swick", "mere", "loch", "dun", "garth", "holm", "rost"}
	for i := range slots {
		character, size := i/len(second), i%len(second)
		slots[i] = factorySounds[character].sized(size, first[character]+second[size])
	}
	return slots
}

// sized is the sound with its times longer by size sixteenths.
func (s sound) sized(size int, name string) (m memory) {
	for n := range lines {
		l := line{highCut: filterOff}
		if n < len(s.lines) {
			l = s.lines[n]
			l.time += l.time * size / 16
		}
		m.setLine(n, l)
	}
	for i, code := range []int{121, s.drive, s.rate, s.depth} {
		m.set(commonFields[i], code)
	}
	m.setName(name)
	m.seal()
	return m
}
