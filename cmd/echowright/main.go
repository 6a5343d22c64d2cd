// Command echowright measures old multi-head echo machines from recordings, keeps
// what it found, and brings it to programmable delays over MIDI.
package main

import (
	"context"
	"os"
	"os/signal"
	"syscall"
	"time"

	"echowright/cmd/internal/cli"
)

func main() {
	ctx, stop := signal.NotifyContext(context.Background(), os.Interrupt, syscall.SIGTERM, syscall.SIGHUP)
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
