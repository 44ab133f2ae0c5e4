package plan

import (
	"slices"
	"strings"
	"testing"
)

func TestParseProp(t *testing.T) {
	ninth := Day{2026, 3, 9}
	for _, c := range []struct {
		in   string
		want Prop
		says string // of the fault; "" none
	}{
		{"grey bowl", Prop{Name: "grey bowl"}, ""},
		{" grey  bowl (again: it runs through the soups, all of them)", Prop{Name: "grey bowl", Again: "it runs through the soups, all of them"}, ""},
		{"grey bowl [on purpose: a pair]", Prop{Name: "grey bowl", Again: "a pair"}, ""},
		{"oak board (borrowed from Una, due 2026-03-09)", Prop{Name: "oak board", Borrowed: true, From: "Una", Due: ninth}, ""},
		{"oak board (due back 9 March 2026)", Prop{Name: "oak board", Borrowed: true, Due: ninth}, ""},
		{"oak board (Borrowed; back by March 9th, 2026)", Prop{Name: "oak board", Borrowed: true, Due: ninth}, ""},
		{"jug (hired from the mill; again: the cover's)", Prop{Name: "jug", Borrowed: true, From: "the mill", Again: "the cover's"}, ""},
		{"bowl (small)", Prop{Name: "bowl (small)"}, ""},
		{"bowl (small, borrowed)", Prop{Name: "bowl (small)", Borrowed: true}, ""},
		{"bowl (back left)", Prop{Name: "bowl (back left)"}, ""},
		{"again and again (a print)", Prop{Name: "again and again (a print)"}, ""},
		{"bowl (again)", Prop{Name: "bowl"}, "there is no reason"},
		{"bowl (due 9.3.)", Prop{Name: "bowl", Borrowed: true}, "is due back, but"},
		{"bowl (due Friday)", Prop{Name: "bowl", Borrowed: true}, "is due back, but"},
		{"bowl (due 2026-02-30)", Prop{Name: "bowl", Borrowed: true}, "is not in the calendar"},
		{"bowl (due 2026-03-09", Prop{Name: "bowl (due 2026-03-09"}, ""},
		{"", Prop{}, ""},
	} {
		got, err := ParseProp(c.in)
		says := ""
		if err != nil {
			says = err.(*ValueError).Says
		}
		if got != c.want || c.says == "" && says != "" || !strings.Contains(says, c.says) {
			t.Errorf("%q: %+v, %q; want %+v, %q", c.in, got, says, c.want, c.says)
		}
	}
}

func TestParsePropsLeavesBracketsWhole(t *testing.T) {
	for _, c := range []struct{ in, want string }{
		{"grey bowl (borrowed, due 2026-03-09), linen", "grey bowl (borrowed, due 2026-03-09)|linen"},
		{"bowl (again: a; b); linen, oat", "bowl (again: a; b)|linen, oat"},
		{"bowl (small, linen", "bowl (small|linen"},
		{"bowl, grey; linen", "bowl, grey|linen"},
	} {
		if got := strings.Join(ParseProps(c.in), "|"); got != c.want {
			t.Errorf("%q: %q, want %q", c.in, got, c.want)
		}
	}
}

func TestCheckReadsTheBracketsOfProps(t *testing.T) {
	r := Recipe{Row: 2, ID: "R01", Title: "Rye", Day: Day{2026, 3, 4}, Props: []string{"bowl (again)", "jug (due 2026-03-03)", "tin (due 2026-03-04)", "(again: the cover)"}, Surface: "oak (due 31.2.2026)"}
	var got []string
	for _, f := range Check(Book{}, []Recipe{r}, "plan.csv") {
		got = append(got, f.Column+": "+f.Says)
	}
	want := []string{"props: may be seen again, and there is no reason", "props: is due back before the dish is shot, on 2026-03-04", "props: has no name",
		`surface: is due back, but "31.2.2026" is not in the calendar`}
	if !slices.Equal(got, want) {
		t.Errorf("%q\nwant %q", got, want)
	}
}

func FuzzParseProp(f *testing.F) {
	f.Add("oak board (borrowed from Una, due 2026-03-09)")
	f.Add("bowl [again: x] (due 2026-13-40)")
	f.Fuzz(func(t *testing.T, s string) {
		p, _ := ParseProp(s)
		if p.Name != Tidy(p.Name) || p.From != Tidy(p.From) || p.Again != Tidy(p.Again) {
			t.Errorf("%q: %+v is not tidy", s, p)
		}
	})
}
