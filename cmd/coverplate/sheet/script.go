package sheet

import (
	"unicode"

	"golang.org/x/text/unicode/bidi"
)

// shapes are the joined shapes of the Arabic letters in U+FE80 … U+FEF4, in
// the order of that block: with 4 shapes (alone, last, first, between) a letter
// joins to both sides, with 2 to the one before it only, with 1 to none (The
// Unicode Standard, block Arabic Presentation Forms-B).
var shapes = []struct {
	letter rune
	n      int
}{
	{0x621, 1}, {0x622, 2}, {0x623, 2}, {0x624, 2}, {0x625, 2}, {0x626, 4}, {0x627, 2}, {0x628, 4}, {0x629, 2},
	{0x62A, 4}, {0x62B, 4}, {0x62C, 4}, {0x62D, 4}, {0x62E, 4}, {0x62F, 2}, {0x630, 2}, {0x631, 2}, {0x632, 2},
	{0x633, 4}, {0x634, 4}, {0x635, 4}, {0x636, 4}, {0x637, 4}, {0x638, 4}, {0x639, 4}, {0x63A, 4},
	{0x641, 4}, {0x642, 4}, {0x643, 4}, {0x644, 4}, {0x645, 4}, {0x646, 4}, {0x647, 4}, {0x648, 2}, {0x649, 2}, {0x64A, 4},
}

// persian are letters of Presentation Forms-A, with where their shapes begin.
var persian = map[rune]struct {
	first rune
	n     int
}{
	0x67E: {0xFB56, 4}, 0x686: {0xFB7A, 4}, 0x688: {0xFB88, 2}, 0x698: {0xFB8A, 2}, 0x679: {0xFB66, 4}, 0x691: {0xFB8C, 2},
	0x6A9: {0xFB8E, 4}, 0x6AF: {0xFB92, 4}, 0x6BA: {0xFB9E, 2}, 0x6BE: {0xFBAA, 4}, 0x6C1: {0xFBA6, 4}, 0x6CC: {0xFBFC, 4}, 0x6D2: {0xFBAE, 2},
}

// lamAlef are the alefs that lam is written together with, and that shape alone;
// the next is the one that joins.
var lamAlef = map[rune]rune{0x622: 0xFEF5, 0x623: 0xFEF7, 0x625: 0xFEF9, 0x627: 0xFEFB}

const (
	lam    = 0x644
	tatwil = 0x640 // the stroke that lengthens a word: it joins to both sides
)

// shapesOf are where the shapes of a letter begin and how many it has; 0 where
// it is none that joins.
func shapesOf(r rune) (first rune, n int) {
	if p, ok := persian[r]; ok {
		return p.first, p.n
	}
	first = 0xFE80
	for _, s := range shapes {
		if s.letter == r {
			return first, s.n
		}
		first += rune(s.n)
	}
	return 0, 0
}

// joined is text whose Arabic letters are those shapes that they have beside
// their neighbours. Marks above and below are passed over.
func joined(text string) string {
	in := []rune(text)
	near := func(i, step int) rune {
		for i += step; i >= 0 && i < len(in); i += step {
			if !unicode.Is(unicode.Mn, in[i]) {
				return in[i]
			}
		}
		return 0
	}
	joinsOn := func(r rune) bool { _, n := shapesOf(r); return n == 4 || r == tatwil }   // to the next
	joinsBack := func(r rune) bool { _, n := shapesOf(r); return n >= 2 || r == tatwil } // to the one before
	out := make([]rune, 0, len(in))
	for i := 0; i < len(in); i++ {
		r := in[i]
		first, n := shapesOf(r)
		if n == 0 {
			out = append(out, r)
			continue
		}
		before := joinsOn(near(i, -1))
		if r == lam && i+1 < len(in) {
			if whole, ok := lamAlef[in[i+1]]; ok {
				if before {
					whole++
				}
				out = append(out, whole)
				i++
				continue
			}
		}
		after := n == 4 && joinsBack(near(i, 1))
		switch {
		case before && after:
			first += 3
		case after:
			first += 2
		case before && n >= 2:
			first++
		}
		out = append(out, first)
	}
	return string(out)
}

