package main

import (
	"context"
	"errors"
	"fmt"
	"io"
	"net"
	"strings"
	"time"

	"github.com/spf13/cobra"
	"golang.org/x/term"

	"coverplate/cmd/coverplate/desk"
	"coverplate/ingest/slate"
)

// slateClockOptions say where the running clock is shown.
type slateClockOptions struct {
	Addr     string
	Terminal bool
}

func newSlateClock(at surroundings, where *string) *cobra.Command {
	var o slateClockOptions
	cmd := &cobra.Command{
		Use:   "slate-clock",
		Short: "show the studio's time as a code to photograph",
		Long: `Shows a code that tells the present time and is drawn anew each second: as a
page for the whole screen, which only this machine can open, or with --terminal
here. Photograph it with every camera, once a day at least and again when one
was set: ingest reads the code, and coverplate clock tells how far that camera
is off. Two shots tell how well that is known.

This machine's clock is taken for the studio's: see that it is right. The zone
is the shoot's, or where no shoot is at hand the machine's. Where the output is
no terminal, --terminal prints one code and ends.`,
		Example: `  coverplate slate-clock
  coverplate slate-clock --terminal`,
		Args: usage(cobra.NoArgs, "no words"),
		RunE: func(cmd *cobra.Command, _ []string) error {
			if o.Terminal && cmd.Flags().Changed("addr") {
				return misused("leave one of them out", "--addr is of the page, --terminal of the code without one")
			}
			return runSlateClock(cmd.Context(), at, *where, o)
		},
	}
	f := cmd.Flags()
	f.StringVar(&o.Addr, "addr", "127.0.0.1:0", "`HOST:PORT` to listen on")
	f.BoolVar(&o.Terminal, "terminal", false, "draw it here, in half blocks")
	return cmd
}

func runSlateClock(ctx context.Context, at surroundings, where string, o slateClockOptions) error {
	zone, id, err := studioOf(at, where)
	if err != nil {
		return err
	}
	now := func() slate.Payload { return slate.Payload{Kind: slate.Clock, Shoot: id, Shown: at.Now().In(zone)} }
	if o.Terminal {
		if screen, ok := terminal(at.Stdout); ok {
			return runningCode(ctx, at.Stdout, func() (int, int, error) { return term.GetSize(int(screen.Fd())) }, now)
		}
		code, err := slate.Make(now())
		if err != nil {
			return err
		}
		_, err = fmt.Fprintln(at.Stdout, strings.Join(halfBlocks(code, 1), "\n"))
		return err
	}
	host, _, err := net.SplitHostPort(o.Addr)
	if ip := net.ParseIP(host); err != nil || host != "localhost" && (ip == nil || !ip.IsLoopback()) {
		return misused("give it like 127.0.0.1:8474; the desk's page Slate can be opened to the studio with coverplate desk --lan", "--addr %s is no place of this machine alone", o.Addr)
	}
	listener, err := net.Listen("tcp", o.Addr)
	if err != nil {
		return withHint(err, "leave --addr out for any free place")
	}
	defer listener.Close()
	place := listener.Addr().(*net.TCPAddr)
	page, err := desk.Clock{Hosts: hostsOf(place, false), Slate: id, Now: at.Now, Where: zone}.Handler()
	if err != nil {
		return err
	}
	if _, err := fmt.Fprintf(at.Stdout, "The clock runs; Ctrl-C ends it.\n  http://%s/\n", place); err != nil {
		return err
	}
	return serveUntil(ctx, page, listener)
}

// studioOf is the zone and the id of the shoot at hand, else the machine's zone.
func studioOf(at surroundings, where string) (zone *time.Location, id string, err error) {
	s, err := openShoot(where)
	if err == nil {
		return s.Settings.Where, s.Settings.ID, nil
	}
	if where != "" || !errors.As(err, new(wrongUse)) {
		return nil, "", err
	}
	if zone, err := zoneNamed(at.Zone()); err == nil {
		return zone, "", nil
	}
	return time.UTC, "", nil // the code tells its zone: as an instant it is as right
}

// runningCode draws the time's code on a terminal, anew each second and as
// large as it has room, until ctx ends. Dark on light whatever the terminal's
// colours are: readers want it so.
func runningCode(ctx context.Context, w io.Writer, size func() (columns, rows int, err error), now func() slate.Payload) error {
	const (
		clear = "\x1b[2J\x1b[?25l" // and hides the cursor
		home  = "\x1b[H"
		ink   = "\x1b[30;107m" // black on bright white
		end   = "\x1b[0m\x1b[K\r\n"
		done  = "\x1b[0m\x1b[J\x1b[?25h" // shows the cursor again
	)
	every := time.NewTicker(time.Second)
	defer every.Stop()
	defer io.WriteString(w, done)
	last := [2]int{}
	for {
		p := now()
		code, err := slate.Make(p)
		if err != nil {
			return err
		}
		columns, rows, err := size()
		if err != nil {
			return err
		}
		const words = 2 // lines below the code
		scale := min(columns/len(code), 2*(rows-words)/len(code))
		if scale < 1 {
			return misused("make its window larger, or leave --terminal out", "the terminal has %d columns and %d lines; the code wants %d and %d", columns, rows, len(code), (len(code)+1)/2+words)
		}
		var b strings.Builder
		if at := [2]int{columns, rows}; at != last {
			b.WriteString(clear)
			last = at
		}
		b.WriteString(home)
		for _, line := range halfBlocks(code, scale) {
			b.WriteString(ink + line + end)
		}
		b.WriteString(cut(p.Shown.Format("15:04:05  2 January 2006  -07:00"), columns) + end)
		b.WriteString(cut("Photograph this with every camera; Ctrl-C ends it.", columns) + "\x1b[0m\x1b[J")
		if _, err := io.WriteString(w, b.String()); err != nil {
			return err
		}
		select {
		case <-ctx.Done():
			return nil
		case <-every.C:
		}
	}
}

// halfBlocks draws a code as lines of text, scale columns and scale half lines
// a module: block characters where it is dark (Unicode 2580, 2584, 2588).
func halfBlocks(code [][]bool, scale int) []string {
	n := len(code) * scale
	dark := func(x, y int) bool { return y < n && code[y/scale][x/scale] }
	var lines []string
	for y := 0; y < n; y += 2 {
		var b strings.Builder
		for x := range n {
			switch top, low := dark(x, y), dark(x, y+1); {
			case top && low:
				b.WriteRune('█')
			case top:
				b.WriteRune('▀')
			case low:
				b.WriteRune('▄')
			default:
				b.WriteRune(' ')
			}
		}
		lines = append(lines, b.String())
	}
	return lines
}
