package delivery

import (
	"fmt"
	"slices"
	"strconv"
	"strings"

	"coverplate/audit/crop"
	"coverplate/ingest/catalogue"
)

// Delivered is the state of a row that stands for a file.
const Delivered = "delivered"

// Columns are those of a delivery's list: what is wanting or waived comes
// first, a row each, then a row a file.
func Columns() []string {
	return []string{"state", "recipe", "title", "chapter", "pages", "need", "file", "sidecar", "says",
		"of", "original", "original_sha256", "taken", "width_px", "height_px", "colour_space", "ppi_at_size", "print_box_px", "halves_px",
		"caption", "headline", "keywords", "creator", "credit", "source", "copyright", "usage", "statement", "instructions", "job",
		"people_release", "property_release", "people_releases", "property_releases"}
}

// Rows are the list of a delivery, as Columns has it.
func (d Delivery) Rows() [][]string {
	var out [][]string
	row := func(values map[string]string) {
		var r []string
		for _, c := range Columns() {
			r = append(r, values[c])
		}
		out = append(out, r)
	}
	for _, g := range d.Gaps {
		row(map[string]string{"state": g.State, "recipe": g.Recipe, "title": g.Title, "pages": g.Pages, "need": g.Need, "says": g.Says})
	}
	for _, p := range d.Pieces {
		w := p.Words
		v := map[string]string{"state": Delivered, "recipe": p.Recipe.ID, "title": p.Recipe.Title, "chapter": p.Recipe.Chapter, "pages": p.Recipe.Pages.String(),
			"need": p.Need, "file": p.Name, "sidecar": p.Sidecar, "of": string(p.File.Kind), "original": p.File.Name, "original_sha256": p.File.SHA256,
			"colour_space": p.Frame.ColourSpace, "caption": w.Caption, "headline": w.Headline, "keywords": strings.Join(w.Keywords, "; "),
			"creator": w.Creator, "credit": w.Credit, "source": w.Source, "copyright": w.Copyright, "usage": w.Usage, "statement": w.Statement,
			"instructions": w.Instructions, "job": w.Job, "people_release": w.People, "property_release": w.Property,
			"people_releases": strings.Join(w.PeopleReleases, "; "), "property_releases": strings.Join(w.PropertyReleases, "; ")}
		if p.AsIs {
			v["says"] = "as the camera wrote it: it may hold place, serial numbers and names"
		}
		if !p.Frame.Taken.IsZero() {
			v["taken"] = p.Frame.Taken.Format("2006-01-02T15:04:05") + p.Frame.Offset
		}
		if l := p.Frame.Look; l.Width > 0 {
			v["width_px"], v["height_px"] = strconv.Itoa(l.Width), strconv.Itoa(l.Height)
		}
		if p.PPI > 0 {
			v["ppi_at_size"] = fmt.Sprintf("%.1f", p.PPI)
		}
		var halves []string
		for _, c := range p.Cuts {
			box := fmt.Sprintf("%d,%d,%d,%d", c.Rect.X, c.Rect.Y, c.Rect.Width, c.Rect.Height)
			if c.For == "print" {
				v["print_box_px"] = box
			} else if c.Works != crop.No {
				halves = append(halves, strings.TrimSpace(c.For+" "+box))
			}
		}
		v["halves_px"] = strings.Join(halves, "; ")
		row(v)
	}
	return out
}

// Change is what one row of a list became.
type Change struct {
	Kind string // "new", "withdrawn", "another frame", "renamed", "words", "cut", "gap", "settled"
	Says string
}

// changeKinds are all, in the order in which they are told.
var changeKinds = []string{"another frame", "new", "withdrawn", "renamed", "cut", "words", "settled", "gap"}

// Changes tells what a list says otherwise than an earlier one of the same
// columns; rows without a head. A file is known again by recipe, need and
// whether it is a raw.
func Changes(earlier, now [][]string) []Change {
	at := map[string]int{}
	for i, c := range Columns() {
		at[c] = i
	}
	get := func(row []string, column string) string {
		if i := at[column]; i < len(row) {
			return row[i]
		}
		return ""
	}
	key := func(row []string) string {
		if get(row, "state") != Delivered {
			return strings.Join([]string{"gap", get(row, "recipe"), get(row, "need"), get(row, "state")}, "\x00")
		}
		raw := "picture"
		if get(row, "of") == string(catalogue.Raw) {
			raw = "raw"
		}
		return strings.Join([]string{"file", get(row, "recipe"), get(row, "need"), raw}, "\x00")
	}
	was := map[string][]string{}
	for _, r := range earlier {
		was[key(r)] = r
	}
	var out []Change
	add := func(kind, format string, args ...any) { out = append(out, Change{kind, fmt.Sprintf(format, args...)}) }
	seen := map[string]bool{}
	for _, r := range now {
		k := key(r)
		if seen[k] {
			continue
		}
		seen[k] = true
		old, known := was[k]
		name := get(r, "recipe") + " " + get(r, "need")
		if get(r, "state") != Delivered {
			if !known {
				add("gap", "%s: now %s: %s", name, get(r, "state"), get(r, "says"))
			}
			continue
		}
		if !known {
			add("new", "%s: %s", name, get(r, "file"))
			continue
		}
		if get(old, "original_sha256") != get(r, "original_sha256") {
			add("another frame", "%s: %s, made of %s; it was made of %s", name, get(r, "file"), get(r, "original"), get(old, "original"))
		}
		if get(old, "file") != get(r, "file") {
			add("renamed", "%s: %s, was %s", name, get(r, "file"), get(old, "file"))
		}
		var cuts, words []string
		for _, c := range Columns() {
			if get(old, c) == get(r, c) {
				continue
			}
			switch {
			case c == "print_box_px" || c == "halves_px":
				cuts = append(cuts, c)
			case at[c] >= at["caption"] || c == "title" || c == "chapter" || c == "pages":
				words = append(words, c)
			}
		}
		if len(cuts) > 0 && get(old, "original_sha256") == get(r, "original_sha256") {
			add("cut", "%s: %s: %s", name, get(r, "file"), strings.Join(cuts, ", "))
		}
		if len(words) > 0 {
			add("words", "%s: %s: %s", name, get(r, "file"), strings.Join(words, ", "))
		}
	}
	for _, r := range earlier {
		k := key(r)
		if seen[k] {
			continue
		}
		seen[k] = true
		name := get(r, "recipe") + " " + get(r, "need")
		switch {
		case get(r, "state") == Delivered:
			add("withdrawn", "%s: %s is in this delivery no more", name, get(r, "file"))
		default:
			add("settled", "%s: no longer %s", name, get(r, "state"))
		}
	}
	slices.SortStableFunc(out, func(a, b Change) int { return slices.Index(changeKinds, a.Kind) - slices.Index(changeKinds, b.Kind) })
	return out
}
