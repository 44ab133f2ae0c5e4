package main

import (
	"path/filepath"
	"regexp"
	"strings"

	"coverplate/audit/plan"
	"coverplate/ingest/catalogue"
)

// shortID is as much of a frame's id as people are shown and may type.
const shortID = 8

// findFrame finds the one frame that word names: a library path, the end of
// one ("100SKARV/SKER9981.JPG"), a file name where it is the only one, or six
// or more digits of the frame's id. dir is the shoot's folder.
func findFrame(frames []catalogue.Frame, dir, word string) (catalogue.Frame, error) {
	var found []catalogue.Frame
	name := filepath.ToSlash(filepath.Clean(word))
	if abs := absolute(word); strings.HasPrefix(abs, dir+string(filepath.Separator)) && strings.ContainsAny(word, `/\`) {
		if rel, err := filepath.Rel(dir, abs); err == nil {
			name = relativeName(frames, filepath.ToSlash(rel), name)
		}
	}
	id := strings.ToLower(word)
	isID := regexp.MustCompile(`^[0-9a-f]{6,64}$`).MatchString(id)
	for _, f := range frames {
		named := isID && strings.HasPrefix(string(f.ID), id)
		for _, file := range f.Files {
			if file.Path == name {
				return f, nil
			}
			named = named || endsIn(file.Path, name) || endsIn(file.Card+"/"+file.Source, name) || strings.EqualFold(file.Name, name)
		}
		if named {
			found = append(found, f)
		}
	}
	switch len(found) {
	case 1:
		return found[0], nil
	case 0:
		hint := "give a path in the shoot, a file name, or six digits or more of a frame's id; coverplate frames lists them"
		if len(frames) == 0 {
			hint = "no frame is in the shoot yet; coverplate ingest brings a card in"
		}
		return catalogue.Frame{}, misused(hint, "no frame is named %q", word)
	}
	lines := []string{}
	for i, f := range found {
		if i == 10 {
			lines = append(lines, "  …")
			break
		}
		lines = append(lines, "  "+string(f.ID[:min(shortID, len(f.ID))])+"  "+f.Path())
	}
	return catalogue.Frame{}, misused("give more of the path, or the id", "%q names %d frames:\n%s", word, len(found), strings.Join(lines, "\n"))
}

// relativeName is rel where a file of the library has that path, else name.
func relativeName(frames []catalogue.Frame, rel, name string) string {
	for _, f := range frames {
		for _, file := range f.Files {
			if file.Path == rel {
				return rel
			}
		}
	}
	return name
}

// endsIn tells whether path is tail, or ends in tail after a slash; case does
// not count.
func endsIn(path, tail string) bool {
	path, tail = strings.ToLower(path), strings.ToLower(strings.TrimPrefix(tail, "./"))
	return path == tail || strings.HasSuffix(path, "/"+tail)
}

// findRecipe finds a recipe by its id; case does not count.
func findRecipe(recipes []plan.Recipe, word string) (plan.Recipe, error) {
	ids := make([]string, 0, len(recipes))
	for _, r := range recipes {
		if strings.EqualFold(r.ID, word) {
			return r, nil
		}
		ids = append(ids, r.ID)
	}
	hint := "coverplate plan show lists the recipes"
	if near := nearest(word, ids); near != "" {
		hint = "did you mean " + near + "? " + hint
	}
	return plan.Recipe{}, misused(hint, "the plan has no recipe %q", word)
}

// findNeed finds one of the needs of a recipe.
func findNeed(r plan.Recipe, word string) (plan.Need, error) {
	want, err := plan.ParseNeed(word)
	for _, n := range r.Needs {
		if err == nil && n.Kind == want.Kind {
			return n, nil
		}
		// "options" alone is no need of a plan, but names one here.
		if strings.EqualFold(string(n.Kind), strings.TrimSpace(word)) {
			return n, nil
		}
	}
	return plan.Need{}, misused("the needs of "+r.ID+" are: "+plan.FormatNeeds(r.Needs), "%s has no need %q", r.ID, word)
}
