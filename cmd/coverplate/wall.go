package main

import (
	"context"
	"errors"
	"fmt"
	"math"
	"os"
	"strconv"
	"strings"
	"time"

	"github.com/spf13/cobra"

	"coverplate/audit"
	"coverplate/audit/plan"
	"coverplate/cmd/coverplate/paper"
	"coverplate/cmd/coverplate/sheet"
	"coverplate/colour"
	"coverplate/ingest/catalogue"
	"coverplate/ingest/look"
)

// printDots is how many pixels an inch printed pictures keep. Common practice.
const printDots = 300

// printFlags are the flags of what is printed.
type printFlags struct {
	sheetFile
	Paper string
	Fonts []string
}

func (p *printFlags) add(cmd *cobra.Command, to, size string) {
	f := cmd.Flags()
	f.Bool("pdf", true, "as PDF, the one form there is")
	p.sheetFile.add(f, to, "`file` to write")
	f.StringVar(&p.Paper, "paper", size, "`size` of the paper: a4, a3, letter, tabloid")
	f.StringArrayVar(&p.Fonts, "font", nil, "`file` of a font for what the built-in one lacks")
	_ = cmd.MarkFlagFilename("to", "pdf")
	_ = cmd.RegisterFlagCompletionFunc("paper", cobra.FixedCompletions([]string{"a4", "a3", "letter", "tabloid"}, cobra.ShellCompDirectiveNoFileComp))
}

// asked reads what is asked for: the paper and the fonts.
func (p printFlags) asked() (sheet.Size, [][]byte, error) {
	size, err := sheet.SizeNamed(p.Paper)
	if err == nil && size == sheet.A6 {
		err = errors.New("paper a6 is too small for that")
	}
	if err != nil {
		return size, nil, misused("--paper a4, a3, letter or tabloid", "%w", err)
	}
	if err := p.ready(); err != nil {
		return size, nil, err
	}
	fonts, err := readFonts(p.Fonts)
	return size, fonts, err
}

func newWall(at surroundings, where *string) *cobra.Command {
	var o printFlags
	cmd := &cobra.Command{
		Use:   "wall",
		Short: "print the flat plan for the wall",
		Long: `Prints the flat plan as a sheet for the wall: every spread that carries a
picture, in page order, with its page numbers, the chosen picture as it is cut
for its place, or else the best there is in dashes, an empty plate where there
is none, the palette, and what each dish still wants. A book that would be too
small on one sheet takes more. A picture that is smaller than its page stands in
the middle: where on the page it goes is not in the plan.`,
		Example: `  coverplate wall --pdf
  coverplate wall --pdf --paper tabloid --to wall-2.pdf`,
		Args: usage(cobra.NoArgs, "no words"),
		RunE: func(cmd *cobra.Command, _ []string) error {
			return runWall(cmd.Context(), at, *where, o)
		},
	}
	o.add(cmd, "wall.pdf", "a3")
	return cmd
}

func runWall(ctx context.Context, at surroundings, where string, o printFlags) error {
	size, fonts, err := o.asked()
	if err != nil {
		return err
	}
	s, g, err := openAndGather(ctx, at, where)
	if err != nil {
		return err
	}
	r, missed, err := s.auditCloser(ctx, at, &g, nil)
	sayMissed(at, missed)
	if err != nil {
		return err
	}
	if len(r.Spreads) == 0 {
		return misused("fill the column pages of the plan", "no recipe has a page yet, so there is no flat plan")
	}
	w := s.wallOf(g, r, at.Now().In(s.Settings.Where), size)
	made, err := withFonts(at, fonts, func(fonts ...[]byte) (*sheet.Sheet, error) { return w.Sheet(size, fonts...) })
	if err != nil {
		return err
	}
	return o.writePDF(at, made, fmt.Sprintf("%s of %s", counted(w.Pages(size.Turned()), "sheet", "sheets"), size.Name))
}

