package plan

import (
	"encoding/csv"
	"math"
	"os"
	"strconv"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"
	"pgregory.net/rapid"
)

// skerry is the invented book of the tests: metric crown quarto.
var skerry = Book{Title: "Skerry Table", TrimWidth: 189, TrimHeight: 246, Bleed: 3,
	FirstDay: Day{2026, 3, 2}, LastDay: Day{2026, 3, 11}}

func TestBoxAgreesWithPublishedPages(t *testing.T) {
	b, err := os.ReadFile("testdata/boxes.csv")
	if err != nil {
		t.Fatal(err)
	}
	r := csv.NewReader(strings.NewReader(string(b)))
	r.Comment = '#'
	rows, err := r.ReadAll()
	if err != nil {
		t.Fatal(err)
	}
	if len(rows) != 23 {
		t.Fatalf("%d rows, want a header and the two boxes of 11 trims", len(rows))
	}
	number := func(s string) float64 {
		f, err := strconv.ParseFloat(s, 64)
		if err != nil {
			t.Fatal(err)
		}
		return f
	}
	for _, row := range rows[1:] {
		trim := strings.Fields(row[0]) // "7x10 in", "A4 210x297 mm"
		w, h, ok := strings.Cut(trim[len(trim)-2], "x")
		unit, known := unitOf(trim[len(trim)-1])
		if !ok || !known {
			t.Fatalf("trim %q", row[0])
		}
		book := Book{TrimWidth: number(w) * unit, TrimHeight: number(h) * unit, Bleed: number(row[2])}
		size := FullPage
		if row[1] == "spread" {
			size = DoublePage
		}
		gotW, gotH, ok := book.Box(Recipe{Size: Size{Kind: size}})
		const tol = 0.5e-3 // the file prints three decimals
		if !ok || !(math.Abs(gotW-number(row[3])) <= tol) || !(math.Abs(gotH-number(row[4])) <= tol) {
			t.Errorf("%s %s: Box = %v × %v, %v, want %s × %s", row[0], size, gotW, gotH, ok, row[3], row[4])
		}
	}
}

// Halves, quarters and measured pictures follow from the rule that Box states:
// no outside source.
func TestBox(t *testing.T) {
	one, two := Pages{24, 24}, Pages{24, 25}
	for _, c := range []struct {
		name string
		r    Recipe
		w, h float64
		ok   bool
	}{
		{"a half lies across the page", Recipe{Size: Size{Kind: HalfPage}}, 192, 126, true},
		{"a landscape half does too", Recipe{Size: Size{Kind: HalfPage}, Orientation: Landscape}, 192, 126, true},
		{"a portrait half stands beside the text", Recipe{Size: Size{Kind: HalfPage}, Orientation: Portrait}, 97.5, 252, true},
		{"a square half", Recipe{Size: Size{Kind: HalfPage}, Orientation: Square}, 126, 126, true},
		{"a quarter has the page's shape", Recipe{Size: Size{Kind: Quarter}}, 97.5, 126, true},
		{"a landscape quarter is turned", Recipe{Size: Size{Kind: Quarter}, Orientation: Landscape}, 126, 97.5, true},
		{"a picture inside the page has no bleed", Recipe{Size: Size{Measured, 120, 80}}, 120, 80, true},
		{"a picture as wide as the page bleeds at the side", Recipe{Size: Size{Measured, 189, 80}}, 192, 80, true},
		{"a picture as high as the page bleeds above and below", Recipe{Size: Size{Measured, 120, 246}}, 120, 252, true},
		{"a picture whose size holds the bleed is left so", Recipe{Size: Size{Measured, 195, 252}}, 195, 252, true},
		{"a picture across both pages", Recipe{Size: Size{Measured, 378, 120}, Pages: two}, 384, 120, true},
		{"the same without pages", Recipe{Size: Size{Measured, 378, 120}}, 384, 120, true},
		{"a picture over the fold, inside both pages", Recipe{Size: Size{Measured, 250, 120}, Pages: two}, 250, 120, true},
		{"one page and no size is the full page", Recipe{Pages: one}, 192, 252, true},
		{"two pages and no size is the spread", Recipe{Pages: two}, 384, 252, true},
		{"landscape on a portrait page without a size is not known", Recipe{Pages: one, Orientation: Landscape}, 0, 0, false},
		{"neither page nor size is not known", Recipe{}, 0, 0, false},
		{"an unsound size is not known", Recipe{Size: Size{Measured, 0, 80}}, 0, 0, false},
		{"an unknown size is not known", Recipe{Size: Size{Kind: "third"}, Pages: one}, 0, 0, false},
	} {
		t.Run(c.name, func(t *testing.T) {
			if w, h, ok := skerry.Box(c.r); w != c.w || h != c.h || ok != c.ok {
				t.Errorf("Box = %v × %v, %v, want %v × %v, %v", w, h, ok, c.w, c.h, c.ok)
			}
		})
	}
	if _, _, ok := (Book{}).Box(Recipe{Size: Size{Kind: FullPage}}); ok {
		t.Error("a book without a trim has a box")
	}
	if w, h, _ := (Book{TrimWidth: 189, TrimHeight: 246}).Box(Recipe{Size: Size{Kind: FullPage}}); w != 189 || h != 246 {
		t.Errorf("without bleed Box = %v × %v, want the trim", w, h)
	}
}

