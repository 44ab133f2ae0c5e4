package main

import (
	"fmt"
	"sync/atomic"
	"time"

	"github.com/vbauerster/mpb/v8"
	"github.com/vbauerster/mpb/v8/decor"

	"coverplate/ingest"
)

// progress is told of every event of a run.
type progress interface {
	event(ingest.Event)
	end()
}

// newProgress is one line that is written over on a terminal, and a plain line
// a frame elsewhere.
func newProgress(at surroundings) progress {
	f, ok := terminal(at.Stdout)
	if !ok || at.Getenv("TERM") == "dumb" {
		return plainProgress{at.Stdout}
	}
	p := &lineProgress{all: mpb.New(mpb.WithOutput(f), mpb.WithWidth(80)), started: time.Now()}
	p.bar = p.all.New(1, mpb.NopStyle(), mpb.BarRemoveOnComplete(), mpb.PrependDecorators(decor.Any(func(decor.Statistics) string {
		if s := p.says.Load(); s != nil {
			return *s
		}
		return "looking through the card"
	})))
	return p
}

// lineProgress is the line on a terminal.
type lineProgress struct {
	all     *mpb.Progress
	bar     *mpb.Bar
	started time.Time
	says    atomic.Pointer[string] // the drawing goroutine reads it
}

func (p *lineProgress) event(e ingest.Event) {
	s := progressSays(e, time.Since(p.started))
	p.says.Store(&s)
}

func (p *lineProgress) end() {
	p.bar.Abort(true)
	p.all.Wait()
}

// progressSays is the line after a time: files, speed, time left.
func progressSays(e ingest.Event, after time.Duration) string {
	if e.ToShow > e.Shown {
		return fmt.Sprintf("all copied and read back; making pictures: %d of %s", e.Shown, counted(e.ToShow, "frame", "frames"))
	}
	if e.ToMeasure > e.Measured {
		return fmt.Sprintf("all copied and read back; measuring: %d of %s", e.Measured, counted(e.ToMeasure, "frame", "frames"))
	}
	if e.ToRenew > 0 {
		return fmt.Sprintf("measuring again what an older version measured: %d of %s", e.Renewed, counted(e.ToRenew, "frame", "frames"))
	}
	if e.ToSecond > 0 {
		return fmt.Sprintf("second copies that were wanting: %d of %s", e.Second, counted(e.ToSecond, "file", "files"))
	}
	s := fmt.Sprintf("%d of %s", e.FilesDone, counted(e.FilesAll, "file", "files"))
	if after < time.Second || e.BytesDone == 0 {
		return s
	}
	rate := float64(e.BytesDone) / after.Seconds()
	s += fmt.Sprintf("   %.3g MB/s", rate/1e6)
	if left := time.Duration(float64(e.BytesAll-e.BytesDone) / rate * float64(time.Second)); e.BytesAll > e.BytesDone {
		s += "   " + left.Round(time.Second).String() + " left"
	}
	return s
}
