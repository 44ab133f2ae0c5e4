package plan

import (
	"fmt"
	"regexp"
	"slices"
	"strings"
)

// Prop is a prop or surface as a plan writes it: a name, and in brackets
// behind it what else is to be known of it.
type Prop struct {
	Name     string
	Again    string // why it may be seen again though another picture has it; "" it may not
	Borrowed bool
	From     string // whom it is borrowed from; "" not written
	Due      Day    // when it must be back; zero not written
}

var (
	inBrackets = regexp.MustCompile(`[(\[]([^()\[\]]*)[)\]]`)
	againWord  = regexp.MustCompile(`(?i)^(?:again|repeats?|repeated|on purpose|may repeat)(?:\s*[:=-]\s*(.*)|\s+(?:because|since|as|for)\s+(.*))?$`)
	lentWord   = regexp.MustCompile(`(?i)^(?:borrowed|on loan|loan|lent|hired|rented|rental)(?:\s+(?:from|by|of)\s*:?\s*(.*))?$`)
	dueWord    = regexp.MustCompile(`(?i)^(?:due(?: back)?|back(?: by| on)?|returns?(?: by| on)?|until|to be back(?: by| on)?)(?:\s*[:=]\s*|\s+)(?:by |on )?(.+)$`)
)

const propWant = "write it in brackets behind the name: (again: the same bowl runs through the soups), or (borrowed from Una, due 2026-03-09)"

// ParseProp reads a prop or surface: "grey bowl", "grey bowl (again: it runs
// through the soups)", "oak board (borrowed from Una, due 2026-03-09)". For
// again repeat, repeated and on purpose are taken; for borrowed on loan, lent,
// hired and rented; for due back, until and return by. Square brackets do as
// well, and brackets that say none of this are part of the name. The error is a
// *ValueError; what could be read is returned beside it.
func ParseProp(s string) (Prop, error) {
	var p Prop
	var fault error
	p.Name = Tidy(inBrackets.ReplaceAllStringFunc(s, func(all string) string {
		clauses := strings.FieldsFunc(all[1:len(all)-1], func(r rune) bool { return r == ',' || r == ';' })
		var rest []string
		known := false
		for i := 0; i < len(clauses); i++ {
			c := Tidy(clauses[i])
			if m := againWord.FindStringSubmatch(c); m != nil {
				known = true
				// A reason may hold commas.
				p.Again = Tidy(m[1] + m[2] + strings.Join(append([]string{""}, clauses[i+1:]...), ","))
				if p.Again == "" {
					fault = &ValueError{s, "may be seen again, and there is no reason", propWant}
				}
				break
			} else if m := lentWord.FindStringSubmatch(c); m != nil {
				known, p.Borrowed, p.From = true, true, Tidy(m[1])
			} else if m := dueWord.FindStringSubmatch(c); m != nil && dueDay.MatchString(m[1]) {
				known, p.Borrowed = true, true
				day, err := ParseDay(m[1])
				if err != nil && i+1 < len(clauses) { // "March 4th, 2026"
					if d, joined := ParseDay(m[1] + ", " + clauses[i+1]); joined == nil {
						day, err = d, nil
						i++
					}
				}
				if err != nil {
					v := err.(*ValueError) // ParseDay gives no other
					fault = &ValueError{s, fmt.Sprintf("is due back, but %q %s", m[1], v.Says), v.Want}
				}
				p.Due = day
			} else {
				rest = append(rest, c)
			}
		}
		switch {
		case !known:
			return all
		case len(rest) == 0:
			return " "
		}
		return " (" + strings.Join(rest, ", ") + ") "
	}))
	return p, fault
}

// dueDay is what a day may begin with: a bowl (back left) is due nowhere.
var dueDay = regexp.MustCompile(`(?i)\d|^(?:mon|tue|wed|thu|fri|sat|sun|tomorrow|today)`)

// ParseProps reads a list of props separated by ; or a new line, and by
// commas where neither stands in it: "bowl, grey; linen" is two props and
// "grey bowl, linen" is two as well. Nothing is cut within brackets. A prop
// named twice in one row counts once. ParseProp reads each.
func ParseProps(s string) []string {
	parts := cutOutside(s, ";\r\n")
	if len(parts) == 1 {
		parts = cutOutside(s, ",")
	}
	var props []string
	for _, part := range parts {
		p := Tidy(part)
		if isBlank(p) || key(p) == "none" || slices.ContainsFunc(props, func(o string) bool { return key(o) == key(p) }) {
			continue
		}
		props = append(props, p)
	}
	return props
}

// cutOutside cuts at any of the signs that do not stand in brackets; brackets
// that don't pair up are none.
func cutOutside(s, signs string) []string {
	inside := make([]bool, len(s))
	for _, m := range inBrackets.FindAllStringIndex(s, -1) {
		for i := m[0]; i < m[1]; i++ {
			inside[i] = true
		}
	}
	var parts []string
	from := 0
	for i := range len(s) {
		if !inside[i] && strings.IndexByte(signs, s[i]) >= 0 {
			parts = append(parts, s[from:i])
			from = i + 1
		}
	}
	return append(parts, s[from:])
}
