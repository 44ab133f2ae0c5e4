package main

import (
	"context"
	"fmt"
	"slices"
	"strings"

	"github.com/spf13/cobra"

	"coverplate/audit"
	"coverplate/audit/plan"
	"coverplate/cmd/coverplate/sheet"
	"coverplate/ingest/catalogue"
)

func newContact(at surroundings, where *string) *cobra.Command {
	var o printFlags
	cmd := &cobra.Command{
		Use:   "contact [RECIPE…]",
		Short: "print contact sheets with file names and facts",
		Long: `Prints contact sheets: the frames of each recipe in the order in which they were
taken, each with the name of its file, when and how it was taken, from where it
was seen, and what it was chosen for. Frames that no recipe claims come last.
With recipes, only theirs. Serial numbers and places are not printed.`,
		Example: `  coverplate contact --pdf
  coverplate contact --pdf R07 --paper letter --to r07.pdf`,
		Args: cobra.ArbitraryArgs,
		RunE: func(cmd *cobra.Command, args []string) error {
			return runContact(cmd.Context(), at, *where, o, args)
		},
		ValidArgsFunction: completeRecipes(where),
	}
	o.add(cmd, "contact.pdf", "a4")
	return cmd
}

func runContact(ctx context.Context, at surroundings, where string, o printFlags, recipes []string) error {
	size, fonts, err := o.asked()
	if err != nil {
		return err
	}
	s, g, err := openAndGather(ctx, at, where)
	if err != nil {
		return err
	}
	asked, err := recipeIDs(g.Recipes, recipes)
	if err != nil {
		return err
	}
	if len(g.Frames) == 0 {
		return misused("coverplate ingest reads a card", "there is no frame yet")
	}
	r, missed, err := s.auditCloser(ctx, at, &g, asked)
	sayMissed(at, missed)
	if err != nil {
		return err
	}
	c := s.contactOf(g, r, asked)
	if len(c.Parts) == 0 {
		return misused("say what it shows: coverplate assign FRAME "+asked[0], "no frame shows %s yet", strings.Join(asked, ", "))
	}
	c.Made = at.Now().In(s.Settings.Where)
	made, err := withFonts(at, fonts, func(fonts ...[]byte) (*sheet.Sheet, error) { return c.Sheet(size, fonts...) })
	if err != nil {
		return err
	}
	n := 0
	for _, p := range c.Parts {
		n += len(p.Frames)
	}
	return o.writePDF(at, made, fmt.Sprintf("%s on contact sheets of %s", counted(n, "frame", "frames"), size.Name))
}

// contactPlace is more than a picture is wide or high on a contact sheet,
// millimetres.
const contactPlace = 60

// contactOf is the contact sheets of the recipes asked for, all and what is
// unplaced where none is.
func (s shoot) contactOf(g gathered, r audit.Report, asked []string) sheet.Contact {
	frames := map[catalogue.FrameID]catalogue.Frame{}
	for _, f := range g.Frames {
		frames[f.ID] = f
	}
	chosen := map[catalogue.FrameID][]string{}
	for _, c := range r.Chosen {
		chosen[c.Frame] = append(chosen[c.Frame], c.Need)
	}
	printed := s.printed(g.Frames)
	of := map[string][]sheet.ContactFrame{}
	for i, m := range r.Matches {
		if len(asked) > 0 && !slices.Contains(asked, m.Recipe) {
			continue
		}
		f := frames[m.Frame]
		one := sheet.ContactFrame{Width: f.Look.Width, Height: f.Look.Height, ID: string(f.ID), Name: lastName(f.Path()), Facts: contactFacts(f, r, i)}
		if len(f.Files) > 0 {
			one.Name = f.Files[0].Name
		}
		one.JPEG, one.Why = printed(f.ID, contactPlace)
		if f.Unread != "" && one.JPEG == nil {
			one.Why = unreadSays(f)
		}
		if c := chosen[f.ID]; len(c) > 0 {
			one.Mark = "chosen: " + strings.Join(c, ", ")
		}
		of[m.Recipe] = append(of[m.Recipe], one)
	}
	c := sheet.Contact{Book: r.Book}
	for _, rec := range r.Recipes {
		if len(of[rec.ID]) == 0 {
			continue
		}
		says := counted(len(of[rec.ID]), "frame", "frames") + pageSuffix(rec.Pages)
		for _, f := range rec.Needs {
			says += fmt.Sprintf("; %s: %s", f.Need, f.Verdict)
		}
		c.Parts = append(c.Parts, sheet.ContactPart{Title: strings.TrimSpace(rec.ID + " " + rec.Title), Says: says, Frames: of[rec.ID]})
	}
	if rest := of[""]; len(rest) > 0 {
		c.Parts = append(c.Parts, sheet.ContactPart{Title: "Without a recipe", Says: counted(len(rest), "frame", "frames") + ": unplaced, or said to show none", Frames: rest})
	}
	return c
}

// contactFacts are the facts of a frame, a line a matter; i is its place among
// the matches.
func contactFacts(f catalogue.Frame, r audit.Report, i int) []string {
	var out []string
	add := func(words ...string) {
		if words = slices.DeleteFunc(words, func(w string) bool { return w == "" }); len(words) > 0 {
			out = append(out, strings.Join(words, ", "))
		}
	}
	if f.Look.Preview == catalogue.Damaged {
		add("damaged: " + unreadSays(f))
	}
	when := "no time written"
	if !f.Taken.IsZero() {
		when = f.Taken.Format("2006-01-02 15:04:05")
	}
	add(when, f.Camera.Model)
	e := f.Exposure
	add(sayNumber("", written(e.FocalLength), " mm"), sayNumber("f/", written(e.FNumber), ""), shutter(written(e.Seconds)), sayNumber("ISO ", written(e.ISO), ""))
	angle := ""
	if v := r.Views[i]; v.Known && v.Class != plan.UnknownAngle && v.Class != "" {
		angle = fmt.Sprintf("%s %.0f°", v.Class, v.Elevation)
	}
	size := ""
	if f.Look.Width > 0 {
		size = fmt.Sprintf("%d × %d px", f.Look.Width, f.Look.Height)
	}
	add(size, angle)
	return out
}
