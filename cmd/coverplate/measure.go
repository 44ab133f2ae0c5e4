package main

import (
	"context"
	"errors"
	"runtime"
	"strings"
	"sync"

	"github.com/spf13/cobra"

	"coverplate/audit"
	"coverplate/audit/angle"
	"coverplate/ingest"
	"coverplate/ingest/catalogue"
)

func newMeasure(at surroundings, where *string) *cobra.Command {
	var asJSON bool
	var drawing string
	cmd := &cobra.Command{
		Use:   "measure FILE…",
		Short: "tell what can be seen in loose pictures",
		Long: `Tells what the program sees in pictures: what the camera wrote, the upright
size, from where the camera looked, focus, light, the palette, and which halves
work as a post. Nothing is stored and no shoot is needed; inside one, its post
shapes are used. Focus is of the whole at the preview's size, the middle
counting most, and of what matters; audit judges the frames of one picture on
one place, and reads focus at 1:1 where a verdict needs it.

With --json it prints one array, a member a file; what a file doesn't give,
and what is not measured yet, is null. "rect" is x, y, width, height in
upright pixels. --draw writes a picture of what was seen, and never over a
file that is there already. Exit code 3 where a file could not be read whole.`,
		Example: `  coverplate measure DSC_0412.JPG
  coverplate measure DSC_0412.JPG --draw seen.jpg
  coverplate measure --json *.JPG | jq '.[] | {file, f_number, angle}'`,
		Args: usage(cobra.MinimumNArgs(1), "one picture or more"),
		RunE: func(cmd *cobra.Command, args []string) error {
			return runMeasure(cmd.Context(), at, *where, args, asJSON, drawing)
		},
	}
	cmd.Flags().BoolVar(&asJSON, "json", false, "print JSON")
	cmd.Flags().StringVar(&drawing, "draw", "", "draw what was seen: a `JPEG`, or a folder for several")
	return cmd
}

func runMeasure(ctx context.Context, at surroundings, where string, files []string, asJSON bool, drawing string) error {
	rules, err := rulesAtHand(where)
	if err != nil {
		return err
	}
	all := make([]facts, 0, len(files))
	wanting := false
	t := newSetter(at.Stdout, termOptionsOf(at))
	for i, m := range measured(ctx, files) {
		got, ok := <-m
		if !ok {
			return context.Cause(ctx)
		}
		f := facts{File: files[i]}
		if got.err != nil {
			says := got.whyNot(files[i])
			f.Error = &says
		} else {
			f = factsOf(files[i], got.frame, angle.Of(got.frame), rules.Shapes)
			if f.Error != nil {
				f.Error = written(withoutName(*f.Error, files[i]))
			}
		}
		if drawing != "" && got.err == nil {
			if err := draw(at, got, f, drawing, len(files) > 1); err != nil {
				return err
			}
		}
		wanting = wanting || f.Error != nil
		if asJSON {
			all = append(all, f)
			continue
		}
		if i > 0 {
			t.gap()
		}
		t.put(0, 2, cutLeft(plain(f.File), t.width-2))
		for _, line := range f.lines() {
			t.put(2, 10, line)
		}
	}
	if asJSON {
		t.err = writeJSON(at.Stdout, all)
	}
	if wanting {
		return errors.Join(t.err, errWanting)
	}
	return t.err
}

// measurement is what came of one file.
type measurement struct {
	frame   catalogue.Frame
	preview []byte // upright JPEG; nil none
	err     error
}

// whyNot is why a file could not be measured, without its name.
func (m measurement) whyNot(file string) string {
	return strings.TrimPrefix(pathless(m.err, file), "measure ")
}

// measured measures files side by side and hands the answers over in the
// files' order. A channel that is closed empty says that ctx ended first.
func measured(ctx context.Context, files []string) []chan measurement {
	answers := make([]chan measurement, len(files))
	for i := range answers {
		answers[i] = make(chan measurement, 1)
	}
	todo := make(chan int, len(files))
	for i := range files {
		todo <- i
	}
	close(todo)
	var busy sync.WaitGroup
	for range min(runtime.NumCPU(), 4, len(files)) {
		busy.Go(func() {
			for i := range todo {
				if ctx.Err() == nil {
					frame, preview, err := ingest.MeasureSeen(files[i])
					answers[i] <- measurement{frame, preview, err}
				}
				close(answers[i])
			}
		})
	}
	return answers
}

// rulesAtHand are those of the shoot where one is at hand, else the defaults.
func rulesAtHand(where string) (audit.Rules, error) {
	s, err := openShoot(where)
	if where == "" && errors.As(err, new(wrongUse)) {
		return defaults().Rules, nil
	}
	return s.Settings.Rules, err
}
