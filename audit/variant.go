package audit

import (
	"fmt"
	"math"
	"slices"
	"strings"
	"time"

	"coverplate/audit/plan"
	"coverplate/ingest/catalogue"
)

// Variant is a dish as it was named on set: with the garnish, say, or without.
type Variant struct {
	Name   string   `json:"name"`   // "" frames of which no variant was named
	Frames int      `json:"frames"` // that show it
	First  string   `json:"first"`  // library paths, by time
	Last   string   `json:"last"`
	Chosen []string `json:"chosen"` // needs whose chosen frame shows it
	May    []string `json:"may"`    // needs that a frame of it may serve, and none of it is chosen for
}

// start is a variant from a moment on.
type start struct {
	name string
	from time.Time
	id   int64
}

// nameVariants finds which variant each frame shows. A variant begins with the
// frame, or at the time, that a person named, and ends where the next of its
// dish begins, at the latest with the shooting day.
func (d *sheet) nameVariants(holds []catalogue.Decision) {
	d.variant = make([]string, len(d.frames))
	d.starts = map[int][]start{}
	for _, w := range holds {
		if w.Kind != catalogue.Variant {
			continue
		}
		r, ok := d.find(w.Recipe)
		if !ok {
			d.note("decision", w.Recipe, "", fmt.Sprintf("a variant of %s is named %q, but the plan has no %s: was it renumbered?", w.Recipe, w.Name, w.Recipe))
			continue
		}
		from := w.From
		if w.Frame != "" {
			at, ok := d.frameAt[w.Frame]
			if !ok || d.frames[at].Taken.IsZero() {
				d.note("decision", w.Recipe, string(w.Frame), fmt.Sprintf("the frame at which %q of %s begins is no longer in the catalogue, or has no time: name it again", w.Name, w.Recipe))
				continue
			}
			from = d.frames[at].Taken
		}
		d.starts[r] = append(d.starts[r], start{w.Name, from, w.ID})
	}
	for r, all := range d.starts {
		slices.SortStableFunc(all, func(a, b start) int {
			if c := a.from.Compare(b.from); c != 0 {
				return c
			}
			return int(a.id - b.id)
		})
		for _, i := range d.shows[r] {
			t := d.frames[i].Taken
			for _, s := range all {
				if !t.IsZero() && !t.Before(s.from) && d.Book.DayAt(t) == d.Book.DayAt(s.from) {
					d.variant[i] = s.name
				}
			}
		}
	}
}

// variants lists what was named of a recipe, in the order of taking; none where
// nothing was.
func (d *sheet) variants(r int) []Variant {
	out := []Variant{}
	if len(d.starts[r]) == 0 {
		return out
	}
	at := map[string]int{}
	of := func(name string) *Variant {
		i, ok := at[propKey(name)]
		if !ok {
			i = len(out)
			at[propKey(name)] = i
			out = append(out, Variant{Name: name, Chosen: []string{}, May: []string{}})
		}
		return &out[i]
	}
	for _, i := range d.shows[r] {
		v := of(d.variant[i])
		if v.Frames++; v.First == "" {
			v.First = d.frames[i].Path()
		}
		v.Last = d.frames[i].Path()
	}
	for _, s := range d.starts[r] {
		if s.name != "" {
			of(s.name) // named, and no frame shows it yet
		}
	}
	for _, n := range needsOf(d.recipes[r]) {
		if n.Kind == plan.Palette {
			continue
		}
		chosen := d.chosen[wish{r, needKey(n.String())}]
		for _, f := range d.fits(r, n.Kind, chosen) {
			v := of(d.variant[f.frame])
			if slices.Contains(chosen, f.frame) {
				if !slices.Contains(v.Chosen, n.String()) {
					v.Chosen = append(v.Chosen, n.String())
				}
			} else if f.may() && !slices.Contains(v.May, n.String()) {
				v.May = append(v.May, n.String())
			}
		}
	}
	for i := range out {
		v := &out[i]
		v.May = slices.DeleteFunc(v.May, func(n string) bool { return slices.Contains(v.Chosen, n) })
	}
	return out
}

// differ tells by what two frames of one dish differ as set-ups, as far as it
// is known: "" nothing that is known.
func (d *sheet) differ(i, j int) string {
	a, b := &d.frames[i], &d.frames[j]
	va, vb := &d.views[i], &d.views[j]
	switch {
	case propKey(d.variant[i]) != propKey(d.variant[j]):
		return "variant"
	case a.Look.Width > 0 && b.Look.Width > 0 && (a.Look.Width > a.Look.Height) != (b.Look.Width > b.Look.Height):
		return "orientation"
	case va.named() && vb.named() && math.Abs(va.Elevation-vb.Elevation) > alikeElevation:
		return "angle"
	}
	return ""
}

// pictures counts the set-ups among frames: those that show one picture and do
// not differ are one. twins are two frames that are; −1 none are.
func (d *sheet) pictures(frames []int) (n int, twins [2]int) {
	twins = [2]int{-1, -1}
	var each []int // one frame of each
	for _, i := range frames {
		same := slices.IndexFunc(each, func(j int) bool { return d.onePicture(i, j) && d.differ(i, j) == "" })
		switch {
		case same < 0:
			each = append(each, i)
		case twins[0] < 0:
			twins = [2]int{each[same], i}
		}
	}
	return len(each), twins
}

// setUp puts into words what is known of a frame's set-up.
func (d *sheet) setUp(i int) string {
	var says []string
	if d.variant[i] != "" {
		says = append(says, d.variant[i])
	}
	if l := d.frames[i].Look; l.Width > l.Height {
		says = append(says, "landscape")
	} else if l.Width > 0 {
		says = append(says, "portrait")
	}
	if v := &d.views[i]; v.named() {
		says = append(says, string(v.Class))
	}
	return strings.Join(says, ", ")
}
