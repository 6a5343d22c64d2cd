// Package profiles turns the description of a delay, a device profile in TOML,
// into what a program needs to speak to it: the parameters with the meaning of
// every code, the layout of a slot's memory, the messages with the answers they
// may get, and the signal flow that a setting makes.
//
// A device is data. Nothing here knows a make or model; the profiles that are
// shipped stand as *.toml beside the code, each with its manual in our words.
//
// The newcomer starts with device.go, line.go and five-line.toml, then network.go.
package profiles
