package profiles

import "math/bits"

// NearSlots are those that a write to slot would overwrite in its place if one bit
// of it went wrong on the way, with no checksum to show that: a File Dump's header,
// which names the memory, has none. For a slot that travels in one message there
// are none.
func (d *Device) NearSlots(slot int) []int {
	if d.memory.fileDump == nil {
		return nil
	}
	name := func(n int) []byte {
		b, _ := d.memory.fileDump.name.append(nil, &fields{slot: n}) // tried for all slots when the profile was read
		return b
	}
	meant := name(slot)
	var near []int
	for n := d.FirstSlot; n <= d.LastSlot; n++ {
		if wrongBits(meant, name(n)) == 1 {
			near = append(near, n)
		}
	}
	return near
}

// wrongBits is in how many bits two names of one length differ.
func wrongBits(a, b []byte) int {
	if len(a) != len(b) {
		return len(a) + len(b)
	}
	n := 0
	for i := range a {
		n += bits.OnesCount8(a[i] ^ b[i])
	}
	return n
}
