// Command echowright measures old multi-head echo machines from recordings, keeps
// what it found, and brings it to programmable delays over MIDI.
package main

import (
	"context"
	"os"
	"os/signal"
	"slices"
	"syscall"
	"time"

	"echowright/cmd/internal/cli"
)

func main() {
	// A pipe that nobody reads any more is an error of writing, not the end: a slot may
	// be half written.
	signal.Ignore(syscall.SIGPIPE)
	ctx, stop := signal.NotifyContext(context.Background(), wanted(os.Interrupt, syscall.SIGTERM, syscall.SIGHUP)...)
	context.AfterFunc(ctx, stop) // a second Ctrl-C, or terminal that closes, ends the program as it stands
	code := cli.Run(ctx, cli.Env{
		Args:  os.Args[1:],
		Stdin: os.Stdin, Stdout: os.Stdout, Stderr: os.Stderr,
		Getenv: os.Getenv,
		Now:    time.Now,
		Ports:  cli.Ports(),
	})
	stop()
	os.Exit(code)
}

// wanted are those of the signals that whoever started the program does not want it
// to pass over, as nohup does.
func wanted(signals ...os.Signal) []os.Signal {
	return slices.DeleteFunc(signals, signal.Ignored)
}
