package audit

import (
	"regexp"
	"strings"
	"unicode"
)

// A word of a name is compared in a folded form: lower case, without accents,
// without a plural s.

// folded holds what accented Latin letters are compared as. Letters that
// carry their accent as a mark of its own need no entry: marks are dropped.
var folded = func() map[rune]string {
	m := map[rune]string{
		'æ': "ae", 'ø': "o", 'œ': "oe", 'ß': "ss", 'ð': "d", 'þ': "th", 'đ': "d", 'ħ': "h",
		'ı': "i", 'ĳ': "ij", 'ł': "l", 'ŀ': "l", 'ŋ': "n", 'ŧ': "t", 'ſ': "s", 'ǿ': "o", 'ǽ': "ae",
	}
	for base, accented := range map[string]string{
		"a": "àáâãäåāăąǎǻạảấầẩẫậắằẳẵặ", "c": "çćĉċč", "d": "ď", "e": "èéêëēĕėęěẹẻẽếềểễệ",
		"g": "ĝğġģǧ", "h": "ĥ", "i": "ìíîïĩīĭįǐịỉ", "j": "ĵ", "k": "ķǩ", "l": "ĺļľ",
		"n": "ñńņňŉ", "o": "òóôõöōŏőǒơọỏốồổỗộớờởỡợ", "r": "ŕŗř", "s": "śŝşšș", "t": "ţťț",
		"u": "ùúûüũūŭůűųǔưụủứừửữự", "w": "ŵẁẃẅ", "y": "ýÿŷỳỵỷỹ", "z": "źżž",
	} {
		for _, r := range accented {
			m[r] = base
		}
	}
	return m
}()

// words splits a name into folded words at whatever is neither letter nor
// digit, and where a small letter or a digit is followed by a capital that
// begins a word ("RyeBread", "R07Hero").
func words(name string) []string {
	var all []string
	var word strings.Builder
	end := func() {
		if word.Len() > 0 {
			all = append(all, singular(word.String()))
			word.Reset()
		}
	}
	runes := []rune(name)
	for i, r := range runes {
		switch {
		case unicode.Is(unicode.Mn, r):
			continue
		case r == '\'' || r == '’': // cook's and cooks are one word
			continue
		case !unicode.IsLetter(r) && !unicode.IsDigit(r):
			end()
			continue
		}
		if i > 0 && unicode.IsUpper(r) && i+1 < len(runes) && unicode.IsLower(runes[i+1]) &&
			(unicode.IsLower(runes[i-1]) || unicode.IsDigit(runes[i-1])) {
			end()
		}
		low := unicode.ToLower(r)
		if f, ok := folded[low]; ok {
			word.WriteString(f)
		} else {
			word.WriteRune(low)
		}
	}
	end()
	return all
}

// singular takes a plural's s off an English word. Both sides of every
// comparison go through it, so a word that it cuts wrongly still meets itself.
func singular(w string) string {
	switch {
	case len(w) <= 3 || strings.HasSuffix(w, "ss") || strings.HasSuffix(w, "us") || strings.HasSuffix(w, "is"):
		return w
	case strings.HasSuffix(w, "ies") && len(w) > 4:
		return w[:len(w)-3] + "y"
	case strings.HasSuffix(w, "oes"), strings.HasSuffix(w, "ches"), strings.HasSuffix(w, "shes"),
		strings.HasSuffix(w, "sses"), strings.HasSuffix(w, "xes"):
		return w[:len(w)-2]
	case strings.HasSuffix(w, "s"):
		return w[:len(w)-1]
	}
	return w
}

// plain returns a word without the zeros that lead its numbers, so that R7
// and R07 can meet.
func plain(w string) string {
	var b strings.Builder
	lead := true
	for i := range len(w) {
		if w[i] == '0' && lead && i+1 < len(w) && isDigit(w[i+1]) {
			continue
		}
		lead = !isDigit(w[i])
		b.WriteByte(w[i])
	}
	return b.String()
}

func isDigit(c byte) bool { return '0' <= c && c <= '9' }

// number reports whether a word is of digits alone.
func number(w string) bool {
	for i := range len(w) {
		if !isDigit(w[i]) {
			return false
		}
	}
	return w != ""
}

// idle are words of a title that say nothing of the dish.
var idle = map[string]bool{
	"and": true, "the": true, "with": true, "of": true, "in": true, "on": true, "for": true, "to": true, "from": true,
	"an": true, "or": true, "at": true, "by": true, "our": true, "my": true, "no": true, "it": true,
}

// telling returns the words that can tell one dish from another, each once,
// in their order: of two letters at least, not idle, no mere numbers, and
// without the number of a row that hangs on a word ("trout2").
func telling(ws []string) []string {
	var all []string
	seen := map[string]bool{}
	for _, w := range ws {
		if cut := strings.TrimRight(w, "0123456789"); len(cut) >= 3 {
			w = singular(cut)
		}
		if len(w) < 2 || number(w) || idle[w] || seen[w] {
			continue
		}
		seen[w] = true
		all = append(all, w)
	}
	return all
}

// What cameras, phones and cards call things. The DCF standard (JEITA CP-3461)
// gives a file four letters, digits or underscores and four digits, and a
// folder three digits and five of them; phones write a word, a date and a time.
var (
	cameraFile   = regexp.MustCompile(`(?i)^([a-z0-9_]{4})\d{4}([-_ (~].*)?$`)
	cameraFolder = regexp.MustCompile(`(?i)^(\d{3}[a-z0-9_]{5}|dcim|misc|private)$`)
	phoneFile    = regexp.MustCompile(`(?i)^(img|dsc|dscf|dscn|mvi|vid|pxl|pano|hdr|image|photo|picture|screenshot)?[-_ ]?e?\d+([-_ .~(]*\d+\)?)*$`)
	ownPrefix    = regexp.MustCompile(`(?i)^([a-z]\d{2}|[a-z]{2}\d|\d{2}[a-z])_$`)
)

// written returns the part of a file's stem that a person wrote: nothing of
// DSC_0412, all of rye-bread. A body that was told to call its files R07_0412
// says R07, and a stem that a person lengthened says what was added.
func written(stem string) string {
	m := cameraFile.FindStringSubmatch(stem)
	switch {
	case m != nil && ownPrefix.MatchString(m[1]):
		return m[1][:3] + " " + m[2]
	case m != nil:
		return m[2]
	case phoneFile.MatchString(stem):
		return ""
	}
	return stem
}
