package main

import (
	"fmt"
	"io"
	"path"

	"coverplate/audit"
	"coverplate/cmd/coverplate/paper"
	"coverplate/ingest/catalogue"
)

// renderSuggestion sets what would make neighbouring spreads differ more, and
// what to type to take each change. titles are of the recipes by id; take gives
// the word that names a frame to coverplate choose.
func renderSuggestion(w io.Writer, book string, g audit.Suggestion, titles map[string]string, take func(catalogue.FrameID, string) string, o termOptions) error {
	t := newSetter(w, o)
	t.put(0, 2, book+": what would make neighbouring spreads differ more")
	t.put(0, 2, paper.VarietySays(g))
	if why := paper.VarietyWhy(g); why != "" {
		t.put(0, 2, why)
	}
	if len(g.Changes) == 0 && len(g.Arguments) == 0 {
		t.gap()
		t.put(0, 2, "Nothing is suggested.")
	}
	change := func(c audit.Change) {
		t.gap()
		t.put(2, 4, c.Recipe+"  "+titles[c.Recipe]+pageSuffix(c.Pages))
		t.put(6, 2, fmt.Sprintf("nearest neighbour: %.1f now, %.1f then", c.Before, c.After))
		t.put(6, 6, "from  "+c.From)
		t.put(6, 6, "to    "+c.To)
		if c.Why != "" {
			t.put(6, 2, c.Why)
		}
		t.whole("      coverplate choose " + shellWord(take(c.ToID, c.To)) + " hero")
	}
	if len(g.Changes) > 0 {
		t.head("change", fmt.Sprintf("pictures that nobody has chosen: %d", len(g.Changes)))
		for _, c := range g.Changes {
			change(c)
		}
	}
	if len(g.Arguments) > 0 {
		t.head("argued with", fmt.Sprintf("chosen by a person, so left alone and not counted above: %d", len(g.Arguments)))
		for _, c := range g.Arguments {
			change(c)
		}
	}
	if len(g.Unknown) > 0 {
		t.head("not weighed", fmt.Sprintf("nothing is known of these, nor suggested beside them: %d", len(g.Unknown)))
		for _, u := range g.Unknown {
			t.put(2, 4, u.Recipe+"  "+titles[u.Recipe]+pageSuffix(u.Pages)+": "+u.Why)
		}
	}
	if len(g.LeftOut) > 0 {
		t.head("left out", "not every frame that may serve was weighed")
		for _, l := range g.LeftOut {
			t.put(2, 4, fmt.Sprintf("%s  %s: %d of %d frames weighed", l.Recipe, titles[l.Recipe], l.Weighed, l.Of))
		}
	}
	return t.err
}

// takeWord gives the shortest word by which coverplate choose finds a frame:
// its file's name where no other frame has it, the short id, or the path.
func takeWord(frames []catalogue.Frame, dir string) func(catalogue.FrameID, string) string {
	return func(id catalogue.FrameID, library string) string {
		words := []string{path.Base(library)}
		if len(id) >= shortID {
			words = append(words, string(id[:shortID]))
		}
		for _, word := range words {
			if f, err := findFrame(frames, dir, word); err == nil && f.ID == id {
				return word
			}
		}
		return library
	}
}
