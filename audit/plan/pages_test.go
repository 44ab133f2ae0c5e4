package plan

import (
	"errors"
	"strings"
	"testing"

	"pgregory.net/rapid"
)

func TestParsePages(t *testing.T) {
	for _, c := range []struct {
		name, in string
		want     Pages
		print    string
		spread   int
	}{
		{"nothing leaves it open", "", Pages{}, "", 0},
		{"one page", "24", Pages{24, 24}, "24", 12},
		{"the odd page of the same spread", "25", Pages{25, 25}, "25", 12},
		{"the next spread", "26", Pages{26, 26}, "26", 13},
		{"page 1 faces the cover", "1", Pages{1, 1}, "1", 0},
		{"the first spread", "2-3", Pages{2, 3}, "2-3", 1},
		{"a spread", "24-25", Pages{24, 25}, "24-25", 12},
		{"an en dash", "24–25", Pages{24, 25}, "24-25", 12},
		{"an em dash and spaces", " 24 — 25 ", Pages{24, 25}, "24-25", 12},
		{"a non-breaking hyphen", "24\u201125", Pages{24, 25}, "24-25", 12},
		{"a minus", "24−25", Pages{24, 25}, "24-25", 12},
		{"pp. in front", "pp. 24–25", Pages{24, 25}, "24-25", 12},
		{"p. in front", "p.24", Pages{24, 24}, "24", 12},
		{"p without a dot", "p24", Pages{24, 24}, "24", 12},
		{"Pages in words", "Pages 24 and 25", Pages{24, 25}, "24-25", 12},
		{"to", "24 to 25", Pages{24, 25}, "24-25", 12},
		{"a slash", "24/25", Pages{24, 25}, "24-25", 12},
		{"an ampersand", "24 & 25", Pages{24, 25}, "24-25", 12},
		{"the short form of an index", "124-25", Pages{124, 125}, "124-125", 62},
		{"the shortest form", "24-5", Pages{24, 25}, "24-25", 12},
		{"the same page twice", "24-24", Pages{24, 24}, "24", 12},
		{"10-11 that became November", "10-Nov", Pages{10, 11}, "10-11", 5},
		{"10-11 that became October", "11-Oct", Pages{10, 11}, "10-11", 5},
		{"2-3 that became March", "Mar-02", Pages{2, 3}, "2-3", 1},
	} {
		t.Run(c.name, func(t *testing.T) {
			got, err := ParsePages(c.in)
			if err != nil || got != c.want || got.String() != c.print || got.Spread() != c.spread {
				t.Errorf("ParsePages(%q) = %v %q spread %d, %v, want %v %q spread %d",
					c.in, got, got.String(), got.Spread(), err, c.want, c.print, c.spread)
			}
		})
	}
}

func TestParsePagesRefuses(t *testing.T) {
	for _, c := range []struct{ name, in, says, want string }{
		{"two sides of a leaf", "25-26", "is no spread", "write 24-25 or 26-27"},
		{"two sides of the first leaf", "1-2", "is no spread", "2-3"},
		{"backwards", "25-24", "backwards", "write 24, or 24-25"},
		{"three pages", "24-26", "covers 3 pages", "write 24, or 24-25"},
		{"a list", "24, 26, 28", "more than two pages", "write 24, or 24-25"},
		{"page 0", "0", "no page number", "from 1"},
		{"a page no book has", "10000", "no page number", "9999"},
		{"a number that overflows", "99999999999999999999", "no page number", "9999"},
		{"Roman numerals", "xiv", "Roman", "in figures"},
		{"a decimal", "24.5", "not a page", "24-25"},
		{"a negative page", "-24", "not a page", "24-25"},
		{"words", "opposite the plums", "not a page", "24-25"},
		{"a date that was no spread", "12-Jan", "is a date", "format text"},
		{"half a spread", "24-", "not a page", "24-25"},
	} {
		t.Run(c.name, func(t *testing.T) {
			got, err := ParsePages(c.in)
			var v *ValueError
			if !errors.As(err, &v) {
				t.Fatalf("ParsePages(%q) = %v, %v, want a ValueError", c.in, got, err)
			}
			if v.Value != c.in || !strings.Contains(v.Says, c.says) || !strings.Contains(v.Want, c.want) || !got.IsZero() {
				t.Errorf("ParsePages(%q) = %v, %+v, want %q and %q", c.in, got, *v, c.says, c.want)
			}
		})
	}
}

func TestEveryPageAndSpreadIsReadBackAsPrinted(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		n := rapid.IntRange(1, lastPage).Draw(t, "page")
		p := Pages{n, n}
		if rapid.Bool().Draw(t, "spread") && n%2 == 0 {
			p.Last = n + 1
		}
		got, err := ParsePages(p.String())
		if p.Last > lastPage {
			return
		}
		if err != nil || got != p {
			t.Errorf("ParsePages(%q) = %v, %v", p.String(), got, err)
		}
		if p.IsSpread() && (Pages{p.Last, p.Last}).Spread() != p.Spread() {
			t.Errorf("pages %v don't lie on one spread", p)
		}
	})
}
