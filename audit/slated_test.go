package audit

import (
	"strings"
	"testing"

	"coverplate/audit/plan"
	"coverplate/ingest/catalogue"
)

// The mark is CRC-32 as zlib has it (python3 -c 'import zlib; print(zlib.crc32(b"leektart") % 36**4)'
// gives 1435367, URJB to base 36), of letters and digits alone; cards of before
// have all four digits, those of today the last three.
func TestMarksOfTitles(t *testing.T) {
	for title, want := range map[string]string{"Leek tart": "RJB", "leek-TART ": "RJB", "": "", " – ": ""} {
		if got := TitleMark(title); got != want {
			t.Errorf("TitleMark(%q) = %q, want %q", title, got, want)
		}
		for mark, is := range map[string]bool{"RJB": want != "", "URJB": want != "", "": false, "VRJB": false, "B": false} {
			if marks(mark, title) != is {
				t.Errorf("%q is taken for the mark of %q, or the other way about", mark, title)
			}
		}
	}
	for _, title := range []string{"Leek tarts", "Leek tart 2", "Lèek tart"} {
		if got := TitleMark(title); got == "RJB" || len(got) != 3 || marks("URJB", title) {
			t.Errorf("TitleMark(%q) = %q", title, got)
		}
	}
}

func TestASlateKeepsToItsDish(t *testing.T) {
	named := func(id, title string) plan.Recipe { return recipe(id, title, 11, plan.Hero) }
	card := func(id, title string) catalogue.Slate {
		return catalogue.Slate{Recipe: id, Title: TitleMark(title)}
	}
	before := func(id, title string) catalogue.Slate {
		return catalogue.Slate{Recipe: id, Title: longMark(title)}
	}
	two := []plan.Recipe{named("R01", "Barley broth"), named("R02", "Dark rye")}
	for name, c := range map[string]struct {
		plan    []plan.Recipe
		slate   catalogue.Slate
		earlier []Titled
		said    []catalogue.Decision
		want    string
		asks    string // what the note holds where it can't be known
	}{
		"as it was printed":                {two, card("R01", "Barley broth"), nil, nil, "R01", ""},
		"the number has another dish":      {two, card("R01", "Dark rye"), nil, nil, "R02", ""},
		"an old card, another dish":        {two, before("R01", "Dark rye"), nil, nil, "R02", ""},
		"an old card, of an old plan":      {[]plan.Recipe{named("R01", "Dark rye bread")}, before("R01", "Dark rye"), []Titled{{"R01", "Dark rye"}}, nil, "R01", ""},
		"two dishes' cards":                {two, catalogue.Slate{Recipe: "R01", Others: []catalogue.Slate{{Recipe: "R02"}}}, nil, nil, "", "slates of R01 and R02 stand in it"},
		"one dish's two cards":             {two, catalogue.Slate{Recipe: "R09", Title: TitleMark("Dark rye"), Others: []catalogue.Slate{card("R02", "Dark rye")}}, nil, nil, "R02", ""},
		"a card of another shoot besides":  {two, catalogue.Slate{Recipe: "R01", Shoot: "OTHER", Others: []catalogue.Slate{{Recipe: "R02", Shoot: "AAAAA"}}}, nil, nil, "R02", ""},
		"a card that nobody knows besides": {two, catalogue.Slate{Recipe: "R01", Others: []catalogue.Slate{card("R09", "Kelp soup")}}, nil, nil, "", "the plan does not have"},
		"the number is no more":            {two, card("R09", "Dark rye"), nil, nil, "R02", ""},
		"another title, nobody knows":      {two, card("R01", "Kelp soup"), nil, nil, "", "had another title"},
		"another title, of an old plan":    {[]plan.Recipe{named("R01", "Dark rye bread")}, card("R01", "Dark rye"), []Titled{{"R01", "Dark rye"}}, nil, "R01", ""},
		"another title, of a decision":     {[]plan.Recipe{named("R01", "Dark rye bread")}, card("R01", "Dark rye"), nil, []catalogue.Decision{{ID: 1, Kind: catalogue.Waive, Recipe: "R01", Title: "Dark rye", Need: "hero", Why: "no"}}, "R01", ""},
		"another dish, by an old plan":     {[]plan.Recipe{named("R01", "Kelp soup")}, card("R01", "Dark rye"), []Titled{{"R01", "Dark rye"}}, nil, "", `which was "Dark rye"`},
		"cut, by an old plan":              {two, card("R09", "Kelp soup"), []Titled{{"R09", "Kelp soup"}}, nil, "", "was it cut?"},
		"of no plan":                       {two, card("R09", "Kelp soup"), nil, nil, "", "the plan does not have"},
		"two dishes of that title":         {[]plan.Recipe{named("R02", "Dark rye"), named("R03", "Dark rye")}, card("R01", "Dark rye"), nil, nil, "", "R02 and of R03"},
		"its own of two of that title":     {[]plan.Recipe{named("R02", "Dark rye"), named("R03", "Dark rye")}, card("R03", "Dark rye"), nil, nil, "R03", ""},
		"untitled, as ever":                {two, catalogue.Slate{Recipe: "R01"}, nil, nil, "R01", ""},
		"untitled, and it was the same":    {two, catalogue.Slate{Recipe: "R01"}, []Titled{{"R01", "Barley broth"}}, nil, "R01", ""},
		"untitled, and it was another":     {two, catalogue.Slate{Recipe: "R01"}, []Titled{{"R01", "Dark rye"}}, nil, "", "does not say when it was printed"},
		"untitled, and it was both":        {two, catalogue.Slate{Recipe: "R01"}, []Titled{{"R01", "Dark rye"}, {"R01", "Barley broth"}}, nil, "", "more than one dish"},
		"untitled, and another has it now": {two, catalogue.Slate{Recipe: "R09"}, []Titled{{"R09", "Dark rye"}}, nil, "R02", ""},
	} {
		t.Run(name, func(t *testing.T) {
			slate, after := shotAt("a.JPG", 0), shotAt("b.JPG", 1)
			slate.Look.Slate = &c.slate
			s := shootOf(c.plan, []catalogue.Frame{slate, after}, c.said...)
			s.Earlier, s.ID = c.earlier, "AAAAA"
			if got := matchOf(t, s, "a.JPG").Recipe; got != c.want {
				t.Errorf("the slate is of %q, want %q", got, c.want)
			}
			if got := matchOf(t, s, "b.JPG").Recipe; got != c.want {
				t.Errorf("the frame after it is of %q, want %q", got, c.want)
			}
			var notes []string
			for _, n := range Run(s).Notes {
				notes = append(notes, n.Says)
			}
			if all := strings.Join(notes, "\n"); c.asks != "" && !strings.Contains(all, c.asks) || c.asks == "" && strings.Contains(all, "say ") {
				t.Errorf("notes %q, want %q", all, c.asks)
			}
		})
	}
}

