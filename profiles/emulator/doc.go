// Package emulator turns the bytes sent to a piece of hardware into the answers
// that its firmware would give, and its memory into the echoes that it would
// make. It is written from the owner's manual alone, in plain code with its own
// packing, checksum and CRC, and never looks at a device profile: so that the
// two can disagree.
//
// The core is pure: bytes come in with the time at which they arrive
// ([Unit.Arrive]), answers go out with the time at which they have left
// ([Unit.Run]). [Serve] puts it on a port. [Faults] are illnesses to order, and
// [FaultKinds] lists their names. [Unit.Image] is the memory, to be put into
// another unit.
//
// # Where the manuals leave a choice
//
// All units:
//
//   - A byte takes 320 µs on the wire and in the firmware. Bytes handed over in a
//     lump wait in the input buffer; with 256 waiting, further ones are lost.
//   - Sixteen answers can wait for the wire; a further one is lost.
//   - At power-up the first memory sounds. A unit that restarts forgets whatever
//     is not in a memory; one that is being written keeps its old content.
//   - A unit that needs a silence loses a message which begins too early as a
//     whole. Under running status a message begins with its first data byte.
//     Messages on other channels need no silence, nor do real-time bytes.
//   - A code that its parameter does not have is passed over, where the unit has
//     no way to say so.
//
// The five-line unit:
//
//   - The silence runs from the last byte of a message addressed to the unit until
//     the F0 of the next one, both as they are read. A message that begins earlier
//     is lost as a whole, without a word, and does not lengthen the silence.
//   - A message arrives when its F7 is read: that moment decides whether a flash
//     write is still under way. A slot changes when its write is done.
//   - An unknown command is found out where a wrong length is: so it may be
//     answered "busy" or "checksum" before that. A message with no room for a
//     command and a sum gets no answer, nor does one of over 256 bytes.
//   - The Identity Request is answered also during a flash write: reason 06h names
//     a command, and it has none.
//   - A message to unit 7Fh is answered under the unit's own number.
//   - Bytes and bits of a slot that the manual calls zero, or gives no meaning,
//     are refused with reason 03h where they are set. The two bits that the packing
//     leaves over at the end are not looked at.
//   - A line whose source is the line itself is the shortest chain that comes back
//     to itself: reason 04h.
//
// The tap-loop unit:
//
//   - On a MIDI cable it needs no silence: it reads at wire speed.
//   - A store takes 450 ms. What is read meanwhile is lost, and with it the
//     running status: after a store it waits for a status byte.
//   - The two halves of a parameter number may come in either order, and each
//     stays until it is sent again. A number that is chosen forgets the high byte
//     of a value that waits; the low byte alone changes the low 7 bits. A
//     registered number, or the null one, is no parameter of the unit's.
//   - The feedback is taken before the tap's polarity too, as the formula has it.
//   - A loop of 1 or more howls whatever the high cut, which leaves the lowest
//     tones whole, and whether or not a tap is heard: see [ErrHowls].
//
// The twin:
//
//   - A store takes 180 ms, and loses what is read meanwhile as above, clocks too.
//     Another value than 127 stores nothing. Before any preset was selected, the
//     one selected last is program 0 of bank 0.
//   - The bank is a number of 14 bits, so its high byte alone sets the low one to
//     zero. A Program Change to a preset that is not there selects nothing.
//   - Slots are counted bank · 100 + program.
//   - A quarter note is as long as the last 24 clocks took. Before two clocks have
//     come a clocked line keeps its own time; when the clock stops, the tempo
//     stays; after 300 ms of silence it is a new clock. A note longer than 1200 ms
//     is halved until it fits.
//
// The open-parameter unit:
//
//   - Device number and channel (for Program Change) are set apart. It needs no
//     silence, and has no switch for write protection.
//   - A control message with another slot path or other widths, or whose pairs do
//     not come out even, changes nothing; a pair that is unknown or too high is
//     passed over, and the others are not.
//   - A message of a File Dump carries the number of the device that gets it. What
//     is asked for but not there, or announced but no memory of 32 bytes, is
//     cancelled; length 0 stands for one not yet known.
//   - A memory is written when the end of the dump comes, and only if 32 bytes had
//     come; what sounds stays. One with a code too high, or something where zero
//     should be, is cancelled instead of its last packet acknowledged.
//   - A damaged packet is refused by the number that was awaited, since its own may
//     be damaged. A packet with another number than that ends the dump.
//   - A dump that comes in is forgotten after 2 s without a packet. The unit lets
//     itself be told to wait for a minute.
//   - A level of 0 is −102.3 dB, and no silence.
//   - The loop is said to howl where the taps together, each counted without its
//     sign, reach unity: where none is inverted that is exactly so, and else but
//     for delays in rare proportions.
//
// The newcomer starts with unit.go, then taploop.go for the shortest firmware.
package emulator
