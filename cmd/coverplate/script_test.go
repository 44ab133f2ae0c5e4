package main

import (
	"context"
	"image"
	"image/color"
	"os"
	"path/filepath"
	"strconv"
	"strings"
	"testing"
	"time"

	"github.com/rogpeppe/go-internal/testscript"

	"coverplate/ingest/catalogue"
	"coverplate/ingest/slate"
)

// TestMain lets the scripts run the program in this binary.
func TestMain(m *testing.M) {
	testscript.Main(m, map[string]func(){"coverplate": func() {
		os.Exit(runIn(context.Background(), pinned(os.Stdin, os.Stdout, os.Stderr), os.Args[1:]))
	}})
}

// pinned are surroundings that are the same on every machine, but for the
// streams: six in the evening of 3 March 2026 in Oslo, unless TEST_NOW says
// otherwise.
func pinned(stdin, stdout, stderr *os.File) surroundings {
	now := time.Date(2026, 3, 3, 17, 0, 0, 0, time.UTC)
	if s := os.Getenv("TEST_NOW"); s != "" {
		t, err := time.Parse(time.RFC3339, s)
		if err != nil {
			panic(err)
		}
		now = t
	}
	return surroundings{Stdin: stdin, Stdout: stdout, Stderr: stderr, Getenv: os.Getenv,
		Now:  func() time.Time { return now },
		Zone: func() string { return os.Getenv("TEST_ZONE") },
		Who:  func() string { return "ingrid" },
	}
}

func TestScripts(t *testing.T) {
	testscript.Run(t, testscript.Params{
		Dir:                 "../../testdata/script",
		RequireExplicitExec: true,
		Cmds: map[string]func(*testscript.TestScript, bool, []string){
			"rc":           wantExit,
			"picture":      writePicture,
			"clockpicture": writeClock,
			"bell":         withEscapes,
			"aged":         aged,
			"cutoff":       cutOff,
		},
	})
}

// wantExit is "rc N command…": the command must end with that exit code.
func wantExit(ts *testscript.TestScript, neg bool, args []string) {
	if neg || len(args) < 2 {
		ts.Fatalf("usage: rc N command…")
	}
	err := ts.Exec(args[1], args[2:]...)
	got := "0"
	if exit, ok := err.(interface{ ExitCode() int }); ok {
		got = string(rune('0' + exit.ExitCode()))
	} else if err != nil {
		ts.Fatalf("%v", err)
	}
	if got != args[0] {
		ts.Fatalf("%v: exit code %s, want %s", args[1:], got, args[0])
	}
}

// withEscapes is "bell FROM TO": a copy in which the words ESC and BELL are the
// characters they name.
func withEscapes(ts *testscript.TestScript, neg bool, args []string) {
	if neg || len(args) != 2 {
		ts.Fatalf("usage: bell FROM TO")
	}
	s := strings.NewReplacer("ESC", "\x1b", "BELL", "\x07").Replace(ts.ReadFile(args[0]))
	ts.Check(os.WriteFile(ts.MkAbs(args[1]), []byte(s), 0o666))
}

// writePicture is "picture FILE WIDTH HEIGHT RED GREEN BLUE TIME [ELEVATION]":
// a JPEG of one colour on grey, with the Exif of an invented camera.
func writePicture(ts *testscript.TestScript, neg bool, args []string) {
	if neg || len(args) < 7 || len(args) > 8 {
		ts.Fatalf("usage: picture FILE WIDTH HEIGHT RED GREEN BLUE TIME [ELEVATION]")
	}
	n := make([]int, 5)
	for i := range n {
		v, err := strconv.Atoi(args[i+1])
		ts.Check(err)
		n[i] = v
	}
	var elevation *int
	if len(args) == 8 {
		v, err := strconv.Atoi(args[7])
		ts.Check(err)
		elevation = &v
	}
	path := ts.MkAbs(args[0])
	ts.Check(os.MkdirAll(filepath.Dir(path), 0o777))
	ts.Check(os.WriteFile(path, pictureOf(n[0], n[1], color.RGBA{uint8(n[2]), uint8(n[3]), uint8(n[4]), 255}, args[6], elevation), 0o666))
}

// writeClock is "clockpicture FILE TIME SHOWN": a photograph of the running code
// as it tells SHOWN (RFC 3339), by a camera whose clock says TIME.
func writeClock(ts *testscript.TestScript, neg bool, args []string) {
	if neg || len(args) != 3 {
		ts.Fatalf("usage: clockpicture FILE TIME SHOWN")
	}
	shown, err := time.Parse(time.RFC3339, args[2])
	ts.Check(err)
	code, err := slate.Make(slate.Payload{Kind: slate.Clock, Shown: shown})
	ts.Check(err)
	const side = 12 // pixels a module
	img := image.NewGray(image.Rect(0, 0, 600, 900))
	for i := range img.Pix {
		img.Pix[i] = 140
	}
	for y := range side * len(code) {
		for x := range side * len(code) {
			if img.SetGray(120+x, 200+y, color.Gray{235}); code[y/side][x/side] {
				img.SetGray(120+x, 200+y, color.Gray{25})
			}
		}
	}
	path := ts.MkAbs(args[0])
	ts.Check(os.MkdirAll(filepath.Dir(path), 0o777))
	ts.Check(os.WriteFile(path, withExif(img, args[1], nil), 0o666))
}

// cutOff is "cutoff FILE BYTES": the file ends there.
func cutOff(ts *testscript.TestScript, neg bool, args []string) {
	if neg || len(args) != 2 {
		ts.Fatalf("usage: cutoff FILE BYTES")
	}
	n, err := strconv.ParseInt(args[1], 10, 64)
	ts.Check(err)
	ts.Check(os.Truncate(ts.MkAbs(args[0]), n))
}

// aged is "aged SHOOT": its frames are as a version left them that measured
// less.
func aged(ts *testscript.TestScript, neg bool, args []string) {
	if neg || len(args) != 1 {
		ts.Fatalf("usage: aged SHOOT")
	}
	store, err := catalogue.Open(filepath.Join(ts.MkAbs(args[0]), "catalogue.db"))
	ts.Check(err)
	defer store.Close()
	all, err := store.Frames(context.Background())
	ts.Check(err)
	for _, f := range all {
		f.Measured, f.Exposure = 0, catalogue.Exposure{}
		ts.Check(store.Put(context.Background(), f))
	}
}
