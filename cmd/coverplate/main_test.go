package main

import (
	"bytes"
	"testing"
	"time"
)

// called runs the program in this process and returns what it printed.
func called(t *testing.T, args ...string) (code int, stdout, stderr string) {
	t.Helper()
	var out, errs bytes.Buffer
	code = runIn(t.Context(), surroundings{Stdin: &bytes.Buffer{}, Stdout: &out, Stderr: &errs,
		Now:    func() time.Time { return time.Date(2026, 3, 3, 17, 0, 0, 0, time.UTC) },
		Getenv: func(string) string { return "" }, Zone: func() string { return "Europe/Oslo" }, Who: func() string { return "ingrid" }}, args)
	return code, out.String(), errs.String()
}
