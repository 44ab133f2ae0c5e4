package main

import (
	"bytes"
	"crypto/rand"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"strings"

	"github.com/spf13/cobra"

	"coverplate/audit/plan"
	"coverplate/cmd/coverplate/desk"
	"coverplate/cmd/coverplate/sheet"
)

// slatesOptions is what was asked of slates.
type slatesOptions struct {
	sheetFile
	Paper   string
	Recipes []string
	Fonts   []string
}

func newSlates(at surroundings, where *string) *cobra.Command {
	var o slatesOptions
	cmd := &cobra.Command{
		Use:   "slates --to FILE.pdf",
		Short: "print a slate for each dish",
		Long: `Writes a PDF of slates: one card a recipe of the plan, with its title, id, page,
needs and angle for people, and a code for the tool. Photographed before the
dish, flat and whole, with each body, a slate tells which dish the frames after
it show; nobody needs to type or rename. Print at 100 %, on matt paper.

Titles are printed in any script that the built-in font, one given with --font
or one of this machine has. Characters that none has are named, and printed as
their numbers.
The plan is kept in the folder plans, so that cards of today are known when its
numbers change: frames after them follow the dish, not the number.`,
		Example: `  coverplate slates --to slates.pdf
  coverplate slates --recipe R07 --recipe R12 --paper a6 --to two.pdf`,
		Args: usage(cobra.NoArgs, "no arguments"),
		RunE: func(cmd *cobra.Command, _ []string) error {
			if o.To == "" {
				return misused("coverplate slates --to slates.pdf", "no file is named to write to")
			}
			return runSlates(at, *where, o)
		},
	}
	f := cmd.Flags()
	o.add(f, "", "`file` to write, slates.pdf")
	f.StringVar(&o.Paper, "paper", "a4", "`size`: a4, letter (four cards) or a6 (one)")
	f.StringArrayVar(&o.Recipes, "recipe", nil, "only this `recipe`; may be given more than once")
	f.StringArrayVar(&o.Fonts, "font", nil, "`file` of a font for what the built-in one lacks")
	cmd.RegisterFlagCompletionFunc("recipe", completeRecipes(where))
	return cmd
}

func runSlates(at surroundings, where string, o slatesOptions) error {
	size, err := sheet.SizeNamed(o.Paper)
	if err != nil {
		return misused("--paper a4, letter or a6", "%s", err.Error())
	}
	s, err := openShoot(where)
	if err != nil {
		return err
	}
	path, err := s.planPath()
	if err != nil {
		return err
	}
	read, err := readPlan(path, s.Settings.Book)
	if err != nil {
		return err
	}
	recipes, err := chosenRecipes(read.Recipes, o.Recipes)
	if err != nil {
		return err
	}
	// Before the settings are touched, and again when it is written.
	if err := o.ready(); err != nil {
		return err
	}
	fonts, err := readFonts(o.Fonts)
	if err != nil {
		return err
	}
	if err := s.needID(at); err != nil {
		return err
	}
	cards, err := cardsOf(recipes, s.Settings.ID)
	if err != nil {
		return err
	}
	doc, err := withFonts(at, fonts, func(fonts ...[]byte) (*sheet.Sheet, error) {
		return sheet.Slates(size, s.Settings.Book.Title+": slates", at.Now(), cards, fonts...)
	})
	if err != nil {
		return misused("--font wants a file of a TrueType or OpenType font", "%s", err.Error())
	}
	b, err := doc.Bytes()
	if err != nil {
		return err
	}
	if err := s.keepPrinted(at, path); err != nil {
		return err
	}
	if err := o.write(b); err != nil {
		return err
	}
	fmt.Fprintf(at.Stdout, "%s: %s, shoot %s\n", plain(o.To), counted(len(cards), "slate", "slates"), s.Settings.ID)
	if missing := doc.Missing(); len(missing) > 0 {
		fmt.Fprintf(at.Stdout, "Printed as numbers in brackets, since no font here has them: %s.\nGive a font that has them with --font.\n", namesOf(missing))
	}
	if scripts := doc.Unshaped(); len(scripts) > 0 {
		fmt.Fprintf(at.Stdout, "Printed letter by letter, not joined or stacked as they should be: %s.\nThe codes are not touched by that.\n", strings.Join(scripts, ", "))
	}
	return nil
}

// keepPrinted keeps the plan that slates are printed of, unless it is kept already.
func (s shoot) keepPrinted(at surroundings, path string) error {
	now, err := os.ReadFile(path)
	if err != nil {
		return err
	}
	for _, kept := range s.plansKept() {
		if old, err := os.ReadFile(kept); err == nil && bytes.Equal(old, now) {
			return nil
		}
	}
	_, err = s.keepPlan(at, now, filepath.Ext(path))
	return err
}

// namesOf names characters: each itself and its number.
func namesOf(runes []rune) string {
	const most = 20
	var parts []string
	for i, r := range runes {
		if i == most {
			parts = append(parts, fmt.Sprintf("and %d more", len(runes)-most))
			break
		}
		parts = append(parts, fmt.Sprintf("%s (U+%04X)", plain(string(r)), r))
	}
	return strings.Join(parts, ", ")
}

