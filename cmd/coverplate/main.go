// Command coverplate tells what a cookbook shoot still lacks: it reads the
// author's plan and the photographers' cards, and holds the one against the
// other. This package talks, to people and to the shell: a command parses its
// words, calls audit, ingest or colour, and prints what they answer.
package main

import (
	"context"
	"errors"
	"fmt"
	"io"
	"os"
	"os/signal"
	"os/user"
	"syscall"
	"time"
	_ "time/tzdata" // a static binary on a bare machine still knows the zones
)

func main() {
	ctx, stop := signal.NotifyContext(context.Background(), os.Interrupt, syscall.SIGTERM)
	go func() {
		<-ctx.Done()
		stop() // a second Ctrl-C ends the process at once
	}()
	os.Exit(run(ctx, os.Args[1:], os.Stdin, os.Stdout, os.Stderr))
}

// run carries out one command line, without the program's name, and returns
// the exit code: 0 well, 1 failed, 2 used wrongly, 3 ran and something is
// wanting.
func run(ctx context.Context, args []string, stdin io.Reader, stdout, stderr io.Writer) int {
	return runIn(ctx, surroundings{
		Stdin: stdin, Stdout: stdout, Stderr: stderr,
		Now: time.Now, Getenv: os.Getenv, Zone: systemZone, Who: systemUser,
	}, args)
}

// surroundings is all that a command takes from the machine besides files.
type surroundings struct {
	Stdin          io.Reader
	Stdout, Stderr io.Writer
	Now            func() time.Time
	Getenv         func(string) string
	Zone           func() string // the system's zone by its IANA name; "" not known
	Who            func() string // the person at the keyboard; "" not known
}

// runIn is run in the given surroundings.
func runIn(ctx context.Context, at surroundings, args []string) int {
	out := &keptError{w: at.Stdout}
	at.Stdout = out
	root := newRoot(at)
	root.SetArgs(args)
	err := root.ExecuteContext(ctx)
	if out.err != nil && (err == nil || errors.Is(err, errWanting)) {
		err = fmt.Errorf("write output: %w", out.err)
	}
	return tell(at.Stderr, err)
}

// keptError keeps the first error of writing, so that a full disk is not taken
// for a finished job.
type keptError struct {
	w   io.Writer
	err error
}

func (k *keptError) Write(p []byte) (int, error) {
	n, err := k.w.Write(p)
	if err != nil && k.err == nil {
		k.err = err
	}
	return n, err
}

// systemUser is the login name of whoever runs the program.
func systemUser() string {
	u, err := user.Current()
	if err != nil {
		return ""
	}
	return u.Username
}
