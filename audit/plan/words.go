package plan

import (
	"strings"
	"unicode"
)

// Tidy trims a cell, makes every run of white space one space, and drops what
// can't be seen: control characters, zero-width ones, soft hyphens.
func Tidy(s string) string {
	s = strings.Map(func(r rune) rune {
		switch {
		case unicode.IsSpace(r):
			return ' '
		case r == '\u200c' || r == '\u200d':
			return r // joiners are part of how some scripts spell
		case unicode.In(r, unicode.Cc, unicode.Cf):
			return -1
		}
		return r
	}, s)
	return strings.Join(strings.Fields(s), " ")
}

// plainDashes makes every dash and minus a hyphen.
func plainDashes(s string) string {
	return strings.Map(func(r rune) rune {
		if unicode.Is(unicode.Pd, r) || r == '−' {
			return '-'
		}
		return r
	}, s)
}

// key folds a word so that "Top-Down", "top down" and "topdown" are one: only
// letters, figures and the signs that carry meaning stay, in lower case.
func key(s string) string {
	return strings.Map(func(r rune) rune {
		switch {
		case unicode.IsLetter(r), unicode.IsNumber(r), r == '/', r == ':':
			return unicode.ToLower(r)
		}
		return -1
	}, s)
}

// word is one spelling of a value.
type word[T any] struct {
	spelling string
	means    T
}

// find looks s up. Words that say only that a picture is a picture may follow:
// "overhead shot", "low angle", "half page".
func find[T any](words []word[T], s string) (T, bool) {
	k := key(s)
	for {
		for _, w := range words {
			if k != "" && k == key(w.spelling) {
				return w.means, true
			}
		}
		short := k
		for _, tail := range []string{"picture", "image", "photo", "shot", "view", "angle", "page", "option"} {
			short = strings.TrimSuffix(short, tail)
		}
		if short == k {
			var none T
			return none, false
		}
		k = short
	}
}

// nearest gives the known spelling that s is most likely a slip of, or "".
// One slip is allowed in a short word and two from six letters on.
func nearest[T any](words []word[T], s string) string {
	k := []rune(key(s))
	if len(k) < 3 || len(k) > 40 {
		return ""
	}
	best, least := "", 2
	if len(k) >= 6 {
		least = 3
	}
	for _, w := range words {
		if n := slips(k, []rune(key(w.spelling))); n < least {
			best, least = w.spelling, n
		}
	}
	return best
}

// Slips counts the letters to insert, drop, change, or swap with their
// neighbour to make one word of another, in folded spelling: the optimal
// string alignment distance.
func Slips(a, b string) int { return slips([]rune(key(a)), []rune(key(b))) }

func slips(a, b []rune) int {
	before, last := make([]int, len(b)+1), make([]int, len(b)+1)
	for j := range last {
		last[j] = j
	}
	for i := range a {
		row := make([]int, len(b)+1)
		row[0] = i + 1
		for j := range b {
			change := last[j]
			if a[i] != b[j] {
				change++
			}
			row[j+1] = min(change, last[j+1]+1, row[j]+1)
			if i > 0 && j > 0 && a[i] == b[j-1] && a[i-1] == b[j] {
				row[j+1] = min(row[j+1], before[j-1]+1)
			}
		}
		before, last = last, row
	}
	return last[len(b)]
}

// unknownWord is the error for a value that is none of the known ones.
func unknownWord[T any](words []word[T], written, noun, known string) *ValueError {
	e := &ValueError{Value: written, Says: "is not " + noun, Want: "write one of " + known}
	if near := nearest(words, written); near != "" {
		e.Want = "did you mean " + near + "? Known: " + known
	}
	return e
}