// chosenRecipes are those of the plan that were asked for, in its order; all
// where none was.
func chosenRecipes(all []plan.Recipe, ids []string) ([]plan.Recipe, error) {
	if len(all) == 0 {
		return nil, misused("fill in the plan first: coverplate plan check", "the plan has no recipe")
	}
	if len(ids) == 0 {
		return all, nil
	}
	wanted := map[string]bool{}
	for _, id := range ids {
		r, err := findRecipe(all, id)
		if err != nil {
			return nil, err
		}
		wanted[r.ID] = true
	}
	var out []plan.Recipe
	for _, r := range all {
		if wanted[r.ID] {
			out = append(out, r)
		}
	}
	return out, nil
}

// cardsOf are the cards of recipes; the error names all ids that can't be put
// into a code.
func cardsOf(recipes []plan.Recipe, shoot string) ([]sheet.Card, error) {
	var cards []sheet.Card
	var wrong []string
	for _, r := range recipes {
		code, err := desk.DishCode(shoot, r.ID, r.Title)
		if err != nil {
			wrong = append(wrong, fmt.Sprintf("row %d: %v", r.Row, err))
			continue
		}
		angle := string(r.Angle)
		if r.Angle == plan.AnyAngle {
			angle = ""
		}
		cards = append(cards, sheet.Card{Title: r.Title, ID: r.ID, Pages: r.Pages.String(), Needs: plan.FormatNeeds(r.Needs), Angle: angle, Shoot: shoot, Code: code})
	}
	if len(wrong) > 0 {
		return nil, withHint(errors.New(strings.Join(wrong, "\n")), "shorten these ids in the plan; no file was written")
	}
	return cards, nil
}

// writeBeside writes a whole file or none, in one step, and never over another:
// the error wraps fs.ErrExist where path is taken.
func writeBeside(path string, b []byte) error {
	f, err := os.CreateTemp(filepath.Dir(path), ".coverplate-*")
	if err != nil {
		return err
	}
	defer os.Remove(f.Name()) // the other name stays
	_, err = f.Write(b)
	if err := errors.Join(err, f.Chmod(0o644), f.Sync(), f.Close()); err != nil {
		return err
	}
	err = os.Link(f.Name(), path)
	if err == nil || errors.Is(err, fs.ErrExist) {
		return err
	}
	return writeNew(path, b) // a file system without links
}

// newID is a shoot's id: 5 of 32 characters that aren't taken for one another.
// One of 33 million: two shoots of one house hardly ever share it.
func newID() string {
	const letters = "23456789ABCDEFGHJKLMNPQRSTUVWXYZ"
	b := make([]byte, 5)
	rand.Read(b)
	for i := range b {
		b[i] = letters[b[i]%32]
	}
	return string(b)
}

// needID gives the shoot an id where it has none, as those made before slates,
// and says so.
func (s *shoot) needID(at surroundings) error {
	if s.Settings.ID != "" {
		return nil
	}
	path := filepath.Join(s.Dir, settingsFile)
	old, err := os.ReadFile(path)
	if err != nil {
		return err
	}
	id := newID()
	text, ok := withID(old, id)
	if !ok {
		return withHint(fmt.Errorf("%s has no id of the shoot, which slates carry", settingsFile), fmt.Sprintf("write id = %q under [shoot] there", id))
	}
	f, err := os.CreateTemp(s.Dir, ".coverplate-*.toml")
	if err != nil {
		return err
	}
	defer os.Remove(f.Name()) // gone already where all went well
	mode := fs.FileMode(0o644)
	if info, err := os.Stat(path); err == nil {
		mode = info.Mode().Perm()
	}
	_, err = f.Write(text)
	if err := errors.Join(err, f.Chmod(mode), f.Sync(), f.Close()); err != nil {
		return err
	}
	if err := os.Rename(f.Name(), path); err != nil {
		return err
	}
	s.Settings.ID = id
	fmt.Fprintf(at.Stdout, "%s: the shoot had no id for its slates; it is %s from now on, under [shoot]\n", settingsFile, id)
	return nil
}

// withID is a settings file with the shoot's id in it, all else as it was; ok
// is false where there is no place for it.
func withID(old []byte, id string) (text []byte, ok bool) {
	place, found := placesOf(bytes.TrimPrefix(old, []byte("\xef\xbb\xbf")))["shoot"]
	if !found {
		return nil, false
	}
	lines := bytes.SplitAfter(old, []byte("\n"))
	if place.line > len(lines) || !bytes.HasPrefix(bytes.TrimSpace(bytes.TrimPrefix(lines[place.line-1], []byte("\xef\xbb\xbf"))), []byte("[")) {
		return nil, false
	}
	end := "\n"
	if bytes.HasSuffix(lines[place.line-1], []byte("\r\n")) {
		end = "\r\n"
	}
	for _, k := range settingKeys() {
		if k.Key == "shoot.id" {
			own := "# " + strings.ReplaceAll(k.Says, "\n", end+"# ") + end + "id = " + quoted(id) + end + end
			text = bytes.Join(append(append(append([][]byte{}, lines[:place.line]...), []byte(own)), lines[place.line:]...), nil)
		}
	}
	s, faults := parseSettings(text)
	return text, len(faults) == 0 && s.ID == id
}