// unjoined tells whether r is an Arabic letter that joined knows no shapes of.
func unjoined(r rune) bool {
	return unicode.Is(unicode.Arabic, r) && unicode.Is(unicode.Lo, r) && r < 0x800
}

// rightToLeft tells whether the first letter of text is written from the right
// (UAX #9, rules P2 and P3).
func rightToLeft(text string) bool {
	for _, r := range text {
		switch classOf(r) {
		case bidi.L:
			return false
		case bidi.R, bidi.AL:
			return true
		}
	}
	return false
}

func classOf(r rune) bidi.Class {
	p, _ := bidi.LookupRune(r)
	return p.Class()
}

// visual is a line in the order in which it is seen from left to right: UAX #9
// without its embeddings, overrides and isolates, which printable has taken
// out. Numbers keep their digits' order, brackets turn round.
func visual(line string, rightward bool) string {
	in := []rune(line)
	base := 0
	if rightward {
		base = 1
	}
	levels := make([]int, len(in))
	// Strong letters and numbers first; −1 is yet to be told.
	strong := base // the last strong direction, 0 or 1
	for i, r := range in {
		switch c := classOf(r); {
		case c == bidi.L:
			levels[i], strong = base*2, 0
		case c == bidi.R || c == bidi.AL:
			levels[i], strong = 1, 1
		case c == bidi.EN || c == bidi.AN:
			levels[i] = base * 2
			if c == bidi.AN || strong == 1 {
				levels[i] = 2
			}
		case c == bidi.NSM && i > 0:
			levels[i] = levels[i-1]
		case (c == bidi.CS || c == bidi.ES) && i > 0 && i+1 < len(in) && classOf(in[i-1]) == bidi.EN && classOf(in[i+1]) == bidi.EN:
			levels[i] = levels[i-1] // 3.5, 10-12
		case (c == bidi.ET) && i > 0 && classOf(in[i-1]) == bidi.EN:
			levels[i] = levels[i-1] // 20 %
		default:
			levels[i] = -1
		}
	}
	// What stands between letters of one direction has theirs, else the line's.
	for i := 0; i < len(in); {
		if levels[i] >= 0 {
			i++
			continue
		}
		end := i
		for end < len(in) && levels[end] < 0 {
			end++
		}
		level := base
		if i > 0 && end < len(in) {
			// A number in a text from the right counts as from the right (rule N1).
			left := levels[i-1] == 1 || levels[i-1] == 2 && isNumber(in[i-1])
			right := levels[end] == 1 || levels[end] == 2 && isNumber(in[end])
			switch {
			case left && right:
				level = 1
			case !left && !right:
				level = base * 2
			}
		}
		for ; i < end; i++ {
			levels[i] = level
		}
	}
	most := 0
	for _, l := range levels {
		most = max(most, l)
	}
	order := make([]int, len(in))
	for i := range order {
		order[i] = i
	}
	for level := most; level >= 1; level-- { // rule L2
		for i := 0; i < len(in); i++ {
			end := i
			for end < len(in) && levels[end] >= level {
				end++
			}
			for a, b := i, end-1; a < b; a, b = a+1, b-1 {
				order[a], order[b] = order[b], order[a]
			}
			i = max(i, end)
		}
	}
	// order was turned by places, levels stay by letters: both hold, since runs
	// of a level lie within those of lower ones.
	out := make([]rune, 0, len(in))
	for _, k := range order {
		r := in[k]
		if levels[k]%2 == 1 {
			r = mirrored(r)
		}
		out = append(out, r)
	}
	return string(out)
}

func isNumber(r rune) bool { c := classOf(r); return c == bidi.EN || c == bidi.AN }

// mirrored is the bracket that turns the other way; other characters are what
// they are.
func mirrored(r rune) rune {
	switch p, _ := bidi.LookupRune(r); {
	case p.IsBracket():
		return []rune(bidi.ReverseString(string(r)))[0]
	case r == '<' || r == '>':
		return '<' + '>' - r
	case r == '«' || r == '»':
		return '«' + '»' - r
	}
	return r
}
