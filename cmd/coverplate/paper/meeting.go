package paper

import (
	"fmt"
	"strconv"
	"strings"

	"coverplate/audit"
	"coverplate/colour"
)

// PicturesOf are the pictures of a spread. Where it has but one, the palette
// of the spread is that picture's.
func PicturesOf(s audit.Spread) []audit.Picture {
	if len(s.Pictures) != 1 {
		return s.Pictures
	}
	p := s.Pictures[0]
	if p.Palette == nil {
		p.Palette = s.Palette
	}
	if p.Surface == nil {
		p.Surface = s.Surface
	}
	return []audit.Picture{p}
}

// TitlesOf are the titles of recipes, by id.
func TitlesOf(r audit.Report) map[string]string {
	titles := map[string]string{}
	for _, rec := range r.Recipes {
		titles[rec.ID] = rec.Title
	}
	return titles
}

// TurnsSay sums up how the book turns: how many pairs of neighbours are known,
// and how many of them want attention.
func TurnsSay(spreads []audit.Spread) string {
	n := map[audit.Contrast]int{}
	all := 0
	var least *float64
	for _, s := range spreads {
		for _, m := range s.Neighbours {
			if m.Repeats {
				continue
			}
			all++
			n[m.Contrast]++
			if m.Apart != nil && (least == nil || *m.Apart < *least) {
				least = m.Apart
			}
		}
	}
	line := Counted(len(spreads), "spread", "spreads")
	if all == 0 {
		return line + "; no two pictures meet yet."
	}
	line += fmt.Sprintf("; of %s of neighbours %d too alike, %d jarring, %d fine, %d unknown", Counted(all, "pair", "pairs"),
		n[audit.Alike], n[audit.Jars], n[audit.Fine], n[audit.Unknown])
	if least != nil {
		line += fmt.Sprintf("; the nearest are %.1f apart", *least)
	}
	return line + ". Distances are of palettes (earth mover's over ΔE2000): the smaller, the more alike."
}

// Meeting is one pair of neighbours as it is shown.
type Meeting struct {
	Kind     string // "facing", "next spread", "page turn", "next spread and page turn"
	Other    string // whom this spread meets: "R06, p. 21"
	Figure   string // ΔE2000; "" unknown
	Contrast audit.Contrast
	Rests    string // what the contrast rests on: "under 10", or why it is not known
}

// MeetingsOf are the meetings of a spread within itself and with the next.
func MeetingsOf(s audit.Spread) []Meeting {
	var all []Meeting
	for i, n := range s.Neighbours {
		if n.Repeats {
			continue
		}
		m := Meeting{Contrast: n.Contrast, Other: strings.Join(n.Recipes[1], ", ") + PageSuffix(n.Pages[1])}
		switch n.Kind {
		case audit.Facing:
			m.Kind, m.Other = "facing", strings.Join(n.Recipes[0], ", ")+" and "+strings.Join(n.Recipes[1], ", ")
		case audit.NextSpread:
			m.Kind = "next spread"
			if i+1 < len(s.Neighbours) && s.Neighbours[i+1].Repeats {
				m.Kind = "next spread and page turn"
			}
		case audit.PageTurn:
			m.Kind, m.Other = "page turn", strings.Join(n.Recipes[0], ", ")+" to "+strings.Join(n.Recipes[1], ", ")
		default:
			m.Kind = string(n.Kind)
		}
		limit := strconv.FormatFloat(n.Threshold, 'g', 4, 64)
		switch {
		case n.Apart == nil:
			// The pair is named already; what is left of the sentence is the reason.
			_, m.Rests, _ = strings.Cut(n.Why, "not known, ")
		case n.Contrast == audit.Alike:
			m.Figure, m.Rests = below(*n.Apart, n.Threshold), "under "+limit
		case n.Contrast == audit.Jars:
			m.Figure, m.Rests = above(*n.Apart, n.Threshold), "over "+limit
		default:
			m.Figure, m.Rests = fmt.Sprintf("%.1f", *n.Apart), limit+" or more"
		}
		all = append(all, m)
	}
	return all
}

// Line is the meeting in one line.
func (m Meeting) Line() string {
	line := m.Kind + ", " + m.Other + ": "
	if m.Kind == "facing" {
		line = "facing, " + m.Other + ": "
	}
	if m.Figure != "" {
		line += m.Figure + " "
	}
	line += string(m.Contrast)
	if m.Rests != "" {
		line += ", " + m.Rests
	}
	return line
}

// below writes x, which is less than limit, so that it reads as less: 9.97
// under 10 is not "10.0".
func below(x, limit float64) string {
	for digits := 1; ; digits++ {
		s := strconv.FormatFloat(x, 'f', digits, 64)
		if v, err := strconv.ParseFloat(s, 64); err != nil || v < limit || digits == 6 {
			return s
		}
	}
}

// above writes x, which is more than limit, so that it reads as more.
func above(x, limit float64) string {
	for digits := 1; ; digits++ {
		s := strconv.FormatFloat(x, 'f', digits, 64)
		if v, err := strconv.ParseFloat(s, 64); err != nil || v > limit || digits == 6 {
			return s
		}
	}
}

// PictureSays tells which frame stands for a recipe, and whether by choice.
func PictureSays(frame *string, chosen bool) string {
	switch {
	case frame == nil:
		return "no picture yet"
	case chosen:
		return "chosen: " + *frame
	}
	return "best so far, not chosen: " + *frame
}

// SwatchSays names a swatch with its share.
func SwatchSays(s colour.Swatch) string {
	says := fmt.Sprintf("%s %s %s", s.Name, s.Hex, percent(s.Share))
	if s.Accent {
		says += " (accent)"
	}
	return says
}

// percent writes a share; one that is there is never written as nothing.
func percent(share float64) string {
	if p := 100 * share; p < 1 && p > 0 {
		return fmt.Sprintf("%.1f %%", max(p, 0.1))
	}
	return fmt.Sprintf("%.0f %%", 100*share)
}

// VarietyWhy is what a suggestion rests on; "" where VarietySays has said it all.
func VarietyWhy(g audit.Suggestion) string {
	if g.Before.Least == nil {
		return ""
	}
	return g.Why
}

// VarietySays tells what all changes together would give.
func VarietySays(g audit.Suggestion) string {
	if g.Before.Least == nil {
		return "No two neighbours have palettes yet, so nothing can be weighed."
	}
	now := fmt.Sprintf("Smallest distance between neighbours: %.1f", *g.Before.Least)
	if n := g.Before.LeastOf; n != nil {
		now += fmt.Sprintf(" (%s and %s)", JoinAnd(n.Recipes[0]), JoinAnd(n.Recipes[1]))
	}
	if len(g.Changes) == 0 || g.After.Least == nil {
		return now + fmt.Sprintf("; the sum over %s is %.1f; too alike: %d.", Counted(g.Before.Pairs, "pair", "pairs"), g.Before.Sum, g.Before.Alike)
	}
	now += fmt.Sprintf(" now, %.1f with the changes", *g.After.Least)
	if n := g.After.LeastOf; n != nil {
		now += fmt.Sprintf(" (%s and %s)", JoinAnd(n.Recipes[0]), JoinAnd(n.Recipes[1]))
	}
	return now + fmt.Sprintf(". Sum over %s: %.1f now, %.1f then. Too alike: %d now, %d then.",
		Counted(g.After.Pairs, "pair", "pairs"), g.Before.Sum, g.After.Sum, g.Before.Alike, g.After.Alike)
}
