package plansheet

import (
	"bytes"
	"flag"
	"os"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"
	"pgregory.net/rapid"

	"coverplate/audit/plan"
)

var update = flag.Bool("update", false, "write testdata/template.csv anew")

// textOf is what Write writes.
func textOf(t testing.TB, s Sheet) string {
	t.Helper()
	var b bytes.Buffer
	if err := Write(&b, s); err != nil {
		t.Fatal(err)
	}
	return b.String()
}

func TestWriteGivesBackWhatNobodyChanged(t *testing.T) {
	const in = "Pages;Recipe ID;Title;cook;oven °C;cook;Day;Angle\n" +
		"pp. 24–25;R01;\"Rye; \"\"warm\"\"\";Una;  220 ;;4.3.2026;flat lay\n" +
		"25-26;R02;Plums;;;Jorn;3/4/2026;overhed\n"
	s := read(t, in)
	if got := textOf(t, s); got != strings.Replace(in, `;  220 ;`, `;"  220 ";`, 1) {
		t.Errorf("got\n%s\nwant\n%s", got, in)
	}
	s.Recipes[0].Pages = plan.Pages{First: 26, Last: 27}
	s.Recipes[1].Chapter = "Shore"
	s.Recipes[1].Extra = append(s.Recipes[1].Extra, plan.Field{Name: "weight", Value: "1 kg"})
	want := "Pages;Recipe ID;Title;cook;oven °C;cook;Day;Angle;chapter;weight\n" +
		"26-27;R01;\"Rye; \"\"warm\"\"\";Una;\"  220 \";;4.3.2026;flat lay;;\n" +
		"25-26;R02;Plums;;;Jorn;3/4/2026;overhed;Shore;1 kg\n"
	if got := textOf(t, s); got != want {
		t.Errorf("after changes got\n%s\nwant\n%s", got, want)
	}
}

// The signs are those of OWASP, "CSV Injection".
func TestWriteGuardsAgainstFormulas(t *testing.T) {
	for _, v := range []string{"=1+1", "+1", "-1", "@A1", "\t=1", "\r=1", " =1", "＝1", "'=1", "''=1", "'quoted'", "plain", "a=b"} {
		s := Sheet{Recipes: []plan.Recipe{{ID: "R01", Title: "Rye", Extra: []plan.Field{{Name: "cook", Value: v}}}}}
		text := textOf(t, s)
		back := read(t, text)
		if got := back.Recipes[0].Extra[0].Value; got != v {
			t.Errorf("%q came back as %q from %q", v, got, text)
		}
		table := table{text: text, delimiter: ','}
		cells := table.lines(2)[1].cells
		if cell := cells[len(cells)-1]; strings.ContainsAny(strings.TrimLeft(cell, " ")[:1], "=+-@\t\r＝") {
			t.Errorf("%q was written as %q, which a spreadsheet computes", v, cell)
		}
	}
}

func TestWriteKeepsAMarkWhereOneIsNeeded(t *testing.T) {
	for in, want := range map[string]bool{"recipe,title\nR01,Rye\n": false, "\xef\xbb\xbfrecipe,title\nR01,Rye\n": true, "recipe,title\nR01,Br\xfbl\xe9e\n": true} {
		if got := strings.HasPrefix(textOf(t, read(t, in)), "\xef\xbb\xbf"); got != want {
			t.Errorf("%q: mark %v, want %v", in, got, want)
		}
	}
}

