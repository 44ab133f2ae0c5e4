package audit

import (
	"fmt"
	"hash/crc32"
	"slices"
	"strconv"
	"strings"
	"unicode"

	"coverplate/audit/plan"
	"coverplate/ingest/catalogue"
)

// A slate is printed under the number that its dish has then. Its code holds a
// mark of the title besides, so that a card of an earlier numbering still tells
// its own dish and not the one that has that number now. Where no title of this
// plan or of an earlier one has the mark, nobody can know the dish, and the
// frames after the slate are left to a person.

// TitleMark is the mark of a title in a slate's code: CRC-32 (IEEE 802.3) of its
// letters and digits in lower case, modulo 36³, as 3 digits to base 36; "" of a
// title without any. Printed cards carry it: it must never change.
func TitleMark(title string) string {
	s := longMark(title)
	return s[min(1, len(s)):]
}

// longMark is TitleMark modulo 36⁴, as cards of before 2026-11-28 carry it: a
// digit before the others.
func longMark(title string) string {
	key := strings.Map(func(r rune) rune {
		if unicode.IsLetter(r) || unicode.IsDigit(r) || unicode.IsMark(r) {
			return unicode.ToLower(r)
		}
		return -1
	}, title)
	if key == "" {
		return ""
	}
	const space = 36 * 36 * 36 * 36
	s := strings.ToUpper(strconv.FormatUint(uint64(crc32.ChecksumIEEE([]byte(key))%space), 36))
	return strings.Repeat("0", 4-len(s)) + s
}

// marks tells whether a card's mark is that of a title; no card without a mark
// tells.
func marks(mark, title string) bool {
	return mark != "" && (mark == TitleMark(title) || mark == longMark(title))
}

// Titled is a dish as an earlier plan had it.
type Titled struct{ Recipe, Title string }

// TitledOf are the dishes of a plan.
func TitledOf(recipes []plan.Recipe) []Titled {
	all := make([]Titled, len(recipes))
	for i, r := range recipes {
		all[i] = Titled{r.ID, r.Title}
	}
	return all
}

// earlier are the titles that a number is known to have had: in earlier plans,
// and when things were decided of it.
func (d *sheet) earlier(id string) (titles []string) {
	add := func(recipe, title string) {
		if folding(recipe) == folding(id) && folding(title) != "" && !slices.Contains(titles, title) {
			titles = append(titles, title)
		}
	}
	for _, t := range d.Earlier {
		add(t.Recipe, t.Title)
	}
	for _, w := range d.Shoot.Decisions {
		add(w.Recipe, w.Title)
	}
	return titles
}

// Unexplained tells whether a frame shows a slate that the plan alone does not
// explain, so that earlier plans should be read.
func Unexplained(recipes []plan.Recipe, frames []catalogue.Frame) bool {
	n := numberingOf(recipes)
	return slices.ContainsFunc(frames, func(f catalogue.Frame) bool {
		if f.Look.Slate == nil || f.Look.Slate.Recipe == "" {
			return false
		}
		return slices.ContainsFunc(append([]catalogue.Slate{*f.Look.Slate}, f.Look.Slate.Others...), func(s catalogue.Slate) bool {
			at, known := n.ids[folding(s.Recipe)]
			return !known || !marks(s.Title, recipes[at].Title)
		})
	})
}

// slated is the recipe of the slate in a frame; −1 where it is none of this
// plan's or can't be told, which is noted.
func (d *sheet) slated(i int) int {
	s, file := d.frames[i].Look.Slate, d.frames[i].Path()
	if s == nil || s.Recipe == "" {
		return -1
	}
	ours := -1 // of this shoot
	for _, one := range append([]catalogue.Slate{*s}, s.Others...) {
		if one.Shoot != "" && d.ID != "" && one.Shoot != d.ID {
			continue
		}
		at, doubt := d.slateOf(&one)
		if doubt == "" && ours >= 0 && at != ours {
			doubt = fmt.Sprintf("slates of %s and %s stand in it: photograph one alone before its dish, and say which dish this is", d.recipes[ours].ID, d.recipes[at].ID)
		}
		if doubt != "" {
			d.doubts[i] = doubt
			d.note("slate", one.Recipe, file, doubt)
			return -1
		}
		if own, ok := d.find(one.Recipe); !ok || own != at {
			d.note("slate", d.recipes[at].ID, file, fmt.Sprintf("its slate was printed when %s was %s: it is taken for %s", d.recipes[at].Title, one.Recipe, d.recipes[at].ID))
		}
		ours = at
	}
	if ours < 0 {
		d.note("slate", s.Recipe, file, fmt.Sprintf("its slate is of another shoot, %s, and this one is %s: it places no frame", s.Shoot, d.ID))
	}
	return ours
}