// sound is a row without a fault; a test changes what it is about.
func sound(change func(*Recipe)) Recipe {
	r := Recipe{Row: 2, ID: "R01", Title: "Plums with caraway", Angle: AnyAngle, Needs: DefaultNeeds()}
	change(&r)
	return r
}

func TestCheckOneRow(t *testing.T) {
	for _, c := range []struct {
		name                      string
		change                    func(*Recipe)
		column, value, says, want string // column "": no fault
	}{
		{"a sound row", func(r *Recipe) {}, "", "", "", ""},
		{"no id", func(r *Recipe) { r.ID = " " }, "recipe", " ", "has no id", "R07"},
		{"the id none", func(r *Recipe) { r.ID = "None" }, "recipe", "None", "word for no recipe", "another id"},
		{"an id like an option", func(r *Recipe) { r.ID = "-7" }, "recipe", "-7", "option", "begin"},
		{"an id like a path", func(r *Recipe) { r.ID = "a/b" }, "recipe", "a/b", "names of files", "letters"},
		{"no title", func(r *Recipe) { r.Title = "" }, "title", "", "has no title", "dish"},
		{"25-26 is no spread", func(r *Recipe) { r.Pages = Pages{25, 26} }, "pages", "25-26", "no spread", "write 24-25 or 26-27"},
		{"page 0 of a spread", func(r *Recipe) { r.Pages = Pages{0, 1} }, "pages", "0-1", "no page number", "from 1"},
		{"a spread of a double page", func(r *Recipe) { r.Pages, r.Size.Kind = Pages{24, 25}, DoublePage }, "", "", "", ""},
		{"a double page on one page", func(r *Recipe) { r.Pages, r.Size.Kind = Pages{25, 25}, DoublePage }, "size", "double", "takes two pages", "24-25 as pages"},
		{"a full page on two", func(r *Recipe) { r.Pages, r.Size.Kind = Pages{24, 25}, FullPage }, "size", "full", "takes one page", "write double"},
		{"a half page on two", func(r *Recipe) { r.Pages, r.Size.Kind = Pages{24, 25}, HalfPage }, "size", "half", "takes one page", "24 or 25 as pages"},
		{"a size nobody knows", func(r *Recipe) { r.Size.Kind = "third" }, "size", "third", "not a known size", "full, double"},
		{"a picture as large as its page", func(r *Recipe) { r.Pages, r.Size = Pages{24, 24}, Size{Measured, 189, 246} }, "", "", "", ""},
		{"a picture with its bleed", func(r *Recipe) { r.Pages, r.Size = Pages{24, 24}, Size{Measured, 195, 252} }, "", "", "", ""},
		{"a picture wider than its page", func(r *Recipe) { r.Pages, r.Size = Pages{24, 24}, Size{Measured, 196, 120} }, "size", "196x120 mm", "larger than a page of this book, 189 x 246 mm", "at most 189x246 mm, or 24-25 as pages"},
		{"a picture higher than its page", func(r *Recipe) { r.Pages, r.Size = Pages{24, 24}, Size{Measured, 100, 253} }, "size", "100x253 mm", "larger than a page", "at most 189x246 mm"},
		{"a wide picture on a spread", func(r *Recipe) { r.Pages, r.Size = Pages{24, 25}, Size{Measured, 300, 120} }, "", "", "", ""},
		{"a picture wider than a spread", func(r *Recipe) { r.Pages, r.Size = Pages{24, 25}, Size{Measured, 385, 120} }, "size", "385x120 mm", "larger than a spread of this book, 378 x 246 mm", "at most 378x246 mm"},
		{"a wide picture without a page", func(r *Recipe) { r.Size = Size{Measured, 300, 120} }, "", "", "", ""},
		{"a picture no spread holds, without a page", func(r *Recipe) { r.Size = Size{Measured, 400, 120} }, "size", "400x120 mm", "larger than a spread", "378"},
		{"a size of nothing", func(r *Recipe) { r.Size = Size{Measured, math.NaN(), 120} }, "size", "NaNx120 mm", "a side of NaN mm", "unit"},
		{"a landscape full page in a portrait book", func(r *Recipe) { r.Size.Kind, r.Orientation = FullPage, Landscape }, "orientation", "landscape", "can't fill the size full, 189 x 246 mm", "write portrait"},
		{"a portrait double page", func(r *Recipe) { r.Size.Kind, r.Orientation = DoublePage, Portrait }, "orientation", "portrait", "can't fill the size double, 378 x 246 mm", "write landscape"},
		{"a measured picture the other way", func(r *Recipe) { r.Size, r.Orientation = Size{Measured, 120, 80}, Portrait }, "orientation", "portrait", "can't fill", "or 80x120 mm as size"},
		{"a landscape half", func(r *Recipe) { r.Size.Kind, r.Orientation = HalfPage, Landscape }, "", "", "", ""},
		{"a portrait half", func(r *Recipe) { r.Size.Kind, r.Orientation = HalfPage, Portrait }, "", "", "", ""},
		{"an orientation nobody knows", func(r *Recipe) { r.Orientation = "askew" }, "orientation", "askew", "not a known orientation", "portrait"},
		{"no angle", func(r *Recipe) { r.Angle = "" }, "", "", "", ""},
		{"the angle of a frame", func(r *Recipe) { r.Angle = UnknownAngle }, "angle", "unknown", "not a known angle", "overhead"},
		{"an unknown need", func(r *Recipe) { r.Needs = []Need{{Kind: "poster"}} }, "needs", "poster", "not a known need", "hero"},
		{"options of one", func(r *Recipe) { r.Needs = []Need{{Options, 1}} }, "needs", "options 1", "how many", "options 3"},
		{"a need twice", func(r *Recipe) { r.Needs = []Need{{Kind: Hero}, {Kind: Hero}} }, "needs", "hero", "named twice", "once"},
		{"the first day", func(r *Recipe) { r.Day = skerry.FirstDay }, "", "", "", ""},
		{"the last day", func(r *Recipe) { r.Day = skerry.LastDay }, "", "", "", ""},
		{"the day before", func(r *Recipe) { r.Day = Day{2026, 3, 1} }, "day", "2026-03-01", "outside the shoot", "from 2026-03-02 to 2026-03-11"},
		{"the day after", func(r *Recipe) { r.Day = Day{2026, 3, 12} }, "day", "2026-03-12", "outside the shoot", "from 2026-03-02 to 2026-03-11"},
		{"a day that is none", func(r *Recipe) { r.Day = Day{2026, 2, 30} }, "day", "2026-02-30", "not in the calendar", "2026-03-04"},
	} {
		t.Run(c.name, func(t *testing.T) {
			got := Check(skerry, []Recipe{sound(c.change)}, "plan.csv")
			if c.column == "" {
				if len(got) > 0 {
					t.Errorf("got %v, want no fault", got)
				}
				return
			}
			if len(got) != 1 {
				t.Fatalf("got %d faults %v, want one", len(got), got)
			}
			f := got[0]
			if f.File != "plan.csv" || f.Row != 2 || f.Column != c.column || f.Value != c.value ||
				!strings.Contains(f.Says, c.says) || !strings.Contains(f.Want, c.want) {
				t.Errorf("got %+v, want %s %q: %q, %q", f, c.column, c.value, c.says, c.want)
			}
		})
	}
}

