// Package exchange turns a setting and a slot into a careful conversation with a
// device: what the slot held is kept as a snapshot before a byte is written, and
// what it holds afterwards is read back and compared. Backup and restore of
// whole memories are the same conversation at greater length.
//
// The newcomer starts with session.go, then push.go.
package exchange
