package delivery

import (
	"fmt"
	"slices"
	"strconv"
	"strings"

	"coverplate/ingest/catalogue"
)

// TemplateError is a template that can't be read.
type TemplateError struct{ Template, Says, Want string }

func (e *TemplateError) Error() string { return fmt.Sprintf("%q %s", e.Template, e.Says) }

// NamesError is names that can't be given. Nothing is written then.
type NamesError struct{ Says []string }

func (e *NamesError) Error() string { return strings.Join(e.Says, "\n") }

// The fields of templates.
var (
	wordFields = []string{"page", "pages", "recipe", "title", "chapter", "need", "book", "frame"}
	nameFields = append(slices.Clone(wordFields), "ext")
)

// field is a part of a template: text, or a field.
type field struct {
	text string
	name string // "" text
	wide int    // least figures of a number; 0 as it is
}

// parse reads a template: text with {field} or, for a page, {field:03}.
func parse(s string, known []string) ([]field, error) {
	fault := func(says, want string) ([]field, error) { return nil, &TemplateError{s, says, want} }
	var out []field
	for rest := s; rest != ""; {
		open := strings.IndexAny(rest, "{}")
		if open < 0 {
			return append(out, field{text: rest}), nil
		}
		if open > 0 {
			out = append(out, field{text: rest[:open]})
		}
		shut := strings.IndexByte(rest[open:], '}')
		if rest[open] == '}' || shut < 0 {
			return fault("has a brace that stands alone", "write a field as {page}")
		}
		name, form, formed := strings.Cut(rest[open+1:open+shut], ":")
		f := field{name: name}
		if !slices.Contains(known, name) {
			return fault(fmt.Sprintf("names {%s}, which is no field", name), "the fields are {"+strings.Join(known, "} {")+"}")
		}
		if formed {
			n, err := strconv.Atoi(form)
			if name != "page" || err != nil || form[0] != '0' || n < 1 || n > 9 {
				return fault(fmt.Sprintf("has {%s:%s}, a form that is not known", name, form), "only {page} has a form: {page:03} is 007")
			}
			f.wide = n
		}
		out = append(out, f)
		rest = rest[open+shut+1:]
	}
	return out, nil
}

// parseNames reads a template of names, which ends in the file's own ending.
func parseNames(s string) ([]field, error) {
	all, err := parse(s, nameFields)
	if err != nil {
		return nil, err
	}
	n := len(all)
	ends := n > 2 && all[n-1].name == "ext" && all[n-2].name == "" && strings.HasSuffix(all[n-2].text, ".")
	if ends {
		for _, f := range all[:n-1] {
			ends = ends && f.name != "ext"
		}
	}
	switch {
	case !ends:
		return nil, &TemplateError{s, "does not end in .{ext} alone", "end it so, as in " + DefaultNames}
	case strings.ContainsAny(s, `/\`):
		return nil, &TemplateError{s, "names a folder", "all pictures lie in one folder"}
	}
	all[n-2].text = strings.TrimSuffix(all[n-2].text, ".")
	return all[:n-1], nil
}

// value is what a field holds of a piece.
func (m *maker) value(f field, p Piece) string {
	switch f.name {
	case "page":
		if p.Recipe.Pages.IsZero() {
			return ""
		}
		return fmt.Sprintf("%0*d", f.wide, p.Recipe.Pages.First)
	case "pages":
		return p.Recipe.Pages.String()
	case "recipe":
		return p.Recipe.ID
	case "title":
		return p.Recipe.Title
	case "chapter":
		return p.Recipe.Chapter
	case "need":
		return p.Need
	case "book":
		return m.shoot.Book.Title
	case "frame":
		name := lead(p.Frame)
		if at := strings.LastIndexByte(name, '.'); at > 0 {
			name = name[:at]
		}
		return name
	}
	return f.text
}

// fill fills a template of words, which was read before.
func (m *maker) fill(template string, p Piece) string {
	all, err := parse(template, wordFields)
	if err != nil {
		return ""
	}
	var b strings.Builder
	for _, f := range all {
		b.WriteString(m.value(f, p))
	}
	return b.String()
}

// name gives every piece its name. Two files of one name, case ignored, are
// refused, and so is a recipe that lacks what names are made of.
func (m *maker) name(template []field, safe func(stem, ending string) string) error {
	var says []string
	lacks := map[string]bool{}
	holders := map[string]Piece{}
	clash := func(name string, p Piece) {
		before, taken := holders[catalogue.Fold(name)]
		if !taken {
			holders[catalogue.Fold(name)] = p
			return
		}
		if name == p.Sidecar && before.Sidecar == name && before.Frame.ID == p.Frame.ID && before.Recipe.ID == p.Recipe.ID && before.Need == p.Need {
			return // picture and raw share it
		}
		line := fmt.Sprintf("%s: %s and %s would both have this name", name, m.what(before), m.what(p))
		if !slices.Contains(says, line) {
			says = append(says, line)
		}
	}
	for i := range m.out.Pieces {
		p := &m.out.Pieces[i]
		var stem strings.Builder
		for _, f := range template {
			v := m.value(f, *p)
			if f.name != "" && strings.TrimSpace(v) == "" && !lacks[p.Recipe.ID+f.name] {
				lacks[p.Recipe.ID+f.name] = true
				says = append(says, fmt.Sprintf("%s has no %s, which the names are made of: give it one in the plan, or take {%s} out of the names", p.Recipe.ID, f.name, f.name))
			}
			stem.WriteString(v)
		}
		ending := ""
		if at := strings.LastIndexByte(p.File.Name, '.'); at >= 0 {
			ending = strings.ToLower(p.File.Name[at:])
		}
		p.Name, p.Sidecar = safe(stem.String(), ending), safe(stem.String(), ".xmp")
	}
	if len(says) == 0 {
		for _, p := range m.out.Pieces {
			clash(p.Name, p)
			clash(p.Sidecar, p)
		}
	}
	if len(says) > 0 {
		return &NamesError{says}
	}
	return nil
}

// what names a piece for people.
func (m *maker) what(p Piece) string {
	return fmt.Sprintf("%s %s (%s)", p.Recipe.ID, p.Need, p.File.Name)
}
