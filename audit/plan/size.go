package plan

import (
	"fmt"
	"math"
	"regexp"
	"strconv"
	"strings"
)

const knownSizes = "full, double, half, quarter, or width x height as in 120x80 mm"

// The largest and the smallest side of a picture that is believed, in
// millimetres; outside them a unit has been mistaken.
const (
	smallestSide = 5
	largestSide  = 2000
)

var sizeWords = []word[SizeKind]{
	{"full", FullPage}, {"whole", FullPage}, {"full bleed", FullPage}, {"single", FullPage}, {"one page", FullPage},
	{"1 page", FullPage}, {"1/1", FullPage}, {"page", FullPage},
	{"double", DoublePage}, {"spread", DoublePage}, {"double page spread", DoublePage}, {"double spread", DoublePage},
	{"full spread", DoublePage}, {"dps", DoublePage}, {"two pages", DoublePage}, {"2 pages", DoublePage}, {"2/1", DoublePage},
	{"half", HalfPage}, {"1/2", HalfPage}, {"½", HalfPage},
	{"quarter", Quarter}, {"1/4", Quarter}, {"¼", Quarter},
}

var measured = regexp.MustCompile(
	`^(\d{1,5}(?:[.,]\d{1,4})?) ?([a-z"″”.]*) ?(?:x|×|\*|by) ?(\d{1,5}(?:[.,]\d{1,4})?) ?([a-z"″”.]*)$`)

// unitOf gives the millimetres of a unit; an inch is 25.4 mm exactly
// (international inch, 1959).
func unitOf(s string) (mm float64, ok bool) {
	switch strings.TrimSuffix(s, ".") {
	case "mm", "millimetre", "millimetres", "millimeters":
		return 1, true
	case "cm", "centimetre", "centimetres", "centimeters":
		return 10, true
	case "in", "ins", "inch", "inches", `"`, "″", "”":
		return 25.4, true
	}
	return 0, false
}

// ParseSize reads the printed size of a picture; an empty one is the zero
// Size, which leaves it open.
//
// It takes full, double, half and quarter with or without "page", spread for
// double, 1/2 and 1/4 (also as "02-Jan" and "04-Jan", where a spreadsheet took
// them for dates), and width by height in mm, cm or inches: "120x80 mm",
// "12 x 8 cm", `4.7" x 3.1"`. Figures without a unit are millimetres where both
// are 25 or more; smaller ones may be anything and are refused. The error is
// a *ValueError.
func ParseSize(s string) (Size, error) {
	t := strings.ToLower(Tidy(s))
	if isBlank(t) || key(t) == "any" {
		return Size{}, nil
	}
	if a, b, ok := turnedDate(t); ok && a == 1 && (b == 2 || b == 4) {
		if b == 2 {
			return Size{Kind: HalfPage}, nil
		}
		return Size{Kind: Quarter}, nil
	}
	if k, ok := find(sizeWords, t); ok {
		return Size{Kind: k}, nil
	}
	m := measured.FindStringSubmatch(t)
	if m == nil {
		return Size{}, unknownWord(sizeWords, s, "a known size", knownSizes)
	}
	// The expression lets only plain decimals through: ParseFloat can't fail.
	w, _ := strconv.ParseFloat(strings.ReplaceAll(m[1], ",", "."), 64)
	h, _ := strconv.ParseFloat(strings.ReplaceAll(m[3], ",", "."), 64)
	first, second := m[2], m[4]
	if first == "" {
		first = second
	}
	switch {
	case first == "" && w >= 25 && h >= 25:
		first, second = "mm", "mm"
	case second == "" && first == "":
		return Size{}, &ValueError{s, "has no unit", "write mm, cm or in, as in 120x80 mm"}
	case second == "":
		second = first // 120 mm x 80
	}
	unitW, okW := unitOf(first)
	unitH, okH := unitOf(second)
	if !okW || !okH {
		return Size{}, &ValueError{s, "has an unknown unit", "write mm, cm or in, as in 120x80 mm"}
	}
	return sizeOf(s, w*unitW, h*unitH)
}

func sizeOf(written string, w, h float64) (Size, error) {
	// Tenths of a micrometre are noise of the inch.
	size := Size{Kind: Measured, Width: math.Round(w*1e4) / 1e4, Height: math.Round(h*1e4) / 1e4}
	if says, want := size.unsound(); says != "" {
		return Size{}, &ValueError{written, says, want}
	}
	return size, nil
}

// String gives the size as a plan writes it: "full", "120x80 mm", "" for none.
func (s Size) String() string {
	if s.Kind != Measured {
		return string(s.Kind)
	}
	return millimetres(s.Width) + "x" + millimetres(s.Height) + " mm"
}

// unsound says what is wrong with a size whatever the book is; "" is nothing.
func (s Size) unsound() (says, want string) {
	switch s.Kind {
	case "", FullPage, DoublePage, HalfPage, Quarter:
		return "", ""
	case Measured:
		for _, side := range []float64{s.Width, s.Height} {
			if !(side >= smallestSide && side <= largestSide) {
				return fmt.Sprintf("has a side of %s mm", millimetres(side)),
					fmt.Sprintf("a side of a picture is %d to %d mm: is the unit right?", smallestSide, largestSide)
			}
		}
		return "", ""
	}
	return "is not a known size", "write one of " + knownSizes
}

// millimetres prints up to four decimals and no more than there are.
func millimetres(x float64) string { return strconv.FormatFloat(math.Round(x*1e4)/1e4, 'f', -1, 64) }
