// Package emulator turns the bytes sent to a piece of hardware into the answers
// that its firmware would give, and its memory into the echoes that it would
// make. It is written from the owner's manual alone, in plain code with its own
// packing, checksum and CRC, and never looks at a device profile: so that the
// two can disagree.
//
// The core is pure: bytes come in with the time at which they arrive
// ([FiveLine.Arrive]), answers go out with the time at which they have left
// ([FiveLine.Run]). [Serve] puts it on a port. [Faults] are illnesses to order.
//
// # Where the manual leaves a choice
//
//   - A byte takes 320 µs on the wire and in the firmware. Bytes handed over in a
//     lump wait in the input buffer; with 256 waiting, further ones are lost.
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
//   - Sixteen answers can wait for the wire; a further one is lost.
//
// The newcomer starts with fiveline.go, then commands.go.
package emulator