// slateOf is the recipe that a slate of this shoot tells, or why that can't be
// known.
func (d *sheet) slateOf(s *catalogue.Slate) (at int, doubt string) {
	key := [2]string{s.Recipe, s.Title}
	if m, ok := d.meant[key]; ok {
		return m.recipe, m.doubt
	}
	at, doubt = d.slateMeans(s)
	d.meant[key] = meaning{at, doubt}
	return at, doubt
}

// meaning is what a slate was found to tell.
type meaning struct {
	recipe int // −1 that can't be known
	doubt  string
}

func (d *sheet) slateMeans(s *catalogue.Slate) (at int, doubt string) {
	own, known := d.find(s.Recipe)
	if known && marks(s.Title, d.recipes[own].Title) {
		return own, ""
	}
	var marked []int
	for i, r := range d.recipes {
		if marks(s.Title, r.Title) {
			marked = append(marked, i)
		}
	}
	switch {
	case len(marked) == 1:
		return marked[0], ""
	case len(marked) > 1:
		return -1, fmt.Sprintf("its slate says %s, and its title is that of %s and of %s now: say which it is", s.Recipe, d.recipes[marked[0]].ID, d.recipes[marked[1]].ID)
	}
	// The title is not this plan's: where one of an earlier plan's became of it, or,
	// of a card without a title, of the number.
	at = -1
	n := numberingOf(d.recipes)
	for _, title := range d.earlier(s.Recipe) {
		if s.Title != "" && !marks(s.Title, title) {
			continue
		}
		to, how := n.follow(s.Recipe, title)
		switch {
		case how == anotherDish:
			return -1, fmt.Sprintf("its slate says %s, which was %q, and is %q in the plan now: say which dish it is", s.Recipe, title, d.recipes[to].Title)
		case how == nowhere:
			return -1, fmt.Sprintf("its slate says %s, which was %q, and the plan has no such dish: was it cut?", s.Recipe, title)
		case at >= 0 && at != to:
			return -1, fmt.Sprintf("its slate says %s, which was more than one dish, and the card does not say which: say which it is", s.Recipe)
		}
		at = to
	}
	switch {
	case s.Title == "" && known && (at < 0 || at == own):
		return own, "" // a card from before titles stood in codes, of a number that nobody gave anew
	case s.Title == "" && known:
		return -1, fmt.Sprintf("its slate says %s, which was %s and is %q in the plan now, and the card does not say when it was printed: say which dish it is", s.Recipe, d.recipes[at].ID, d.recipes[own].Title)
	case at >= 0:
		return at, ""
	case known:
		return -1, fmt.Sprintf("its slate was printed when %s had another title than %q: say whether it is the same dish", s.Recipe, d.recipes[own].Title)
	}
	return -1, fmt.Sprintf("its slate names %s, which the plan does not have: was it renumbered?", s.Recipe)
}

// doubt leaves to a person what stands after a slate whose dish can't be known,
// as far as that slate would have told its dish: on the bodies of its crew, until
// the next slate or until the dish is as likely changed as not. Frames whose own
// texts, the log or a person name a dish are left as they are.
func (m *matcher) doubt() {
	for _, s := range m.strands {
		for k, i := range s.frames {
			if why := m.d.doubts[i]; why != "" {
				m.doubtFrom(s, k, why)
			}
		}
	}
}

func (m *matcher) doubtFrom(s *strand, k int, why string) {
	d := m.d
	holds := 1.0
	for n := k; n < len(s.frames); n++ {
		j := s.frames[n]
		if n > k {
			if m.slates[j] >= 0 || d.doubts[j] != "" {
				return
			}
			if holds /= s.wears(n); holds <= 0.5 {
				return
			}
		}
		p := &d.placed[j]
		if _, odds := best(m.claims[j], p.contra); p.ByHand || odds >= d.Rules.OddsFloor || m.logged(s, n) >= 0 {
			continue
		}
		if p.Recipe != "" {
			p.guesses = firstTwo(append([]string{p.Recipe}, p.guesses...))
		}
		p.Recipe, p.Odds = "", min(p.Odds, evenOdds)
		p.says = why
		if n > k {
			p.says = fmt.Sprintf("the slate before it, %s, tells no dish: %s", d.pathName(s.frames[k]), why)
		}
	}
}
