package main

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"image"
	"io/fs"
	"os"
	"path/filepath"
	"strconv"
	"strings"

	"github.com/spf13/cobra"

	"coverplate/audit"
	"coverplate/audit/crop"
	"coverplate/audit/plan"
	"coverplate/ingest"
	"coverplate/ingest/catalogue"
	"coverplate/ingest/look"
)

// postCaution is said with every post.
const postCaution = "Before it goes out: its file holds no place, serial number or maker's data, but a picture shows what it shows. Look at the background for a place, a name or a paper; ask the people whose faces are in it."

// postSides are the words for a half.
var postSides = map[string][]crop.Side{
	"left": {crop.Left}, "right": {crop.Right}, "top": {crop.Top}, "bottom": {crop.Bottom},
	"between": {crop.BetweenLR, crop.BetweenTB},
}

func newPost(at surroundings, where *string) *cobra.Command {
	var shape, half, to string
	cmd := &cobra.Command{
		Use:   "post RECIPE|FRAME --to DIR",
		Short: "cut a half of a frame for a post",
		Long: `Writes half of a frame as a JPEG for a post: in sRGB, at the platform's pixels
as the shoot's settings have them, sharpened lightly, and without place, serial
numbers or the camera's data. It never writes over a file, and the original is
untouched.

A person's own cut goes first (coverplate crop), else the best half that stands
alone. Where none does it says why and writes nothing; --half left, right, top,
bottom or between takes that half all the same. Of a recipe it takes the frame
that was chosen for half, then for hero, then the best that works.`,
		Example: `  coverplate post R07 --to posts
  coverplate post DSC_0412.JPG --shape 4:5 --half right --to posts`,
		Args: usage(cobra.ExactArgs(1), "one recipe or frame"),
		RunE: func(cmd *cobra.Command, args []string) error {
			if to == "" {
				return misused("coverplate post "+shellWord(args[0])+" --to posts", "no folder is named to write to")
			}
			return runPost(cmd.Context(), at, *where, args[0], shape, half, to)
		},
		ValidArgsFunction: completeRecipes(where),
	}
	f := cmd.Flags()
	f.StringVar(&shape, "shape", "", "`shape` of the post, 4:5 (default: the one that fits best)")
	f.StringVar(&half, "half", "", "take this `half`: left, right, top, bottom, between")
	f.StringVar(&to, "to", "", "`folder` to write to; it is made where it is not there")
	// They fail for flags that are not there alone.
	_ = cmd.RegisterFlagCompletionFunc("half", cobra.FixedCompletions([]string{"left", "right", "top", "bottom", "between"}, cobra.ShellCompDirectiveNoFileComp))
	_ = cmd.RegisterFlagCompletionFunc("shape", func(*cobra.Command, []string, string) ([]string, cobra.ShellCompDirective) {
		var names []string
		if s, err := settingsAtHand(*where); err == nil {
			for _, shape := range s.Rules.Shapes {
				names = append(names, shape.Name)
			}
		}
		return names, cobra.ShellCompDirectiveNoFileComp
	})
	_ = cmd.MarkFlagDirname("to")
	return cmd
}

// postCut is how one frame is cut for a post, and why.
type postCut struct {
	frame catalogue.Frame
	rect  crop.Rect
	shape crop.Shape
	name  string // "right", "own"
	says  string
	works bool
	score float64
}

