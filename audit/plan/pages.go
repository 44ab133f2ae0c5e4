package plan

import (
	"fmt"
	"regexp"
	"strconv"
	"strings"
)

// lastPage bounds what is taken for a page number; no cookbook comes near.
const lastPage = 9999

// IsZero tells whether the plan does not say the pages.
func (p Pages) IsZero() bool { return p == Pages{} }

// IsSpread tells whether the picture stands on two pages.
func (p Pages) IsSpread() bool { return p.Last > p.First }

// String gives "24", "24-25", and "" where the plan does not say.
func (p Pages) String() string {
	switch {
	case p.IsZero():
		return ""
	case p.IsSpread():
		return fmt.Sprintf("%d-%d", p.First, p.Last)
	}
	return strconv.Itoa(p.First)
}

// Spread numbers the spread that the pages lie on: n for the pages 2n and
// 2n+1, which face each other when a book lies open. It is 0 where the plan
// gives no page, and for page 1, which faces the inside of the cover.
func (p Pages) Spread() int { return p.First / 2 }

// MarshalText gives what String gives.
func (p Pages) MarshalText() ([]byte, error) { return []byte(p.String()), nil }

// UnmarshalText reads what ParsePages reads.
func (p *Pages) UnmarshalText(b []byte) error {
	got, err := ParsePages(string(b))
	if err == nil {
		*p = got
	}
	return err
}

var (
	pageLead  = regexp.MustCompile(`^(?:pages?|pgs?|pp?)[.: ]*`)
	pageJoint = regexp.MustCompile(`^ ?(?:-|/|&|\+|,|\bto\b|\band\b) ?`)
	pageRoman = regexp.MustCompile(`^[ivxlc]+(?: ?- ?[ivxlc]+)?$`)
)

// ParsePages reads the pages of a picture: one page ("24"), or the two of a
// spread ("24-25"), which are an even page and the odd one after it. The empty
// string gives the zero value.
//
// It forgives "p.", "pp." and "pages", every kind of dash, "/", "&", "to" and
// "and" for the hyphen, the short form "124-25", and "10-Nov" where a
// spreadsheet has taken 10-11 for a date. The error is a *ValueError.
func ParsePages(s string) (Pages, error) {
	t := strings.ToLower(plainDashes(Tidy(s)))
	if t == "" {
		return Pages{}, nil
	}
	if a, b, ok := turnedDate(t); ok {
		if facing(a, b) {
			return Pages{a, b}, nil
		}
		return Pages{}, &ValueError{s, "is a date: a spreadsheet has taken the pages for one",
			"give the column the format text and write the pages again, as in 24 or 24-25"}
	}
	t = strings.TrimSuffix(pageLead.ReplaceAllString(t, ""), ".")
	var numbers []string
	for rest := t; ; {
		digits := rest[:len(rest)-len(strings.TrimLeft(rest, "0123456789"))]
		if digits == "" {
			return Pages{}, notPages(s, t)
		}
		numbers = append(numbers, digits)
		rest = rest[len(digits):]
		if rest == "" {
			break
		}
		joint := pageJoint.FindString(rest)
		if joint == "" {
			return Pages{}, notPages(s, t)
		}
		rest = rest[len(joint):]
	}
	first, ok := pageNumber(numbers[0])
	if !ok {
		return Pages{}, noSuchPage(s)
	}
	if len(numbers) == 1 {
		return Pages{first, first}, nil
	}
	if len(numbers) > 2 {
		return Pages{}, &ValueError{s, "names more than two pages",
			"a picture stands on one page or on a spread of two: " + pagesNear(first)}
	}
	last, ok := pageNumber(numbers[1])
	if cut := len(numbers[0]) - len(numbers[1]); cut > 0 {
		// "124-25" is how an index shortens 124-125.
		if long, longOK := pageNumber(numbers[0][:cut] + numbers[1]); longOK && long >= first {
			last, ok = long, true
		}
	}
	if !ok {
		return Pages{}, noSuchPage(s)
	}
	p := Pages{first, last}
	if says, want := p.unsound(); says != "" {
		return Pages{}, &ValueError{s, says, want}
	}
	return p, nil
}

func facing(a, b int) bool { return a >= 2 && a%2 == 0 && b == a+1 }

func pageNumber(digits string) (int, bool) {
	n, err := strconv.Atoi(digits)
	return n, err == nil && n >= 1 && n <= lastPage
}

// unsound says what is wrong with pages, and what would be right; "" is
// nothing. It serves the parser and Check alike.
func (p Pages) unsound() (says, want string) {
	switch {
	case p.First < 1 || p.Last < 1 || p.First > lastPage || p.Last > lastPage:
		return "is no page number", fmt.Sprintf("pages run from 1 to %d", lastPage)
	case p.First == p.Last:
		return "", ""
	case p.Last < p.First:
		return "runs backwards", pagesNear(p.Last)
	case p.Last > p.First+1:
		return fmt.Sprintf("covers %d pages", p.Last-p.First+1),
			"a picture stands on one page or on a spread of two: " + pagesNear(p.First)
	case !facing(p.First, p.Last):
		return fmt.Sprintf("is no spread: pages %d and %d are two sides of one leaf", p.First, p.Last),
			spreadsNear(p.First)
	}
	return "", ""
}

// spreadsNear names the spreads that hold page odd and the page after it.
func spreadsNear(odd int) string {
	if odd < 2 {
		return "write 2-3, the first spread of a book"
	}
	return fmt.Sprintf("write %d-%d or %d-%d", odd-1, odd, odd+1, odd+2)
}

func pagesNear(n int) string {
	even := max(n-n%2, 2)
	return fmt.Sprintf("write %d, or %d-%d", n, even, even+1)
}

func noSuchPage(written string) error {
	return &ValueError{written, "is no page number", fmt.Sprintf("pages run from 1 to %d", lastPage)}
}

func notPages(written, folded string) error {
	if pageRoman.MatchString(folded) {
		return &ValueError{written, "is in Roman numerals", "write the page in figures, as in 24 or 24-25"}
	}
	return &ValueError{written, "is not a page", "write one page, as in 24, or a spread, as in 24-25"}
}
