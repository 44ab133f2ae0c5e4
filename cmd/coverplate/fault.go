package main

import (
	"context"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"strings"

	"coverplate/audit/plansheet"
	"coverplate/ingest"
)

// The exit codes.
const (
	exitFailed  = 1
	exitUsage   = 2
	exitWanting = 3
)

// errWanting ends a command that ran to its end and has printed what is
// wanting.
var errWanting = errors.New("something is wanting")

// wrongUse is an error that the person at the keyboard can mend by calling the
// command otherwise.
type wrongUse struct{ err error }

func (e wrongUse) Error() string { return e.err.Error() }
func (e wrongUse) Unwrap() error { return e.err }

// hinted is an error with a way out.
type hinted struct {
	err  error
	hint string
}

func (e hinted) Error() string { return e.err.Error() }
func (e hinted) Unwrap() error { return e.err }

// misused is a wrong use, with the way out.
func misused(hint, format string, args ...any) error {
	return hinted{wrongUse{fmt.Errorf(format, args...)}, hint}
}

// withHint gives err a way out, unless it has one.
func withHint(err error, hint string) error {
	if err == nil || errors.As(err, new(hinted)) {
		return err
	}
	return hinted{err, hint}
}

// tell tells the person what went wrong, the fault and then the way out, and
// returns the exit code.
func tell(w io.Writer, err error) int {
	if err == nil {
		return 0
	}
	code, says, hint := fault(err)
	if says != "" {
		fmt.Fprintln(w, "coverplate: "+plainLines(says))
	}
	if hint != "" {
		fmt.Fprintln(w, "hint: "+plainLines(hint))
	}
	return code
}

// fault turns an error into an exit code, the fault and the way out.
func fault(err error) (code int, says, hint string) {
	var h hinted
	var broken *plansheet.FormatError
	var foreign *plansheet.UnsupportedError
	switch {
	case errors.As(err, &h):
		hint = h.hint
	case errors.As(err, &broken):
		hint = broken.Want
	case errors.As(err, &foreign):
		hint = foreign.Want
	case errors.Is(err, ingest.ErrNoSource), errors.Is(err, ingest.ErrOwnFolder):
		return exitUsage, err.Error(), "give the folder of a card, or any folder of pictures"
	case errors.Is(err, ingest.ErrSecond):
		return exitUsage, err.Error(), "give a folder on another disk, apart from the shoot and the card"
	case errors.Is(err, ingest.ErrBusy):
		hint = "wait for the other run to end, then run this one again"
	}
	switch {
	case errors.Is(err, errWanting):
		return exitWanting, "", ""
	case errors.As(err, new(wrongUse)):
		return exitUsage, err.Error(), hint
	case errors.Is(err, context.Canceled):
		if hint == "" {
			hint = "nothing is broken; run the same command again to go on"
		}
		return exitFailed, "stopped before the end", hint
	}
	return exitFailed, err.Error(), hint
}

// plainLines keeps the lines of our own messages apart and makes each plain,
// for a file's name can hold what a terminal would obey.
func plainLines(s string) string {
	lines := strings.Split(strings.TrimRight(s, "\n"), "\n")
	for i, l := range lines {
		lines[i] = plain(l)
	}
	return strings.Join(lines, "\n")
}

// pathless is what err says without the path or the name of the file it is said
// of, which stands beside it already.
func pathless(err error, path string) string {
	var at *fs.PathError
	if errors.As(err, &at) && lastName(at.Path) == lastName(path) { // the one may be absolute, the other as it was given
		return at.Err.Error()
	}
	return withoutName(err.Error(), path)
}

// withoutName takes the path of a file, or its name, off every part of a text.
func withoutName(says, path string) string {
	says = strings.ReplaceAll(says, path+": ", "")
	return strings.ReplaceAll(says, lastName(path)+": ", "")
}