func runPost(ctx context.Context, at surroundings, where, word, shape, half, to string) error {
	s, g, err := openAndGather(ctx, at, where)
	if err != nil {
		return err
	}
	shapes, err := shapesNamed(g.Rules.Shapes, shape)
	if err != nil {
		return err
	}
	half = strings.ToLower(half)
	if _, ok := postSides[half]; half != "" && !ok {
		return misused("it is left, right, top, bottom or between", "--half %q is no half", half)
	}
	frames, err := g.postFrames(s.Dir, word)
	if err != nil {
		return err
	}
	var best *postCut
	for i, f := range frames {
		c, ok := g.postOf(f, shapes, half)
		if ok && (best == nil || c.works && !best.works || c.works == best.works && c.score > best.score) {
			best = &c
		}
		if i == 0 && best != nil && (best.works || half != "") && g.chosen(f) {
			break // a person's choice goes before a better score
		}
	}
	switch {
	case best == nil:
		return misused("coverplate frames lists what is there; coverplate measure says how large it is", "no frame of %s has the pixels for a post", word)
	case best.rect.Width < best.shape.Width || best.rect.Height < best.shape.Height || best.shape.Width == 0:
		return misused("a post is never scaled up: take another half, or another frame", "no post was written: %s: %s", best.frame.Path(), best.says)
	case !best.works && half == "":
		hint := "cut it again by hand: coverplate crop"
		if best.name != "own" {
			hint = "--half " + best.name + " takes it all the same; or cut it by hand: coverplate crop"
		}
		return misused(hint, "no post was written: %s: %s", best.frame.Path(), best.says)
	}
	cut := look.Cut{Of: image.Pt(best.frame.Look.Width, best.frame.Look.Height),
		Rect: image.Rect(best.rect.X, best.rect.Y, best.rect.X+best.rect.Width, best.rect.Y+best.rect.Height), To: image.Pt(best.shape.Width, best.shape.Height)}
	b, err := ingest.Post(s.Dir, best.frame, cut)
	if err != nil {
		return fmt.Errorf("no post was written: %w", err)
	}
	base := strings.TrimSuffix(filepath.Base(best.frame.Path()), filepath.Ext(best.frame.Path()))
	name, err := writePost(to, fmt.Sprintf("%s_%s_%s", base, best.name, strings.ReplaceAll(best.shape.Name, ":", "x")), b)
	if err != nil {
		return err
	}
	t := newSetter(at.Stdout, termOptionsOf(at))
	t.put(0, 2, plain(name))
	t.put(2, 2, fmt.Sprintf("%d×%d px, sRGB, of %s, which is untouched", best.shape.Width, best.shape.Height, plain(best.frame.Path())))
	if best.works {
		t.put(2, 2, best.says)
	} else {
		t.put(2, 2, "taken because you said so: "+best.says)
	}
	t.put(2, 2, postCaution)
	return t.err
}

// shapesNamed are all shapes, or the one of that name.
func shapesNamed(all []crop.Shape, name string) ([]crop.Shape, error) {
	var names []string
	for _, s := range all {
		if s.Name == name {
			return []crop.Shape{s}, nil
		}
		names = append(names, s.Name)
	}
	if name == "" && len(all) > 0 {
		return all, nil
	}
	return nil, misused("the settings have: "+strings.Join(names, ", "), "there is no shape %q of a post", name)
}

// postFrames are the frames that a word means: a recipe's, the chosen first,
// or one frame.
func (g gathered) postFrames(dir, word string) ([]catalogue.Frame, error) {
	r, err := findRecipe(g.Recipes, word)
	if err != nil {
		f, err := findFrame(g.Frames, dir, word)
		return []catalogue.Frame{f}, err
	}
	mine := map[catalogue.FrameID]bool{}
	for _, m := range audit.Matches(g.Shoot) {
		mine[m.Frame] = mine[m.Frame] || m.Recipe == r.ID
	}
	chosen := map[plan.NeedKind]catalogue.FrameID{}
	for _, d := range g.holds() {
		if d.Kind == catalogue.Choose && d.Recipe == r.ID {
			chosen[plan.NeedKind(d.Need)] = d.Frame
		}
	}
	var first, rest []catalogue.Frame
	lead, ok := chosen[plan.Half]
	if !ok {
		lead, ok = chosen[plan.Hero]
	}
	for _, f := range g.Frames {
		switch {
		case ok && f.ID == lead:
			first = append(first, f)
		case mine[f.ID]:
			rest = append(rest, f)
		}
	}
	if all := append(first, rest...); len(all) > 0 {
		return all, nil
	}
	return nil, misused("say it: coverplate assign FRAME "+r.ID, "no frame shows %s yet", r.ID)
}

