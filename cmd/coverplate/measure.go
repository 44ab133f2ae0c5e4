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
	"coverplate/audit/plan"
	"coverplate/ingest"
	"coverplate/ingest/catalogue"
)

func newMeasure(at surroundings, where *string) *cobra.Command {
	var asJSON bool
	var drawing, size string
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
upright pixels. --draw writes a picture of what was seen, with the best half
for each shape, and never over a file that is there already; --place draws what
a place in the book prints of it too. Exit code 3 where a file could not be
read whole.`,
		Example: `  coverplate measure DSC_0412.JPG
  coverplate measure DSC_0412.JPG --draw seen.jpg --place full
  coverplate measure --json *.JPG | jq '.[] | {file, f_number, angle}'`,
		Args: usage(cobra.MinimumNArgs(1), "one picture or more"),
		RunE: func(cmd *cobra.Command, args []string) error {
			return runMeasure(cmd.Context(), at, *where, args, asJSON, drawing, size)
		},
	}
	cmd.Flags().BoolVar(&asJSON, "json", false, "print JSON")
	cmd.Flags().StringVar(&drawing, "draw", "", "draw what was seen: a `JPEG`, or a folder for several")
	cmd.Flags().StringVar(&size, "place", "", "draw what is printed at that `size`: full, double, 120x90 mm")
	return cmd
}

func runMeasure(ctx context.Context, at surroundings, where string, files []string, asJSON bool, drawing, size string) error {
	s, err := settingsAtHand(where)
	if err != nil {
		return err
	}
	rules := s.Rules
	place, err := placeAsked(size, s.Book)
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
			cuts := audit.HalfCuts(got.frame.Look, rules.Shapes)
			if place != nil {
				if c, ok := audit.PrintCut(got.frame.Look, place.book, place.recipe); ok {
					cuts = append([]audit.Cut{c}, cuts...)
				}
			}
			if err := draw(at, got, f, cuts, drawing, len(files) > 1); err != nil {
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

// settingsAtHand are those of the shoot where one is at hand, else the defaults.
func settingsAtHand(where string) (settings, error) {
	s, err := openShoot(where)
	if where == "" && errors.As(err, new(wrongUse)) {
		return defaults(), nil
	}
	return s.Settings, err
}

// printedPlace is a place in a book that a loose picture is laid into.
type printedPlace struct {
	book   plan.Book
	recipe plan.Recipe
}

// placeAsked reads a size as a plan writes it, for a page of the book; nil where
// none is asked for.
func placeAsked(size string, book plan.Book) (*printedPlace, error) {
	if size == "" {
		return nil, nil
	}
	parsed, err := plan.ParseSize(size)
	if err != nil {
		return nil, misused("write full, double, half, quarter or a size like 120x90 mm", "--place %q: %v", size, err)
	}
	p := &printedPlace{book, plan.Recipe{Size: parsed}}
	if _, _, ok := book.Box(p.recipe); !ok {
		return nil, misused("give it in millimetres, like 189x246 mm, or run this in a shoot, whose settings say the trim", "--place %s: the size of a page is not known here", size)
	}
	return p, nil
}
