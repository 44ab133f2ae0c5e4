package plan

// Lettering is where on its picture a page sets text: the design wants room
// there.
type Lettering string

// The edges along which text may be set; the zero value is none.
const (
	LetteringTop    Lettering = "top"
	LetteringBottom Lettering = "bottom"
	LetteringLeft   Lettering = "left"
	LetteringRight  Lettering = "right"
	LetteringAny    Lettering = "any" // along one of them, whichever has room
)

const knownLettering = "top, bottom, left, right, any, or nothing"

var letteringWords = []word[Lettering]{
	{"top", LetteringTop}, {"above", LetteringTop}, {"head", LetteringTop}, {"upper", LetteringTop},
	{"bottom", LetteringBottom}, {"below", LetteringBottom}, {"foot", LetteringBottom}, {"lower", LetteringBottom},
	{"left", LetteringLeft}, {"right", LetteringRight},
	{"any", LetteringAny}, {"anywhere", LetteringAny}, {"yes", LetteringAny}, {"room", LetteringAny},
	{"none", ""}, {"no", ""},
}

// ParseLettering reads where text is to be set on a picture; an empty cell or a
// dash is none. The error is a *ValueError.
func ParseLettering(s string) (Lettering, error) {
	t := Tidy(s)
	if isBlank(t) {
		return "", nil
	}
	if l, ok := find(letteringWords, t); ok {
		return l, nil
	}
	return "", unknownWord(letteringWords, s, "an edge of the picture", knownLettering)
}
