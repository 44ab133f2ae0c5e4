package main

import (
	"bytes"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"strings"
	"unicode"

	"github.com/spf13/cobra"

	"coverplate/audit/plan"
	"coverplate/audit/plansheet"
	"coverplate/cmd/coverplate/paper"
)

// newOptions is what a new shoot is made of, as it was typed.
type newOptions struct {
	Title, Trim, Days, Zone string
}

func newNew(at surroundings) *cobra.Command {
	var o newOptions
	cmd := &cobra.Command{
		Use:   "new DIR",
		Short: "make the folder of a new shoot",
		Long: `Makes a folder that a person understands without this program: settings with a
comment on every key, a plan to fill in, and a place for the originals. A
folder that already holds a shoot is left alone.

What can be guessed is, and said: the title from the folder's name, the zone
from the machine, the days from those of a plan that stands in the folder. The
size of a page can't be.`,
		Example: `  coverplate new skerry --title "Skerry Table" --trim 189x246 \
      --days 2026-03-02..2026-03-11
  coverplate new . --title "Skerry Table" --trim "7.5x9.25 in" \
      --days 2026-03-02..2026-03-11 --zone Europe/Oslo`,
		Args: usage(cobra.ExactArgs(1), "the folder to make"),
		RunE: func(cmd *cobra.Command, args []string) error {
			return runNew(at, args[0], o)
		},
	}
	f := cmd.Flags()
	f.StringVar(&o.Title, "title", "", "working title of the book")
	f.StringVar(&o.Trim, "trim", "", "size of a page, `WxH` in mm (or \"7.5x9.25 in\")")
	f.StringVar(&o.Days, "days", "", "first and last day, `A..B` as 2026-03-02..2026-03-11; with\ndays off, several such by commas")
	f.StringVar(&o.Zone, "zone", "", "zone of the studio, Europe/Oslo (default: the machine's)")
	return cmd
}

func runNew(at surroundings, dir string, o newOptions) error {
	guesses := o.guess(dir)
	s, guessed, err := o.settings(at.Zone)
	if err != nil {
		return err
	}
	if above := shootAbove(absolute(dir)); above != "" {
		says := "%s already holds a shoot"
		if above != absolute(dir) {
			says = "a shoot stands above, in %s"
		}
		return misused("choose another folder, or go on with that shoot", says, above)
	}
	if err := makeShoot(at, dir, s, guessed); err != nil || len(guesses) == 0 {
		return err
	}
	_, err = fmt.Fprintf(at.Stdout, "Guessed: %s. If that is wrong, mend it in %s.\n", plain(strings.Join(guesses, "; ")), settingsFile)
	return err
}

// guess fills in what was not typed and can be told from the folder: the title
// from its name, the days from a plan that stands there. It returns what it
// guessed, in words.
func (o *newOptions) guess(dir string) []string {
	var says []string
	if o.Title == "" {
		name := strings.Join(strings.FieldsFunc(filepath.Base(absolute(dir)), func(r rune) bool {
			return r == '-' || r == '_' || r == '.' || unicode.IsSpace(r) || r == filepath.Separator
		}), " ")
		if o.Title = paper.UpperFirst(name); name != "" {
			says = append(says, fmt.Sprintf("the title %q from the folder's name", o.Title))
		}
	}
	if o.Days == "" {
		for _, name := range []string{"plan.csv", "plan.xlsx"} {
			sheet, err := readPlan(filepath.Join(dir, name), plan.Book{})
			if err != nil {
				continue
			}
			var first, last plan.Day
			for _, r := range sheet.Recipes {
				if !r.Day.IsZero() && (first.IsZero() || r.Day.Before(first)) {
					first = r.Day
				}
				if last.Before(r.Day) {
					last = r.Day
				}
			}
			if !first.IsZero() {
				o.Days = first.String() + ".." + last.String()
				says = append(says, fmt.Sprintf("the days %v to %v from %s", first, last, name))
			}
			break
		}
	}
	return says
}

// absolute is dir from the root; as it is where the working directory is gone.
func absolute(dir string) string {
	if abs, err := filepath.Abs(dir); err == nil {
		return abs
	}
	return dir
}