// chosen tells whether a person chose the frame for something.
func (g gathered) chosen(f catalogue.Frame) bool {
	for _, d := range g.holds() {
		if d.Kind == catalogue.Choose && d.Frame == f.ID {
			return true
		}
	}
	return false
}

// postOf finds how a frame is cut; false where no cut of it can be had.
func (g gathered) postOf(f catalogue.Frame, shapes []crop.Shape, half string) (best postCut, found bool) {
	if half == "" {
		for _, d := range g.holds() {
			if d.Kind == catalogue.Crop && d.Frame == f.ID && d.Need == string(plan.Half) {
				return ownPost(f, crop.Rect{X: d.Rect[0], Y: d.Rect[1], Width: d.Rect[2], Height: d.Rect[3]}, shapes)
			}
		}
	}
	for _, st := range crop.Stand(audit.SceneOf(f.Look), shapes) {
		name := ""
		for n, sides := range postSides {
			for _, side := range sides {
				if side == st.Side {
					name = n
				}
			}
		}
		c := postCut{frame: f, rect: st.Rect, name: name, works: st.Works == crop.Yes, score: st.Score, says: name + " half, " + st.Shape + ": " + st.Why()}
		if !st.Large {
			c.score = st.Scale - 2 // under all that are large enough
		}
		for _, s := range shapes {
			if s.Name == st.Shape {
				c.shape = s
			}
		}
		if (half == "" || half == name) && (!found || c.works && !best.works || c.works == best.works && c.score > best.score) {
			best, found = c, true
		}
	}
	return best, found
}

// ownPost takes the largest part of a person's cut that has a post's shape, in
// its middle.
func ownPost(f catalogue.Frame, own crop.Rect, shapes []crop.Shape) (postCut, bool) {
	shape, ok, says := audit.OwnCrop(own, f.Look.Width, f.Look.Height, shapes)
	c := postCut{frame: f, name: "own", works: ok, score: 1, says: says}
	for _, s := range shapes {
		if s.Name == shape {
			rw, rh := s.Ratio()
			w, h := crop.Largest(own.Width, own.Height, rw, rh)
			c.shape, c.rect = s, crop.Rect{X: own.X + (own.Width-w)/2, Y: own.Y + (own.Height-h)/2, Width: w, Height: h}
		}
	}
	return c, true
}

// mostPosts is how many names are tried for a post.
const mostPosts = 1000

// writePost writes a post under a free name: whole and synced, or not at all.
// The file is read again, and must hold no fact of a camera.
func writePost(dir, stem string, b []byte) (name string, err error) {
	if err := os.MkdirAll(dir, 0o777); err != nil {
		return "", err
	}
	f, err := os.CreateTemp(dir, ".coverplate-post-*")
	if err != nil {
		return "", err
	}
	defer os.Remove(f.Name())
	_, err = f.Write(b)
	if err = errors.Join(err, f.Sync(), f.Chmod(0o644), f.Close()); err != nil {
		return "", err
	}
	back, err := os.ReadFile(f.Name())
	if err != nil {
		return "", err
	}
	if !bytes.Equal(back, b) {
		return "", fmt.Errorf("the post was read back from %s and is not what was written", dir)
	}
	if err := ingest.Bare(back); err != nil {
		return "", err
	}
	for i := 1; i <= mostPosts; i++ {
		name = filepath.Join(dir, stem+".jpg")
		if i > 1 {
			name = filepath.Join(dir, stem+"-"+strconv.Itoa(i)+".jpg")
		}
		// A link fails where the name is taken; a rename would write over it.
		err = os.Link(f.Name(), name)
		if err == nil {
			return name, nil
		}
		if errors.Is(err, fs.ErrExist) {
			continue
		}
		// A card's file system has no links: the name is taken first, empty.
		held, err := os.OpenFile(name, os.O_CREATE|os.O_EXCL|os.O_WRONLY, 0o644)
		if errors.Is(err, fs.ErrExist) {
			continue
		}
		if err != nil {
			return "", err
		}
		return name, errors.Join(held.Close(), os.Rename(f.Name(), name))
	}
	return "", fmt.Errorf("%s holds %d posts of that name: name another folder", dir, mostPosts)
}
