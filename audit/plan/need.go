package plan

import (
	"errors"
	"fmt"
	"regexp"
	"slices"
	"strconv"
	"strings"
)

const (
	knownNeeds  = "hero, overhead, half, palette, portrait, landscape, detail, process, opener, options N"
	mostOptions = 99
)

// DefaultNeeds are the needs of a recipe whose row names none: hero,
// overhead, half and palette. The caller owns the slice.
func DefaultNeeds() []Need {
	return []Need{{Kind: Hero}, {Kind: NeedOverhead}, {Kind: Half}, {Kind: Palette}}
}

var needWords = []word[NeedKind]{
	{"hero", Hero}, {"main", Hero}, {"beauty", Hero}, {"finished dish", Hero},
	{"overhead", NeedOverhead}, {"over head", NeedOverhead}, {"top down", NeedOverhead}, {"flat lay", NeedOverhead},
	{"bird's eye", NeedOverhead}, {"from above", NeedOverhead},
	{"half", Half}, {"half frame", Half}, {"half crop", Half}, {"halves", Half},
	{"palette", Palette}, {"colours", Palette}, {"colors", Palette},
	{"portrait", NeedPortrait}, {"upright", NeedPortrait}, {"vertical", NeedPortrait},
	{"landscape", NeedLandscape}, {"horizontal", NeedLandscape},
	{"detail", Detail}, {"details", Detail}, {"close up", Detail},
	{"process", Process}, {"step", Process}, {"steps", Process}, {"making", Process},
	{"opener", Opener}, {"chapter opener", Opener}, {"opening", Opener},
	{"options", Options}, {"alternatives", Options}, {"variants", Options},
}

// String gives the need as a plan writes it: "hero", "options 3".
func (n Need) String() string {
	if n.Kind == Options {
		return fmt.Sprintf("options %d", n.N)
	}
	return string(n.Kind)
}

// MarshalText gives what String gives.
func (n Need) MarshalText() ([]byte, error) { return []byte(n.String()), nil }

// UnmarshalText reads what ParseNeed reads.
func (n *Need) UnmarshalText(b []byte) error {
	got, err := ParseNeed(string(b))
	if err == nil {
		*n = got
	}
	return err
}

// unsound says what is wrong with a need; "" is nothing.
func (n Need) unsound() (says, want string) {
	switch n.Kind {
	case Hero, NeedOverhead, Half, Palette, NeedPortrait, NeedLandscape, Detail, Process, Opener:
		return "", ""
	case Options:
		if n.N >= 2 && n.N <= mostOptions {
			return "", ""
		}
		return "does not say how many set-ups", fmt.Sprintf("write options and a number from 2 to %d, as in options 3", mostOptions)
	}
	return "is not a known need", "write one of " + knownNeeds
}

var (
	needJoint     = regexp.MustCompile(`[;,/|+&\r\n]|\s+and\s+`)
	numberThen    = regexp.MustCompile(`^(\d{1,9}) ?[x×]? ?([a-z][a-z -]*)$`)
	wordThen      = regexp.MustCompile(`^([a-z][a-z -]*?) ?[x×:=(]? ?(\d{1,9})\)?$`)
	optionsInWord = map[string]string{"two": "2", "three": "3", "four": "4", "five": "5", "six": "6"}
)

// ParseNeed reads one need. The error is a *ValueError.
//
// Taken as hero: main, beauty, finished dish; as overhead: top down, flat
// lay, bird's eye, from above; as detail: close up; as process: steps, making;
// as opener: chapter opener; as portrait: upright, vertical; as landscape:
// horizontal; "3 options", "options x3" and "three options" as options 3.
func ParseNeed(s string) (Need, error) {
	t := strings.ToLower(Tidy(s))
	name, number := t, ""
	if m := numberThen.FindStringSubmatch(t); m != nil {
		name, number = m[2], m[1]
	} else if m := wordThen.FindStringSubmatch(t); m != nil {
		name, number = m[1], m[2]
	} else if first, rest, ok := strings.Cut(t, " "); ok && optionsInWord[first] != "" {
		name, number = rest, optionsInWord[first]
	}
	kind, ok := find(needWords, name)
	if !ok {
		return Need{}, unknownWord(needWords, s, "a known need", knownNeeds)
	}
	n := Need{Kind: kind}
	if kind == Options {
		n.N, _ = strconv.Atoi(number)
	} else if number != "" && number != "1" {
		return Need{}, &ValueError{s, "counts a need that is not counted",
			fmt.Sprintf("write %s, and options %s for that many set-ups", kind, number)}
	}
	if says, want := n.unsound(); says != "" {
		return Need{}, &ValueError{s, says, want}
	}
	return n, nil
}

// ParseNeeds reads the needs of a recipe, separated by ; or , or / or a new
// line. An empty list means DefaultNeeds, and so does "usual" in a list.
//
// The error joins one *ValueError a fault; errors.Join's Unwrap() []error
// gives them apart. What could be read is returned beside it. Where a word
// could not be read, DefaultNeeds are added: a slip of the pen must never
// make a set look finished.
func ParseNeeds(s string) ([]Need, error) {
	var needs []Need
	var faults []error
	add := func(n Need) bool {
		if slices.ContainsFunc(needs, func(o Need) bool { return o.Kind == n.Kind }) {
			return false
		}
		needs = append(needs, n)
		return true
	}
	for _, part := range needJoint.Split(s, -1) {
		if isBlank(Tidy(part)) {
			continue
		}
		switch key(part) {
		case "usual", "theusual", "default", "standard":
			for _, n := range DefaultNeeds() {
				add(n)
			}
			continue
		case "none", "nothing":
			faults = append(faults, &ValueError{Tidy(part), "asks for no picture",
				"take the row out, or leave the cell empty for hero; overhead; half; palette"})
			continue
		}
		n, err := ParseNeed(part)
		if err != nil {
			faults = append(faults, err)
			continue
		}
		if !add(n) {
			faults = append(faults, &ValueError{Tidy(part), "is named twice", "name each need once"})
		}
	}
	unread := slices.ContainsFunc(faults, func(err error) bool {
		var v *ValueError
		return errors.As(err, &v) && v.Says != "is named twice"
	})
	if len(needs) == 0 || unread {
		for _, n := range DefaultNeeds() {
			add(n)
		}
	}
	return needs, errors.Join(faults...)
}

// FormatNeeds prints needs as a plan writes them: "hero; options 3".
func FormatNeeds(needs []Need) string {
	parts := make([]string, len(needs))
	for i, n := range needs {
		parts[i] = n.String()
	}
	return strings.Join(parts, "; ")
}