func TestTemplate(t *testing.T) {
	day := func(d int) plan.Day { return plan.Day{Year: 2026, Month: 3, Day: d} }
	for _, c := range []struct {
		name string
		b    plan.Book
	}{
		{"crown quarto", plan.Book{TrimWidth: 189, TrimHeight: 246, Bleed: 3, FirstDay: day(2), LastDay: day(11)}},
		{"a square book", plan.Book{TrimWidth: 215.9, TrimHeight: 215.9, Bleed: 3.175, FirstDay: day(2), LastDay: day(3)}},
		{"a landscape book", plan.Book{TrimWidth: 280, TrimHeight: 216, FirstDay: day(2), LastDay: day(11)}},
		{"a very tall book", plan.Book{TrimWidth: 100, TrimHeight: 240, FirstDay: day(2), LastDay: day(11)}},
		{"a spread as high as wide", plan.Book{TrimWidth: 120, TrimHeight: 240, FirstDay: day(2), LastDay: day(11)}},
		{"a shoot of one day", plan.Book{TrimWidth: 189, TrimHeight: 246, Bleed: 3, FirstDay: day(2), LastDay: day(2)}},
		{"no book yet", plan.Book{}},
	} {
		t.Run(c.name, func(t *testing.T) {
			var b bytes.Buffer
			if err := Template(&b, c.b); err != nil {
				t.Fatal(err)
			}
			s, err := Read(&b, "plan.csv")
			if err != nil {
				t.Fatal(err)
			}
			if faults := s.Check(c.b); len(s.Recipes) != 2 || len(faults) > 0 || len(s.Missing) > 0 || len(s.Taken) > 0 {
				t.Errorf("%d recipes, faults %v, missing %v, taken %v", len(s.Recipes), faults, s.Missing, s.Taken)
			}
			if s.Recipes[0].Day != c.b.FirstDay {
				t.Errorf("day %v, want the first", s.Recipes[0].Day)
			}
		})
	}
	var b bytes.Buffer
	if err := Template(&b, plan.Book{TrimWidth: 189, TrimHeight: 246, FirstDay: day(2), LastDay: day(11)}); err != nil {
		t.Fatal(err)
	}
	if *update {
		if err := os.WriteFile("testdata/template.csv", b.Bytes(), 0o644); err != nil {
			t.Fatal(err)
		}
	}
	want, err := os.ReadFile("testdata/template.csv")
	if err != nil {
		t.Fatal(err)
	}
	if d := cmp.Diff(string(want), b.String()); d != "" {
		t.Errorf("−want +got:\n%s", d)
	}
}

func TestWhatIsWrittenIsReadBack(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		cell := rapid.StringMatching(`[a-c=+@',;"\t é\n\r-]{0,6}`)
		n := rapid.IntRange(1, 4).Draw(t, "recipes")
		s := Sheet{Delimiter: rapid.SampledFrom([]rune(",;\t|")).Draw(t, "delimiter")}
		for i := range n {
			s.Recipes = append(s.Recipes, plan.Recipe{Row: i + 2, ID: "R" + string(rune('0'+i)), Title: plan.Tidy(cell.Draw(t, "title")),
				Notes: strings.TrimSpace(cell.Draw(t, "notes")), Angle: plan.High, Needs: []plan.Need{{Kind: plan.Detail}},
				Extra: []plan.Field{{Name: "mine", Value: cell.Draw(t, "x")}, {Name: "mine", Value: cell.Draw(t, "y")}}})
		}
		var b bytes.Buffer
		if err := Write(&b, s); err != nil {
			t.Fatal(err)
		}
		text := b.String()
		back, err := Read(&b, "plan.csv")
		if d := cmp.Diff(s.Recipes, back.Recipes); err != nil || d != "" || back.Delimiter != s.Delimiter {
			t.Errorf("%v, delimiter %q, −wrote +read:\n%s%q", err, back.Delimiter, d, text)
		}
	})
}

func FuzzRead(f *testing.F) {
	for _, s := range []string{
		"recipe,title,pages\nR01,Rye,24-25\n", "sep=;\r\nrecipe;title\r\n\r\na;\"x\ny\"\r\n", "\xff\xfer\x00e\x00c\x00i\x00p\x00e\x00,\x00t\x00i\x00t\x00l\x00e\x00\n\x00",
		"id|title|day|angle\nR|=1|46085|3/4\n", "recipe,title\n\"a,\"b\"\"\n", "recipe\tBr\xfbl\xe9e\ttitle\rx\ty\tz\tq", "page,pages,recipe,title,,\n1,2,3,4,5,6,7",
	} {
		f.Add([]byte(s))
	}
	f.Add(handmade{names: []string{"Plan"}, sheets: []string{row(1, text("A1", "recipe"), text("B1", "day")) + row(2, text("A2", "R01"), date("B2", "46085")) + `|<mergeCells count="1"><mergeCell ref="A1:A2"/></mergeCells>`}}.bytes(f))
	book := plan.Book{TrimWidth: 189, TrimHeight: 246, Bleed: 3}
	f.Fuzz(func(t *testing.T, b []byte) {
		s, err := Read(bytes.NewReader(b), "plan")
		if err != nil {
			return
		}
		s.Check(book)
		var out bytes.Buffer
		if err := Write(&out, s); err != nil {
			t.Fatalf("what was read can't be written: %v", err)
		}
		text := out.String()
		back, err := Read(&out, "plan")
		// A delimiter that only a sep= line made known, or that the header's
		// own text outvotes, is not guessed again.
		if err == nil && back.Delimiter != s.Delimiter || s.Format == "xlsx" || !strings.ContainsRune(",;\t|", s.Delimiter) {
			return
		}
		if err != nil {
			t.Fatalf("what was written can't be read: %v\n%q", err, text)
		}
		if len(back.Recipes) != len(s.Recipes) {
			t.Errorf("%d recipes became %d: %q", len(s.Recipes), len(back.Recipes), text)
		}
	})
}
