package main

import (
	"bytes"
	"context"
	"errors"
	"strings"
	"testing"
	"testing/synctest"
	"time"

	"coverplate/ingest/slate"
)

// onTerminal is a picture of what a terminal shows: black on white, side pixels
// wide a column and twice as high a line.
func onTerminal(lines []string, side int) slate.Picture {
	p := slate.Picture{Width: side * len([]rune(lines[0])), Height: 2 * side * len(lines)}
	p.Pix = make([]uint8, p.Width*p.Height)
	for i := range p.Pix {
		x, y := i%p.Width/side, i/p.Width/side
		c := []rune(lines[y/2])[x]
		if dark := c == '█' || c == '▀' && y%2 == 0 || c == '▄' && y%2 == 1; !dark {
			p.Pix[i] = 255
		}
	}
	return p
}

// shownIn reads the time in a picture of a code; false where there is none.
func shownIn(p slate.Picture) (time.Time, bool) {
	for _, text := range slate.Read(p) {
		if got, err := slate.Parse(text); err == nil && got.Kind == slate.Clock {
			return got.Shown, true
		}
	}
	return time.Time{}, false
}

// TestTheClockRunsInATerminal: what stands on the terminal each second is read
// as a camera would read it.
func TestTheClockRunsInATerminal(t *testing.T) {
	oslo, err := time.LoadLocation("Europe/Oslo")
	if err != nil {
		t.Fatal(err)
	}
	for _, c := range []struct{ columns, rows, want int }{{80, 24, 29}, {200, 60, 116}, {29, 17, 29}} {
		synctest.Test(t, func(t *testing.T) {
			ctx, stop := context.WithTimeout(t.Context(), 2500*time.Millisecond)
			defer stop()
			var out bytes.Buffer
			start := time.Now()
			now := func() slate.Payload {
				return slate.Payload{Kind: slate.Clock, Shoot: "K7Q2M", Shown: time.Now().In(oslo)}
			}
			if err := runningCode(ctx, &out, func() (int, int, error) { return c.columns, c.rows, nil }, now); err != nil {
				t.Fatal(err)
			}
			screens := strings.Split(out.String(), "\x1b[H")[1:]
			if len(screens) != 3 {
				t.Fatalf("%d screens in 2.5 s, want 3", len(screens))
			}
			for i, s := range screens {
				var lines []string
				for _, l := range strings.Split(s, "\r\n") {
					if code, ok := strings.CutPrefix(l, "\x1b[30;107m"); ok {
						lines = append(lines, strings.TrimSuffix(code, "\x1b[0m\x1b[K"))
					}
				}
				if len(lines) == 0 || len([]rune(lines[0])) != c.want || len(lines)+2 > c.rows {
					t.Fatalf("%d×%d: the code has %d lines", c.columns, c.rows, len(lines))
				}
				got, ok := shownIn(onTerminal(lines, 6))
				want := start.Add(time.Duration(i) * time.Second)
				if _, east := got.Zone(); !ok || !got.Equal(want) || east != 3600 {
					t.Errorf("second %d: read %v %v, want %v", i, got, ok, want)
				}
			}
			if !strings.HasSuffix(out.String(), "\x1b[?25h") {
				t.Error("the cursor stays hidden")
			}
		})
	}
	small := func() (int, int, error) { return 28, 24, nil }
	if err := runningCode(t.Context(), &bytes.Buffer{}, small, func() slate.Payload { return slate.Payload{Kind: slate.Clock, Shown: time.Now()} }); !errors.As(err, new(wrongUse)) {
		t.Errorf("a terminal too small: %v", err)
	}
}
