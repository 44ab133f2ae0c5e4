package main

import (
	"fmt"
	"time"

	"coverplate/audit"
	"coverplate/audit/plan"
	"coverplate/cmd/coverplate/paper"
	"coverplate/cmd/coverplate/sheet"
)

// writeDaySheet writes the sheet of a day as a PDF.
func writeDaySheet(at surroundings, o dayOptions, d audit.Day, r audit.Report) error {
	size, err := sheet.SizeNamed(o.Paper)
	if err != nil || size.Width < 150 {
		return misused("--paper a4 or --paper letter", "a day's sheet doesn't fit on %q", o.Paper)
	}
	if o.To == "" {
		o.To = "day-" + d.Day + ".pdf"
	}
	if err := o.ready(); err != nil {
		return err
	}
	doc, err := withFonts(at, nil, func(fonts ...[]byte) (*sheet.Sheet, error) { return daySheet(size, at.Now(), d, r, fonts...) })
	if err != nil {
		return err
	}
	b, err := doc.Bytes()
	if err != nil {
		return err
	}
	if err := o.write(b); err != nil {
		return err
	}
	if missing := doc.Missing(); len(missing) > 0 {
		fmt.Fprintf(at.Stderr, "note: printed as numbers in brackets, since the font lacks them: %s\n", plain(string(missing)))
	}
	_, err = fmt.Fprintf(at.Stdout, "%s is written: %s to shoot, %s over from before\n", plain(o.To), counted(len(d.Planned), "dish", "dishes"), fmt.Sprint(len(d.Over)))
	return err
}

// daySheet sets a day for the kitchen wall, what is over from before first.
func daySheet(size sheet.Size, made time.Time, d audit.Day, r audit.Report, fonts ...[]byte) (*sheet.Sheet, error) {
	list := sheet.DayList{Title: r.Book + ": " + dayTitle(d), Says: paper.PaceSays(r.Days)}
	group := func(head string, dishes []audit.Dish, dated bool) {
		g := sheet.DayGroup{Head: head}
		for _, dish := range dishes {
			x := sheet.DayDish{Name: dishName(dish)}
			for _, says := range []string{dishIs(dish), dishOn(dish), after("allergens: ", dish.Allergens), dish.Notes} {
				if says != "" {
					x.Says = append(x.Says, says)
				}
			}
			if dated && dish.Planned != "" {
				x.Says = append(x.Says, "planned for "+dayName(dish.Planned))
			}
			for _, f := range dish.Needs {
				n := sheet.DayNeed{Name: f.Need}
				if f.Verdict != audit.ToShoot {
					n.Name += ", " + verdictDoes[f.Verdict]
				}
				if f.Verdict != audit.ToShoot || dish.Begun {
					n.Why = f.Why
				}
				x.Needs = append(x.Needs, n)
			}
			g.Dishes = append(g.Dishes, x)
		}
		list.Groups = append(list.Groups, g)
	}
	group("OVER FROM EARLIER DAYS", d.Over, true)
	group("TO SHOOT", d.Planned, false)
	if len(d.Over)+len(d.Planned) == 0 {
		list.Foot = append(list.Foot, dayClosing(d, r, plan.Day{}))
	}
	for _, s := range d.Shared {
		list.Foot = append(list.Foot, fmt.Sprintf("%s (%s): %s", s.Name, s.Kind, joinAnd(s.Recipes)))
	}
	for _, c := range d.Cautions {
		list.Foot = append(list.Foot, paper.UpperFirst(c)+".")
	}
	return sheet.Day(size, made, list, fonts...)
}

// verdictDoes is what a verdict asks on a sheet.
var verdictDoes = map[audit.Verdict]string{audit.ToReshoot: "shoot again", audit.ToLook: "look", audit.ToChoose: "choose"}

func after(mark, says string) string {
	if says == "" {
		return ""
	}
	return mark + says
}