// settings turns what was typed into settings; guessed says that the zone is
// the machine's. Everything that is wrong is named at once.
func (o newOptions) settings(systemZone func() string) (s settings, guessed bool, err error) {
	s = defaults()
	var wrong []string
	note := func(flag string, err error) {
		if err != nil {
			wrong = append(wrong, flag+": "+err.Error())
		}
	}
	if strings.TrimSpace(o.Title) == "" {
		note("--title", errors.New(`is missing, and the folder's name makes none; right would be --title "Skerry Table"`))
	}
	s.Book.Title = strings.TrimSpace(o.Title)
	switch {
	case o.Trim == "":
		note("--trim", errors.New("is missing; right would be --trim 189x246, width x height in mm"))
	default:
		s.Book.TrimWidth, s.Book.TrimHeight, err = parseTrim(o.Trim)
		note("--trim", err)
	}
	switch {
	case o.Days == "":
		note("--days", errors.New("is missing; right would be --days 2026-03-02..2026-03-11"))
	default:
		s.Book.FirstDay, s.Book.LastDay, s.Book.Off, err = plan.ParseDays(o.Days)
		note("--days", err)
	}
	if s.Zone = o.Zone; s.Zone == "" {
		guessed = true
		if s.Zone = systemZone(); s.Zone == "" {
			s.Zone = "UTC"
		}
	}
	s.Where, err = zoneNamed(s.Zone)
	note("--zone", err)
	if len(wrong) > 0 {
		return s, guessed, misused("coverplate new --help shows examples", "%s", strings.Join(wrong, "\n"))
	}
	return s, guessed, nil
}

// makeShoot writes the folder. The settings come last: a folder without them
// is no shoot yet, so that an interrupted run can be repeated.
func makeShoot(at surroundings, dir string, s settings, guessedZone bool) error {
	if err := os.MkdirAll(filepath.Join(dir, "originals"), 0o777); err != nil {
		return err
	}
	if s.ID == "" {
		s.ID = newID()
	}
	var sheet bytes.Buffer
	if err := plansheet.Template(&sheet, s.Book); err != nil {
		return err
	}
	planSays := "plan.csv         the author's table; two example rows show how"
	_, noXLSX := os.Stat(filepath.Join(dir, "plan.xlsx"))
	if noXLSX == nil {
		planSays = "plan.xlsx        was there already and is kept"
	} else if err := writeNew(filepath.Join(dir, "plan.csv"), sheet.Bytes()); errors.Is(err, fs.ErrExist) {
		planSays = "plan.csv         was there already and is kept"
	} else if err != nil {
		return err
	}
	if err := writeNew(filepath.Join(dir, settingsFile), writeSettings(s)); err != nil {
		return err
	}
	zone := s.Zone
	if guessedZone {
		zone += ", taken from this machine"
	}
	fmt.Fprintf(at.Stdout, `%s: a shoot for %s

  %s  settings: trim %s mm, days %s,
                   zone %s
  %s
  originals/       where ingest puts the photographs

Next: fill in the plan, then run
  cd %s
  coverplate plan check
`, plain(dir), plain(s.Book.Title), settingsFile, trimOf(s.Book.TrimWidth, s.Book.TrimHeight), s.Book.Days(), zone, planSays, plain(shellWord(dir)))
	return nil
}

// writeNew writes a file that must not be there yet.
func writeNew(path string, b []byte) error {
	f, err := os.OpenFile(path, os.O_WRONLY|os.O_CREATE|os.O_EXCL, 0o666)
	if err != nil {
		return err
	}
	_, err = f.Write(b)
	return errors.Join(err, f.Sync(), f.Close())
}

// shellWord is s as one word of a POSIX shell.
func shellWord(s string) string {
	safe := func(r rune) bool {
		return r >= 'a' && r <= 'z' || r >= 'A' && r <= 'Z' || r >= '0' && r <= '9' || strings.ContainsRune("-_./+,:@%", r) || r >= 0x80
	}
	if s != "" && strings.IndexFunc(s, func(r rune) bool { return !safe(r) }) < 0 {
		return s
	}
	return "'" + strings.ReplaceAll(s, "'", `'\''`) + "'"
}