func TestCheckIds(t *testing.T) {
	row := func(n int, id string) Recipe { return Recipe{Row: n, ID: id, Title: "x"} }
	got := Check(skerry, []Recipe{row(2, "R01"), row(3, "R02"), row(5, "R01"), row(6, "r01")}, "plan.csv")
	want := []Fault{
		{"plan.csv", 5, "recipe", "R01", "is the id of row 2 already", "give each recipe an id of its own"},
		{"plan.csv", 6, "recipe", "r01", `differs only in case or spaces from "R01" in row 2`, "give each recipe an id of its own"},
	}
	if d := cmp.Diff(want, got); d != "" {
		t.Errorf("−want +got:\n%s", d)
	}
}

// on is a picture with a page and a size as the plan writes them.
type on struct{ pages, size, orientation string }

func TestCheckPagesThatAreShared(t *testing.T) {
	for _, c := range []struct {
		name  string
		there []on
		fault string // of the last picture; "" none
	}{
		{"two pages of one spread", []on{{"24", "full", ""}, {"25", "full", ""}}, ""},
		{"one page twice", []on{{"24", "full", ""}, {"24", "full", ""}}, "page 24 is used already by R1 in row 2, and the sizes don't fit on it together"},
		{"one page twice without sizes", []on{{"24", "", ""}, {"24", "", ""}}, "page 24 is used already by R1 in row 2"},
		{"a page of a spread", []on{{"24-25", "double", ""}, {"25", "quarter", ""}}, "page 25 is used already by R1"},
		{"a spread over a page", []on{{"25", "half", ""}, {"24-25", "double", ""}}, "page 25 is used already by R1"},
		{"a spread twice is said once", []on{{"24-25", "double", ""}, {"24-25", "double", ""}}, "page 24 is used already by R1"},
		{"two halves", []on{{"24", "half", ""}, {"24", "half", ""}}, ""},
		{"two portrait halves", []on{{"24", "half", "portrait"}, {"24", "half", "portrait"}}, ""},
		{"a half of either kind", []on{{"24", "half", "portrait"}, {"24", "half", "landscape"}}, "don't fit"},
		{"a portrait half and an open one", []on{{"24", "half", "portrait"}, {"24", "half", ""}}, ""},
		{"three halves", []on{{"24", "half", ""}, {"24", "half", ""}, {"24", "half", ""}}, "by R2 in row 3 and by 1 more"},
		{"four quarters", []on{{"24", "quarter", ""}, {"24", "quarter", ""}, {"24", "quarter", ""}, {"24", "quarter", ""}}, ""},
		{"five quarters", []on{{"24", "quarter", ""}, {"24", "quarter", ""}, {"24", "quarter", ""}, {"24", "quarter", ""}, {"24", "quarter", ""}}, "and by 3 more"},
		{"a half and two quarters", []on{{"24", "half", ""}, {"24", "quarter", ""}, {"24", "quarter", ""}}, ""},
		{"a half, a quarter and a strip", []on{{"24", "half", ""}, {"24", "quarter", ""}, {"24", "94x120 mm", ""}}, ""},
		{"two whose areas would fit but not their sides", []on{{"24", "100x130 mm", ""}, {"24", "100x130 mm", ""}}, "don't fit"},
		{"two side by side", []on{{"24", "94x240 mm", ""}, {"24", "94x240 mm", ""}}, ""},
		{"a full page and the smallest picture", []on{{"24", "full", ""}, {"24", "10x10 mm", ""}}, "don't fit"},
		{"a band over both pages and a half below", []on{{"24-25", "378x120 mm", ""}, {"25", "half", ""}}, ""},
		{"a high band over both pages and a half below", []on{{"24-25", "378x130 mm", ""}, {"25", "half", ""}}, "don't fit"},
		{"a sized picture beside one without a size", []on{{"24", "half", ""}, {"24", "", ""}}, "page 24 is used already"},
	} {
		t.Run(c.name, func(t *testing.T) {
			var rs []Recipe
			for i, o := range c.there {
				pages, err := ParsePages(o.pages)
				if err != nil {
					t.Fatal(err)
				}
				size, err := ParseSize(o.size)
				if err != nil {
					t.Fatal(err)
				}
				rs = append(rs, Recipe{Row: i + 2, ID: "R" + strconv.Itoa(i+1), Title: "x", Pages: pages, Size: size, Orientation: Orientation(o.orientation)})
			}
			got := Check(skerry, rs, "plan.csv")
			if c.fault == "" {
				if len(got) > 0 {
					t.Errorf("got %v, want no fault", got)
				}
				return
			}
			if len(got) != 1 || got[0].Row != len(rs)+1 || got[0].Column != "pages" || !strings.Contains(got[0].Says, c.fault) {
				t.Errorf("got %v, want one for row %d that says %q", got, len(rs)+1, c.fault)
			}
		})
	}
}

