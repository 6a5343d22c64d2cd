// Package exchange turns a setting and a slot into a careful conversation with a
// device: what the slot held is kept as a snapshot and what is going to be done
// is noted in the journal before a byte is written; what the slot holds
// afterwards is read back and compared; and where anything goes wrong on the way
// the old content is put back and that is verified too. Backup and restore of
// whole memories are the same conversation at greater length.
//
// In the end every slot [Holds] what was asked for or what it held before, or
// else nobody knows; then the journal has it, and [Session.Resume] finishes it or
// puts everything back.
//
// The newcomer starts with session.go, then push.go and replace.go.
package exchange
