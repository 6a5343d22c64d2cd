package profiles

// A field is where a parameter's code stands in the memory: whole bytes, or
// some bits of them; all of the code, or what is left after a division there and
// how often it goes here.
type field struct {
	at     int
	bytes  int // 0: not in the memory
	low    bool
	shift  int
	bits   int // 0: whole bytes
	offset int // added to the code
	signed bool
	split  int // 0: all of the code stands in one place
	lowAt  int
}

func (f *field) width() int {
	if f.bits > 0 {
		return f.bits
	}
	return 8 * f.bytes
}

// holds reports whether the field has room for a code.
func (f *field) holds(code int) bool {
	n, room := code+f.offset, 1<<f.width()
	switch {
	case f.signed:
		return n >= -room/2 && n < room/2
	case f.split > 0:
		return n >= 0 && n/f.split < room && f.split <= room
	}
	return n >= 0 && n < room
}

func (f *field) put(memory []byte, code int) {
	n := code + f.offset
	if f.split > 0 {
		f.putAt(memory, f.lowAt, n%f.split)
		n /= f.split
	}
	f.putAt(memory, f.at, n)
}

func (f *field) putAt(memory []byte, at, n int) {
	b := memory[at : at+f.bytes]
	if f.bits > 0 {
		mask := (1<<f.bits - 1) << f.shift
		n = getNumber(b, f.low)&^mask | n<<f.shift&mask
	}
	putNumber(b, n, f.low)
}

func (f *field) get(memory []byte) int {
	n := f.getAt(memory, f.at)
	switch {
	case f.split > 0:
		n = n*f.split + f.getAt(memory, f.lowAt)
	case f.signed && n >= 1<<(f.width()-1):
		n -= 1 << f.width()
	}
	return n - f.offset
}

func (f *field) getAt(memory []byte, at int) int {
	n := getNumber(memory[at:at+f.bytes], f.low)
	if f.bits > 0 {
		n = n >> f.shift & (1<<f.bits - 1)
	}
	return n
}

// putNumber fills bytes with a number, high byte first unless low.
func putNumber(b []byte, n int, low bool) {
	for i := range b {
		shift := 8 * i
		if !low {
			shift = 8 * (len(b) - 1 - i)
		}
		b[i] = byte(n >> shift)
	}
}

func getNumber(b []byte, low bool) int {
	n := 0
	for i := range b {
		k := i
		if low {
			k = len(b) - 1 - i
		}
		n = n<<8 | int(b[k])
	}
	return n
}