func TestCheckWithoutABookStillKnowsHalves(t *testing.T) {
	p := Pages{24, 24}
	half, full := Size{Kind: HalfPage}, Size{Kind: FullPage}
	rs := []Recipe{
		{Row: 2, ID: "a", Title: "x", Pages: p, Size: half, Day: Day{2026, 3, 4}},
		{Row: 3, ID: "b", Title: "x", Pages: p, Size: half},
		{Row: 4, ID: "c", Title: "x", Pages: p, Size: full},
		{Row: 5, ID: "d", Title: "x", Pages: Pages{26, 26}, Size: Size{Measured, 500, 500}},
	}
	got := Check(Book{}, rs, "")
	if len(got) != 1 || got[0].Row != 4 {
		t.Errorf("got %v, want one fault, of row 4", got)
	}
}

func TestFaultsComeInTheOrderOfRowsAndColumns(t *testing.T) {
	got := Check(skerry, []Recipe{
		{Row: 9, ID: "", Title: "", Angle: "x", Day: Day{2025, 1, 1}},
		{Row: 3, ID: "R1", Title: "x", Orientation: "x", Size: Size{Kind: "x"}},
	}, "plan.csv")
	var at []string
	for _, f := range got {
		at = append(at, strconv.Itoa(f.Row)+f.Column)
	}
	if d := cmp.Diff([]string{"3size", "3orientation", "9recipe", "9title", "9angle", "9day"}, at); d != "" {
		t.Errorf("−want +got:\n%s", d)
	}
}