// writePDF writes a document in one step and says what its fonts lacked.
func (p printFlags) writePDF(at surroundings, made *sheet.Sheet, says string) error {
	pdf, err := made.Bytes()
	if err != nil {
		return err
	}
	if err := p.write(pdf); err != nil {
		return err
	}
	t := newSetter(at.Stdout, termOptionsOf(at))
	t.put(0, 2, fmt.Sprintf("%s is written: %s.", p.To, says))
	if lacks := made.Missing(); len(lacks) > 0 {
		t.put(0, 2, fmt.Sprintf("Printed as numbers in brackets, since no font here has them: %s. Give a font that has them with --font.", namesOf(lacks)))
	}
	if scripts := made.Unshaped(); len(scripts) > 0 {
		t.put(0, 2, fmt.Sprintf("Printed letter by letter, not joined or stacked as they should be: %s.", strings.Join(scripts, ", ")))
	}
	return t.err
}

// printed gives the preview of a frame with no more pixels than a place of so
// many millimetres, its longer side, shows; nil where there is none, and why.
func (s shoot) printed(frames []catalogue.Frame) func(id catalogue.FrameID, millimetres float64) ([]byte, string) {
	pictures := s.pictures(frames)
	return func(id catalogue.FrameID, millimetres float64) ([]byte, string) {
		b, err := pictures(id)
		switch {
		case errors.Is(err, os.ErrNotExist):
			return nil, "its preview is gone: coverplate ingest makes it anew"
		case err != nil:
			return nil, "its preview can't be read"
		case len(b) == 0:
			return nil, "no preview could be made"
		}
		side := int(math.Ceil(millimetres / 25.4 * printDots))
		small, err := look.Smaller(b, side)
		if err != nil {
			return nil, "its preview can't be read"
		}
		return small, ""
	}
}

// wallOf is the book as it is drawn on the wall.
func (s shoot) wallOf(g gathered, r audit.Report, now time.Time, size sheet.Size) sheet.Wall {
	done := 0
	for _, rec := range r.Recipes {
		if len(wanting(rec)) == 0 {
			done++
		}
	}
	w := sheet.Wall{Book: r.Book, Trim: g.Book.TrimWidth / g.Book.TrimHeight, Made: now,
		Says:   fmt.Sprintf("Flat plan of %s: %d of %s wanting nothing. %s", now.Format("2 January 2006, 15:04"), done, counted(len(r.Recipes), "recipe", "recipes"), paper.TurnsSay(r.Spreads)),
		Legend: "Spreads that carry a picture. Plain: chosen. Dashed: the best there is, nobody has chosen. Plate: there is none. Bar: the palette in proportion."}
	recipes, reports, looks := map[string]plan.Recipe{}, map[string]audit.Recipe{}, map[catalogue.FrameID]catalogue.Look{}
	for _, rec := range g.Recipes {
		recipes[rec.ID] = rec
	}
	for _, rec := range r.Recipes {
		reports[rec.ID] = rec
	}
	for _, f := range g.Frames {
		looks[f.ID] = f.Look
	}
	cutter, printed := audit.NewCutter(g.Shoot), s.printed(g.Frames)
	for _, sp := range r.Spreads {
		all := paper.PicturesOf(sp)
		one := sheet.WallSpread{Right: strconv.Itoa(2*sp.Spread + 1), Palette: wallColours(sp.Palette)}
		if sp.Spread > 0 {
			one.Left = strconv.Itoa(2 * sp.Spread)
		}
		places := wallPlaces(g.Book, all, recipes)
		for i, p := range all {
			pic := sheet.WallPicture{X: places[i][0], Y: places[i][1], Width: places[i][2], Height: places[i][3], Name: string(p.FrameID), Chosen: p.Chosen, Part: [4]float64{0, 0, 1, 1}, Label: p.Recipe}
			if p.FrameID != "" {
				pic.JPEG, _ = printed(p.FrameID, size.Height/3) // a spread is no wider
				pic.Part = partOf(cutter, p, looks[p.FrameID], pic, w.Trim)
			}
			one.Pictures = append(one.Pictures, pic)
			rec := reports[p.Recipe]
			dish := sheet.WallDish{Title: strings.TrimSpace(rec.ID + " " + rec.Title), Wants: "wants nothing"}
			if lacks := wanting(rec); len(lacks) > 0 {
				dish.Wants = "wants " + paper.JoinAnd(lacks)
			}
			one.Dishes = append(one.Dishes, dish)
		}
		w.Spreads = append(w.Spreads, one)
	}
	return w
}

