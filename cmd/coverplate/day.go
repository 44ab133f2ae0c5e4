package main

import (
	"context"
	"errors"
	"fmt"
	"strings"
	"time"

	"github.com/spf13/cobra"

	"coverplate/audit"
	"coverplate/audit/plan"
	"coverplate/cmd/coverplate/paper"
)

// dayOptions say how a day is told.
type dayOptions struct {
	JSON, PDF bool
	Paper     string
	sheetFile
}

func newDay(at surroundings, where *string) *cobra.Command {
	var o dayOptions
	cmd := &cobra.Command{
		Use:   "day [today|tomorrow|yesterday|DATE]",
		Short: "tell what a shooting day must include, and the pace",
		Long: `Tells what a shooting day must include: what is over from earlier days, then
the day's own dishes in the plan's order with their needs, props and surface,
which of them share props, and what is covered. Then the pace: covered a day
so far, needed a day for the rest, the day on which the rest is done if the
shoot goes on as it went, and what a lost day does to that.

A day is the studio's, and ends when shoot.day_ends says, at 04:00: at two at
night today is still yesterday, and tomorrow the day that is about to dawn.
The end is told as a day that is as likely met as not, and as days within which
nine of ten such shoots end: dishes covered a day are taken for Poisson counts
at one steady rate (Jeffreys' prior; the rest is then negative binomial). Days
that differ more than that make the true span wider. Today counts as a whole
day once it has a frame, and every day of the calendar as a shooting day.

Exit code 3 while the day's dishes, or those left over, are not covered.`,
		Example: `  coverplate day
  coverplate day tomorrow --pdf
  coverplate day 2026-03-04 --json`,
		Args:      usage(cobra.MaximumNArgs(1), "one day at most"),
		ValidArgs: []string{"today", "tomorrow", "yesterday"},
		RunE: func(cmd *cobra.Command, args []string) error {
			return runDay(cmd.Context(), at, *where, strings.Join(args, ""), o)
		},
	}
	f := cmd.Flags()
	f.BoolVar(&o.JSON, "json", false, "print JSON: the day and \"days\", the pace")
	f.BoolVar(&o.PDF, "pdf", false, "write a sheet for the kitchen wall, with needs to tick")
	o.add(f, "", "the sheet's `FILE` (default: day-DATE.pdf)")
	f.StringVar(&o.Paper, "paper", "a4", "the sheet's `SIZE`: a4 or letter")
	return cmd
}

// dayNamed is the shooting day that a word names, at the moment now.
func (s settings) dayNamed(word string, now time.Time) (plan.Day, error) {
	today := s.today(now)
	switch strings.ToLower(strings.TrimSpace(word)) {
	case "", "today":
		return today, nil
	case "tomorrow":
		return today.AddDays(1), nil
	case "yesterday":
		return today.AddDays(-1), nil
	}
	d, err := plan.ParseDay(word)
	if err != nil || d.IsZero() {
		var v *plan.ValueError
		hint := "write today, tomorrow, yesterday or a date, as in 2026-03-04"
		if errors.As(err, &v) && strings.HasPrefix(v.Want, "write ") {
			hint = v.Want + "; or today, tomorrow, yesterday"
		}
		says := "is no day"
		if v != nil {
			says = v.Says
		}
		return d, misused(hint, "%q %s", word, says)
	}
	return d, nil
}

// dayJSON is what day --json prints.
type dayJSON struct {
	audit.Day
	Days audit.Pace `json:"days"`
}

func runDay(ctx context.Context, at surroundings, where, word string, o dayOptions) error {
	if o.JSON && o.PDF || (o.To != "" || o.Replace) && !o.PDF {
		return misused("coverplate day tomorrow --pdf --to FILE, or --json alone", "--to and --replace are of --pdf, and --json is printed")
	}
	s, err := openShoot(where)
	if err != nil {
		return err
	}
	g, done, err := s.gatherBare(ctx, at.Now())
	if err != nil {
		return err
	}
	defer done()
	day, err := s.Settings.dayNamed(word, at.Now())
	if err != nil {
		return err
	}
	r, missed, err := s.auditCloser(ctx, at, &g, nil)
	if err != nil {
		return err
	}
	sayMissed(at, missed)
	of := audit.DayOf(g.Shoot, r, day)
	switch {
	case o.JSON:
		err = writeJSON(at.Stdout, dayJSON{of, r.Days})
	case o.PDF:
		err = writeDaySheet(at, o, of, r)
	default:
		err = renderDay(at, of, r, g.Today)
	}
	if err != nil {
		return err
	}
	if note := g.faultsNote(); note != "" {
		fmt.Fprintln(at.Stderr, plain(note))
	}
	if len(of.Over)+len(of.Planned) > 0 {
		return errWanting
	}
	return nil
}