// After a slate that tells no dish nothing goes on as if it had not been: the
// dish before it is over. What names its own dish is left alone, and the next
// slate ends the doubt.
func TestAfterADoubtfulSlateFramesAreAQuestion(t *testing.T) {
	frames := []catalogue.Frame{shotAt("1.JPG", 0), shotAt("2.JPG", 1), shotAt("3.JPG", 30), shotAt("4.JPG", 31), shotAt("5.JPG", 32, "Rye crackers"), shotAt("6.JPG", 60), shotAt("7.JPG", 61)}
	slated("R01")(&frames[0])
	slated("R01")(&frames[2])
	frames[2].Look.Slate.Title = TitleMark("Kelp soup")
	slated("R02")(&frames[5])
	recipes := []plan.Recipe{recipe("R01", "Barley broth", 11, plan.Hero), recipe("R02", "Dark loaf", 13, plan.Hero), recipe("R03", "Rye crackers", 15, plan.Hero)}
	s := shootOf(recipes, frames)
	for file, want := range map[string]string{"2.JPG": "R01", "3.JPG": "", "4.JPG": "", "5.JPG": "R03", "7.JPG": "R02"} {
		if got := matchOf(t, s, file).Recipe; got != want {
			t.Errorf("%s is of %q, want %q", file, got, want)
		}
	}
	said := false
	for _, u := range Run(s).Unplaced {
		said = said || strings.Contains(u.Why, "the slate before it, 3.JPG, tells no dish")
	}
	if !said {
		t.Error("the frame after the slate does not say why it is unplaced")
	}
}