// wanting are the needs of a recipe that are neither settled nor waived.
func wanting(r audit.Recipe) (out []string) {
	for _, f := range r.Needs {
		if f.Verdict != audit.Settled && f.Verdict != audit.Waived {
			out = append(out, f.Need)
		}
	}
	return out
}

func wallColours(p []colour.Swatch) (out []sheet.WallColour) {
	for _, s := range p {
		if n, err := strconv.ParseUint(strings.TrimPrefix(s.Hex, "#"), 16, 32); err == nil && s.Share > 0 {
			out = append(out, sheet.WallColour{Share: s.Share, R: uint8(n >> 16), G: uint8(n >> 8), B: uint8(n)})
		}
	}
	return out
}

// wallPlaces are where the pictures of a spread stand on it, as shares of its
// width and height: each on its page in its printed size without bleed, several
// on one page below each other, smaller where they would not fit.
func wallPlaces(book plan.Book, all []audit.Picture, recipes map[string]plan.Recipe) [][4]float64 {
	flat := book
	flat.Bleed = 0
	onPage := map[bool]int{} // right pages, left pages
	for _, p := range all {
		if pages := recipes[p.Recipe].Pages; !pages.IsSpread() {
			onPage[pages.First%2 == 1]++
		}
	}
	done := map[bool]int{}
	out := make([][4]float64, len(all))
	for i, p := range all {
		r := recipes[p.Recipe]
		x, wide, y, high := 0.0, 2*book.TrimWidth, 0.0, book.TrimHeight
		if !r.Pages.IsSpread() {
			right := r.Pages.First%2 == 1
			wide = book.TrimWidth
			high /= float64(max(onPage[right], 1))
			y = float64(done[right]) * high
			done[right]++
			if right {
				x = book.TrimWidth
			}
		}
		w, h, ok := flat.Box(r)
		if !ok {
			w, h = wide, high
		}
		k := min(1, wide/w, high/h)
		w, h = k*w, k*h
		out[i] = [4]float64{(x + (wide-w)/2) / (2 * book.TrimWidth), (y + (high-h)/2) / book.TrimHeight, w / (2 * book.TrimWidth), h / book.TrimHeight}
	}
	return out
}

// partOf is what is printed of a picture, fitted to the shape of its place on
// the wall, which has no bleed.
func partOf(c audit.Cutter, p audit.Picture, l catalogue.Look, pic sheet.WallPicture, trim float64) [4]float64 {
	x, y, w, h := 0.0, 0.0, 1.0, 1.0
	if l.Width <= 0 || l.Height <= 0 {
		return [4]float64{x, y, w, h}
	}
	for _, cut := range c.Of(audit.Finding{Recipe: p.Recipe, Need: string(plan.Hero), FrameID: p.FrameID}) {
		if cut.For == "print" && cut.Rect.Width > 0 {
			x, y = float64(cut.Rect.X)/float64(l.Width), float64(cut.Rect.Y)/float64(l.Height)
			w, h = float64(cut.Rect.Width)/float64(l.Width), float64(cut.Rect.Height)/float64(l.Height)
		}
	}
	want := pic.Width * 2 * trim / pic.Height            // width by height of the place
	is := w * float64(l.Width) / (h * float64(l.Height)) // and of the part
	if is > want {
		x, w = x+w*(1-want/is)/2, w*want/is
	} else {
		y, h = y+h*(1-is/want)/2, h*is/want
	}
	return [4]float64{x, y, w, h}
}