// renderDay sets a day for the terminal.
func renderDay(at surroundings, d audit.Day, r audit.Report, today plan.Day) error {
	t := newSetter(at.Stdout, termOptionsOf(at))
	t.put(0, 2, r.Book+": "+dayTitle(d))
	for _, n := range d.Notes {
		t.put(0, 2, paper.UpperFirst(n)+".")
	}
	t.put(0, 2, paper.PaceSays(r.Days))
	putDishes(t, "over from earlier days", "", d.Over, true)
	putDishes(t, "planned", "in the plan's order", d.Planned, false)
	if len(d.Shared) > 0 {
		t.head("shared on the day", "")
		for _, p := range d.Shared {
			t.put(2, 4, p.Name+" ("+p.Kind+"): "+joinAnd(p.Recipes))
		}
	}
	if len(d.Covered) > 0 {
		t.head("covered", fmt.Sprint(len(d.Covered)))
		for _, dish := range d.Covered {
			t.put(2, 4, dishName(dish)+otherDay(dish))
		}
	}
	if len(d.Loose) > 0 {
		t.head("planned for no day", fmt.Sprint(len(d.Loose)))
		var names []string
		for _, dish := range d.Loose {
			names = append(names, dish.Recipe)
		}
		t.put(2, 2, strings.Join(names, ", "))
	}
	if len(d.Cautions) > 0 {
		t.head("cautions", "")
		for _, c := range d.Cautions {
			t.put(2, 4, paper.UpperFirst(c)+".")
		}
	}
	if says := dayClosing(d, r, today); says != "" {
		t.gap()
		t.put(0, 2, says)
	}
	return t.err
}

// dayClosing is the next step.
func dayClosing(d audit.Day, r audit.Report, today plan.Day) string {
	switch {
	case len(r.Recipes) == 0:
		return "The plan has no recipe yet: fill it in, then coverplate plan check."
	case len(d.Planned)+len(d.Covered) == 0:
		return "Nothing is planned for this day. The column day of the plan says which dish is shot when."
	case len(d.Over)+len(d.Planned) == 0:
		return "All of this day is covered."
	case d.Day == today.String():
		return "Before a set is struck: coverplate audit RECIPE."
	}
	return ""
}

// dayTitle is "Wednesday 4 March 2026, day 3 of 10".
func dayTitle(d audit.Day) string {
	s := dayName(d.Day)
	if d.Number > 0 {
		s += fmt.Sprintf(", day %d of %d", d.Number, d.Of)
	}
	return s
}

// otherDay says that a dish of the day was covered on another, or is of none.
func otherDay(d audit.Dish) string {
	if d.OnDay {
		return ""
	}
	return "; before"
}

func dishName(d audit.Dish) string {
	return strings.TrimSpace(d.Recipe+"  "+d.Title) + pageSuffix(d.Pages)
}

// putDishes sets dishes under a heading, with what each still needs.
func putDishes(t *setter, head, says string, dishes []audit.Dish, dated bool) {
	if len(dishes) == 0 {
		return
	}
	n := fmt.Sprint(len(dishes))
	if says != "" {
		n += ", " + says
	}
	t.head(head, n)
	for _, d := range dishes {
		line := dishName(d)
		if dated && d.Planned != "" {
			line += "; planned for " + dayName(d.Planned)
		} else if dated {
			line += "; begun, planned for no day"
		}
		t.put(2, 4, line)
		if is := dishIs(d); is != "" {
			t.put(6, 2, is)
		}
		if with := dishOn(d); with != "" {
			t.put(6, 2, with)
		}
		for _, f := range d.Needs {
			why := string(f.Verdict)
			if f.Verdict != audit.ToShoot || d.Begun {
				why += ": " + f.Why
			}
			t.put(6, 4, f.Need+" · "+why)
		}
	}
}

// dishIs is how a picture must look: "full, portrait, overhead".
func dishIs(d audit.Dish) string {
	var parts []string
	for _, p := range []string{d.Size, d.Orientation, d.Angle} {
		if p != "" && p != string(plan.AnyAngle) {
			parts = append(parts, p)
		}
	}
	return strings.Join(parts, ", ")
}

// dishOn is what stands on the set of a dish.
func dishOn(d audit.Dish) string {
	s := strings.Join(d.Props, "; ")
	if d.Surface != "" {
		if s != "" {
			s += "; "
		}
		s += "on " + d.Surface
	}
	if len(d.With) > 0 {
		s += "; shared with " + joinAnd(d.With)
	}
	return s
}