func TestFaultString(t *testing.T) {
	f := Fault{"plan.csv", 5, "Pages", "25-26", "is no spread", "write 24-25 or 26-27"}
	if got, want := f.String(), `plan.csv row 5, Pages "25-26": is no spread; write 24-25 or 26-27`; got != want {
		t.Errorf("got %q, want %q", got, want)
	}
}

// placedByHand tries every whole-number place of every picture: slow, and
// right by construction.
func placedByHand(pictures [][]place, w, h int, taken [][4]int) bool {
	if len(pictures) == 0 {
		return true
	}
	for _, p := range pictures[0] {
		pw, ph := int(p.w), int(p.h)
		for x := 0; x+pw <= w; x++ {
		next:
			for y := 0; y+ph <= h; y++ {
				for _, o := range taken {
					if x < o[0]+o[2] && o[0] < x+pw && y < o[1]+o[3] && o[1] < y+ph {
						continue next
					}
				}
				if placedByHand(pictures[1:], w, h, append(taken, [4]int{x, y, pw, ph})) {
					return true
				}
			}
		}
	}
	return false
}

func TestFitAgreesWithTryingEveryPlace(t *testing.T) {
	yes := 0
	// Sides are whole and larger than the tolerance, so it plays no part.
	rapid.Check(t, func(t *rapid.T) {
		side := rapid.IntRange(1, 5)
		w, h := side.Draw(t, "w"), side.Draw(t, "h")
		pictures := make([][]place, rapid.IntRange(1, mostPlaced).Draw(t, "pictures"))
		for i := range pictures {
			p := place{float64(rapid.IntRange(1, 3).Draw(t, "pw")), float64(rapid.IntRange(1, 3).Draw(t, "ph"))}
			pictures[i] = []place{p}
			if rapid.Bool().Draw(t, "turns") {
				pictures[i] = append(pictures[i], place{p.h, p.w})
			}
		}
		got, want := fit(scaled(pictures), 10*float64(w), 10*float64(h)), placedByHand(pictures, w, h, nil)
		if got != want {
			t.Errorf("fit(%v, %d, %d) = %v, want %v", pictures, w, h, got, want)
		}
		if want {
			yes++
		}
	})
	if yes == 0 {
		t.Error("nothing ever fitted: the test shows nothing")
	}
	pinwheel := [][]place{{{20, 10}}, {{10, 20}}, {{20, 10}}, {{10, 20}}}
	if !fit(pinwheel, 30, 30) {
		t.Error("four in a pinwheel don't fit")
	}
}

func scaled(pictures [][]place) [][]place {
	out := make([][]place, len(pictures))
	for i, shapes := range pictures {
		for _, p := range shapes {
			out[i] = append(out[i], place{10 * p.w, 10 * p.h})
		}
	}
	return out
}
