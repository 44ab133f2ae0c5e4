package desk

import (
	"net/url"
	"slices"
	"strings"

	"coverplate/audit"
	"coverplate/audit/clock"
	"coverplate/ingest/catalogue"
)

// onSetView is a prop or surface on the set of a dish, with where else it is.
type onSetView struct {
	Chrome           chrome
	Recipe           string
	Name, Kind, Says string
	Off              bool
	Elsewhere        []link
}

// onSetOf are the things planned for a dish or logged on its set.
func (st *state) onSetOf(c chrome, recipe string) []onSetView {
	var all []onSetView
	for _, t := range st.report.Things {
		at := slices.IndexFunc(t.Uses, func(u audit.Use) bool { return u.Recipe == recipe })
		if at < 0 {
			continue
		}
		v := onSetView{Chrome: c, Recipe: recipe, Name: t.Name, Kind: t.Kind, Says: useSays(t.Uses[at]), Off: t.Uses[at].Off}
		for _, u := range t.Uses {
			if u.Recipe != recipe && !u.Off {
				v.Elsewhere = append(v.Elsewhere, link{To: dishAt(u.Recipe), Says: strings.TrimSpace(u.Recipe + " " + u.Title)})
			}
		}
		all = append(all, v)
	}
	return all
}

// useSays tells what is known of a thing on one set.
func useSays(u audit.Use) string {
	switch {
	case u.Off:
		return "not on set after all"
	case u.Chosen:
		return "in its chosen picture"
	case u.Logged:
		return "logged on set"
	}
	return "planned"
}

// one is a name as a form gives it, its words a space apart.
func one(name string) string { return strings.Join(strings.Fields(name), " ") }

// propOf reads what stood on the set of a dish, or did not. A name that may be
// another's by a slip of the pen is asked about, never merged.
func (st *state) propOf(form url.Values) ([]catalogue.Decision, error) {
	recipe, name, as := form.Get("recipe"), one(form.Get("name")), form.Get("as")
	if _, ok := st.recipes[recipe]; !ok {
		return nil, wrongf("the plan has no recipe %q any more", recipe)
	}
	if as != "" && as != catalogue.AsSurface && as != catalogue.TakenOff {
		return nil, wrongf("a thing on a set is a prop or a surface, no %q", as)
	}
	if strings.Trim(name, " .,;-") == "" {
		return nil, wrongf("name what stands on the set: %q is no name", name)
	}
	same, near := audit.MayBe(st.report.Things, name)
	switch {
	case same != "":
		name = same
	case as == catalogue.TakenOff:
		return nil, wrongf("no set has a %q", name)
	case len(near) > 0 && form.Get("another") == "":
		return nil, wrongf("%q is known, and %q may be the same: write %q if it is that, or tick that it is another thing", near[0], name, near[0])
	}
	return []catalogue.Decision{{Kind: catalogue.Prop, Recipe: recipe, Name: name, Need: as}}, nil
}

// variantOf reads which variant of a dish is on set: from now on, or from a
// frame of it on. Without a name the one before ends.
func (d *Desk) variantOf(st *state, form url.Values) ([]catalogue.Decision, error) {
	recipe := form.Get("recipe")
	at := slices.IndexFunc(st.report.Recipes, func(x audit.Recipe) bool { return x.ID == recipe })
	if at < 0 {
		return nil, wrongf("the plan has no recipe %q any more", recipe)
	}
	x := catalogue.Decision{Kind: catalogue.Variant, Recipe: recipe, Name: one(form.Get("name"))}
	if x.Name == "" && form.Get("ends") == "" {
		return nil, wrongf("a variant has a name: with garnish, say")
	}
	for _, v := range st.report.Recipes[at].Variants { // one spelling a variant
		if same, _ := audit.MayBe([]audit.Thing{{Name: v.Name}}, x.Name); x.Name != "" && same != "" {
			x.Name = same
		}
	}
	ref := form.Get("from")
	if ref == "" {
		x.From = clock.Digits(d.o.Now(), d.o.Where)
		return []catalogue.Decision{x}, nil
	}
	switch f, ok := st.find(ref); {
	case !ok:
		return nil, wrongf("the frame is not in the catalogue")
	case st.match(f.ID).Recipe != recipe:
		return nil, wrongf("%s does not show %s: say first which dish it is", name(f), recipe)
	case f.Taken.IsZero():
		return nil, wrongf("%s has no time, so nothing can begin with it", name(f))
	default:
		x.Frame = f.ID
	}
	return []catalogue.Decision{x}, nil
}
