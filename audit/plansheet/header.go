package plansheet

import (
	"slices"
	"strings"
	"unicode"

	"coverplate/audit/plan"
)

// Header is one column of the sheet.
type Header struct {
	Name   string // as written; "" where values stand under no header
	Letter string // as a spreadsheet program names the column: "A", "AB"
	Field  string // one of plan.Columns; "" a column of the author's own
}

// label is what faults and plan.Field call the column.
func (h Header) label() string {
	if h.Name == "" {
		return "column " + h.Letter
	}
	return h.Name
}

// spelling is one way to write a header. A loose one is also a likely name for
// a column of the author's own, and gives way without a fault.
type spelling struct {
	folded string
	field  string
	loose  bool
}

var spellings = func() []spelling {
	var all []spelling
	for _, f := range plan.Columns() {
		all = append(all, spelling{f, f, false})
	}
	add := func(field string, loose bool, words string) {
		for _, w := range strings.Fields(words) {
			all = append(all, spelling{w, field, loose})
		}
	}
	add(plan.ColumnRecipe, false, "recipes id recipeid recipecode recipenumber recipeno recipenr recipekey")
	add(plan.ColumnRecipe, true, "code no nr number num ref reference key #")
	add(plan.ColumnTitle, false, "titles recipetitle recipename")
	add(plan.ColumnTitle, true, "name dish dishname dishtitle")
	add(plan.ColumnChapter, false, "chapters")
	add(plan.ColumnChapter, true, "section part chaptername chaptertitle ch")
	add(plan.ColumnPages, false, "page pp pg pgs pagenumber pagenumbers pageno pagenos picturepage picturepages imagepage photopage")
	add(plan.ColumnPages, true, "p folio folios onpage")
	add(plan.ColumnSize, false, "sizes picturesize imagesize photosize printsize printedsize")
	add(plan.ColumnOrientation, false, "orientations orient pictureorientation imageorientation portraitlandscape portraitorlandscape")
	add(plan.ColumnAngle, false, "angles cameraangle shotangle shootingangle")
	add(plan.ColumnAngle, true, "view viewpoint cameraposition")
	add(plan.ColumnNeeds, false, "need needed")
	add(plan.ColumnNeeds, true, "shots shotlist shotsneeded picturesneeded required deliverables")
	add(plan.ColumnProps, false, "prop proplist")
	add(plan.ColumnProps, true, "propping crockery tableware dishes")
	add(plan.ColumnSurface, false, "surfaces")
	add(plan.ColumnSurface, true, "background backdrop board tabletop")
	add(plan.ColumnDay, false, "days shootday shootingday shootdate shootingdate dayofshoot plannedday planneddate")
	add(plan.ColumnDay, true, "date when dates")
	add(plan.ColumnLettering, false, "roomfortext textroom textspace spacefortext copyspace textposition")
	add(plan.ColumnAllergens, false, "allergen allergenes allergies allergy allergeninformation")
	add(plan.ColumnAllergens, true, "contains")
	add(plan.ColumnNotes, false, "note")
	add(plan.ColumnNotes, true, "comment comments remark remarks")
	return all
}()

// foldHeader keeps the letters and figures of a header in lower case, without
// what stands in brackets behind it: "Page(s)", "Size (mm)", "CAMERA-ANGLE:".
func foldHeader(s string) string {
	if i := strings.IndexAny(s, "(["); i > 0 {
		s = s[:i]
	}
	folded := strings.Map(func(r rune) rune {
		if unicode.IsLetter(r) || unicode.IsNumber(r) {
			return unicode.ToLower(r)
		}
		return -1
	}, s)
	if t := plan.Tidy(s); folded == "" && (t == "#" || t == "№") {
		return "#"
	}
	return folded
}

// assign finds out which column is which. A field that two columns name goes
// to the one with the plain name, else to the first that isn't loose, else to
// the first; doubles are the others that are not loose.
func assign(cells []string) (headers []Header, doubles []int, slips []Taken) {
	claims := map[string][]int{} // field → columns
	var looseAt = make([]bool, len(cells))
	folded := make([]string, len(cells))
	for i, c := range cells {
		h := Header{Name: plan.Tidy(c), Letter: letter(i)}
		folded[i] = foldHeader(c)
		for _, s := range spellings {
			if s.folded == folded[i] {
				claims[s.field] = append(claims[s.field], i)
				looseAt[i] = s.loose
				break
			}
		}
		headers = append(headers, h)
	}
	rank := func(i int, field string) int {
		switch {
		case folded[i] == field:
			return 0
		case looseAt[i]:
			return 2
		}
		return 1
	}
	// "No., Recipe, Pages" without a title: there the recipe is the title.
	if ids := claims[plan.ColumnRecipe]; len(ids) > 1 && len(claims[plan.ColumnTitle]) == 0 {
		for n, i := range ids {
			if folded[i] == plan.ColumnRecipe {
				claims[plan.ColumnTitle] = []int{i}
				claims[plan.ColumnRecipe] = slices.Delete(ids, n, n+1)
				slips = append(slips, Taken{Column: headers[i].label(), Value: cells[i], As: "the title, since " +
					headers[claims[plan.ColumnRecipe][0]].label() + " gives the id"})
				break
			}
		}
	}
	for _, field := range plan.Columns() {
		columns := claims[field]
		if len(columns) == 0 {
			continue
		}
		best := columns[0]
		for _, i := range columns {
			if rank(i, field) < rank(best, field) {
				best = i
			}
		}
		headers[best].Field = field
		for _, i := range columns {
			if i != best && !looseAt[i] {
				doubles = append(doubles, i)
			}
		}
	}
	for i := range headers {
		if field := slipOf(folded[i]); field != "" && headers[i].Field == "" && len(claims[field]) == 0 {
			claims[field] = []int{i}
			headers[i].Field = field
			slips = append(slips, Taken{Column: headers[i].label(), Value: cells[i], As: field})
		}
	}
	slices.Sort(doubles)
	return headers, doubles, slips
}

// slipOf gives the field whose name a header misspells by one letter, or by
// two where it is long.
func slipOf(folded string) string {
	if len(folded) < 4 || len(folded) > 20 || strings.ContainsFunc(folded, unicode.IsNumber) {
		return ""
	}
	for _, field := range plan.Columns() {
		if len(field) < 5 {
			continue // "say" is no slip of "day"
		}
		allowed := 1
		if len(field) >= 9 {
			allowed = 2
		}
		if n := plan.Slips(folded, field); n > 0 && n <= allowed {
			return field
		}
	}
	return ""
}

// letter names a column, counted from 0, as spreadsheet programs do.
func letter(column int) string {
	name := ""
	for n := column + 1; n > 0; n = (n - 1) / 26 {
		name = string(rune('A'+(n-1)%26)) + name
	}
	return name
}

// headerDepth is how many rows a title and remarks above the header may take.
const headerDepth = 30

// findHeader gives the index of the line that names the most fields, and how
// many: at least two, or the id or title alone in the first line that holds
// anything. −1 is none.
func findHeader(lines []line) (at, score int) {
	at = -1
	seen := 0
	for i, l := range lines {
		if len(l.cells) == 0 {
			continue
		}
		if seen++; seen > headerDepth {
			break
		}
		headers, _, _ := assign(l.cells[:min(len(l.cells), mostColumns)])
		n, known := 0, false
		for _, h := range headers {
			if h.Field != "" {
				n++
				known = known || h.Field == plan.ColumnRecipe || h.Field == plan.ColumnTitle
			}
		}
		if n > score && (n >= 2 || known && seen == 1) {
			at, score = i, n
		}
	}
	return at, score
}
