package main

import (
	"context"
	"fmt"
	"image"
	"strconv"
	"strings"

	"github.com/spf13/cobra"

	"coverplate/audit"
	"coverplate/audit/crop"
	"coverplate/audit/plan"
	"coverplate/ingest/catalogue"
)

func newCrop(at surroundings, where *string) *cobra.Command {
	var half, print string
	var undo bool
	cmd := &cobra.Command{
		Use:   "crop FRAME --half X,Y,W,H | --print X,Y,W,H",
		Short: "say how a frame is cut for a post or its page",
		Long: `Keeps a person's own cut of a frame: --half for a post, --print for its
printed place. It is counted in pixels of the upright original, from the top
left: x, y, width, height. Nothing is cut yet and the original is untouched.

The cut stands above what the program would choose. It only checks it: that it
lies in the picture, and has the pixels that a post or the page needs, and
says what it found. A cut with too few is kept, and said in every audit. A
later cut of the frame replaces it; --undo takes the last one back.`,
		Example: `  coverplate crop DSC_0412.JPG --half 2400,0,2160,2700
  coverplate crop 3f9a01c2 --print 0,120,4000,5200
  coverplate crop --undo`,
		Args: func(cmd *cobra.Command, args []string) error {
			if undo {
				return usage(cobra.NoArgs, "no words with --undo")(cmd, args)
			}
			return usage(cobra.ExactArgs(1), "one frame")(cmd, args)
		},
		RunE: func(cmd *cobra.Command, args []string) error {
			switch {
			case undo && (half != "" || print != ""):
				return misused("run it twice", "--undo takes a cut back and makes none")
			case undo:
				return runUndo(cmd.Context(), at, *where, catalogue.Crop)
			case half == "" && print == "":
				return misused("coverplate crop "+shellWord(args[0])+" --half 0,0,1080,1350", "no cut is given: --half is for a post, --print for the page")
			}
			return runCrop(cmd.Context(), at, *where, args[0], half, print)
		},
	}
	f := cmd.Flags()
	f.StringVar(&half, "half", "", "cut for a post, `x,y,w,h`")
	f.StringVar(&print, "print", "", "cut for the printed place, `x,y,w,h`")
	f.BoolVar(&undo, "undo", false, "take the last cut back")
	return cmd
}

func runCrop(ctx context.Context, at surroundings, where, word, half, print string) error {
	s, g, err := openAndGather(ctx, at, where)
	if err != nil {
		return err
	}
	f, err := findFrame(g.Frames, s.Dir, word)
	if err != nil {
		return err
	}
	size := image.Pt(f.Look.Width, f.Look.Height)
	var decisions []catalogue.Decision
	var says []string
	if half != "" {
		r, err := cutIn(size, "half", half, f.Path())
		if err != nil {
			return err
		}
		_, ok, found := audit.OwnCrop(r, size.X, size.Y, g.Rules.Shapes)
		if !ok {
			found += "; it is kept, and won't pass"
		}
		decisions = append(decisions, cropOf(f, plan.Half, r))
		says = append(says, f.Path()+", half: "+found)
	}
	if print != "" {
		r, err := cutIn(size, "print", print, f.Path())
		if err != nil {
			return err
		}
		decisions = append(decisions, cropOf(f, plan.Hero, r))
		says = append(says, f.Path()+", printed: "+g.printSays(f, r))
	}
	return s.decide(ctx, at, g, decisions, says)
}

func cropOf(f catalogue.Frame, need plan.NeedKind, r crop.Rect) catalogue.Decision {
	return catalogue.Decision{Kind: catalogue.Crop, Frame: f.ID, Need: string(need), Rect: [4]int{r.X, r.Y, r.Width, r.Height}}
}

// printSays holds a person's cut against the printed place of the frame's
// recipe.
func (g gathered) printSays(f catalogue.Frame, r crop.Rect) string {
	size := fmt.Sprintf("%d×%d px", r.Width, r.Height)
	for _, m := range audit.Matches(g.Shoot) {
		if m.Frame != f.ID || m.Recipe == "" {
			continue
		}
		recipe, err := findRecipe(g.Recipes, m.Recipe)
		if err != nil {
			break
		}
		w, h, ok := g.Book.Box(recipe)
		if !ok {
			return size + "; " + recipe.ID + " has no printed place to hold it against"
		}
		ppi := crop.PPI(r.Width, r.Height, w, h)
		says := fmt.Sprintf("%s give %.0f ppi on the page of %s", size, ppi, recipe.ID)
		if ppi < g.Book.FloorPPI {
			says = fmt.Sprintf("%s give %.1f ppi on the page of %s; %g is the floor; it is kept, and won't pass", size, ppi, recipe.ID, g.Book.FloorPPI)
		}
		return says
	}
	return size + "; which page it is for is not known until the frame shows a recipe"
}

// cutIn reads a flag's x,y,w,h and checks that it lies in a picture.
func cutIn(size image.Point, flag, s, path string) (crop.Rect, error) {
	words := strings.Split(s, ",")
	var n [4]int
	good := len(words) == len(n)
	for i := 0; good && i < len(n); i++ {
		v, err := strconv.Atoi(strings.TrimSpace(words[i]))
		n[i], good = v, err == nil
	}
	if !good {
		return crop.Rect{}, misused("x, y, width and height in whole pixels: --"+flag+" 0,0,1080,1350", "--%s %q are not four whole numbers", flag, s)
	}
	r := crop.Rect{X: n[0], Y: n[1], Width: n[2], Height: n[3]}
	switch {
	case size.X <= 0 || size.Y <= 0:
		return r, misused("read its card again", "the size of %s is not known, so that no cut of it can be checked", path)
	case r.X < 0 || r.Y < 0 || r.Width < 1 || r.Height < 1 || r.X > size.X-r.Width || r.Y > size.Y-r.Height || r.Width > size.X || r.Height > size.Y:
		return r, misused(fmt.Sprintf("upright it is %d × %d pixels, counted from the top left", size.X, size.Y), "--%s %s leaves the picture %s", flag, s, path)
	}
	return r, nil
}
