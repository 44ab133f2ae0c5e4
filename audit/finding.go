package audit

import (
	"cmp"
	"fmt"
	"path"
	"slices"
	"strings"

	"coverplate/audit/crop"
	"coverplate/audit/plan"
)

// recipe reports on one recipe.
func (d *sheet) recipe(i int, spreads []spread, bodies []SeenBody) Recipe {
	defer d.letGo()
	r := d.recipes[i]
	out := Recipe{ID: r.ID, Title: r.Title, Chapter: r.Chapter, Pages: r.Pages.String(), Frames: len(d.shows[i]), Needs: []Finding{}}
	if !r.Pages.IsZero() {
		out.Spread = r.Pages.Spread()
	}
	if !r.Day.IsZero() {
		out.Day = r.Day.String()
	}
	waits := false // the palette waits for neighbours alone
	for _, n := range needsOf(r) {
		var f Finding
		if n.Kind == plan.Palette {
			f, waits = d.palette(i, spreads)
		} else {
			f = d.need(i, n)
		}
		f.Recipe, f.Need = r.ID, n.String()
		if f.Others == nil {
			f.Others = []string{}
		}
		out.Needs = append(out.Needs, f)
	}
	out.Variants = d.variants(i)
	out.Strike, out.StrikeWhy = strike(out.Needs, waits)
	d.turn(i, &out, waits, bodies)
	if out.Strike == MayStrike {
		out.Covered = d.coveredOn(out.Needs)
	}
	return out
}

// urgency is the order in which people act on verdicts.
var urgency = []Verdict{ToShoot, ToReshoot, ToLook, ToChoose}

// strike says whether the set may go. A palette that waits for its
// neighbours does not hold the set, since nothing more can be shot on it that
// would tell.
func strike(needs []Finding, waits bool) (Strike, string) {
	for _, v := range urgency {
		for _, f := range needs {
			if f.Verdict != v || waits && f.Need == string(plan.Palette) {
				continue
			}
			return Hold, fmt.Sprintf("%s: %s (%s)", f.Need, v, f.Why)
		}
	}
	if waits {
		return MayStrike, "every other need is settled or waived; the palette waits for its neighbours"
	}
	return MayStrike, "every need is settled or waived"
}

// waiver returns the finding of a need that a person does not want.
func (d *sheet) waiver(w wish) (Finding, bool) {
	said, ok := d.waivers[w]
	if !ok {
		return Finding{}, false
	}
	return Finding{Verdict: Waived, Why: cmp.Or(said.Why, "not wanted; no reason was given")}, true
}

// need judges a need that one or more frames meet.
func (d *sheet) need(r int, n plan.Need) Finding {
	w := wish{r, needKey(n.String())}
	if f, ok := d.waiver(w); ok {
		return f
	}
	chosen := d.chosen[w]
	fits := d.fits(r, n.Kind, chosen)
	f := d.judge(fits, chosen, r)
	f.Offers = d.offers(fits, chosen)
	if n.Kind == plan.Options && len(fits) > 0 {
		d.options(&f, n, fits, chosen)
	}
	if d.lost[w] {
		f.Why = "the frame that was chosen can't be counted on any more, see the notes; " + f.Why
	}
	return f
}

// offers is what the tests of a need's frames say of each.
func (d *sheet) offers(fits []fit, chosen []int) []Offer {
	all := make([]Offer, len(fits))
	for i, x := range fits {
		d.once(x.says, x.fails, x.notes, x.blind, x.eyes)
		o := Offer{Frame: d.frames[x.frame].ID, Works: crop.Look, Chosen: slices.Contains(chosen, x.frame), Passed: x.says, Fails: x.fails, Notes: x.notes}
		o.Eyes = slices.Concat(x.blind, x.eyes)
		switch {
		case x.role != "":
			o.Works, o.Fails = crop.No, slices.Concat([]string{x.role}, x.fails)
		case len(x.fails) > 0:
			o.Works = crop.No
		case x.whole():
			o.Works = crop.Yes
		}
		all[i] = o
	}
	return all
}

// judge gives the verdict on a need from the tests of its frames.
func (d *sheet) judge(fits []fit, chosen []int, r int) Finding {
	var f Finding
	var may []fit
	whole, right := 0, 0 // frames that pass every test; frames that are of this kind at all
	for _, x := range fits {
		if x.may() {
			may = append(may, x)
		}
		if x.whole() {
			whole++
		}
		if x.role == "" {
			right++
		}
	}
	at := slices.IndexFunc(fits, func(x fit) bool { return slices.Contains(chosen, x.frame) })
	if at >= 0 {
		c := fits[at]
		d.speakFully(&f, c, may)
		switch {
		case c.whole():
			f.Verdict = Settled
			f.Why = "chosen by hand; " + strings.Join(c.says, ", ")
		case c.may() && len(c.blind) == 0:
			f.Verdict = Settled
			f.Why = fmt.Sprintf("chosen by hand; %sthis rests on the person who chose: %s", passed(c), eyes(c))
		case c.may():
			f.Verdict = ToLook
			f.Why = "chosen by hand, but " + strings.Join(c.blind, "; ")
		case len(may) > 0:
			f.Verdict = ToLook
			f.Why = fmt.Sprintf("the chosen frame is not fit: %s; %s may serve: look and choose again", faults(c), counted(len(may), "other frame", "other frames"))
		default:
			f.Verdict = ToReshoot
			f.Why = "the chosen frame is not fit: " + faults(c) + "; no other frame serves"
		}
		f.Why += after("; ", strings.Join(c.notes, "; "))
		return f
	}
	switch {
	case len(fits) == 0:
		f.Verdict, f.Why = ToShoot, "no frame shows it"
		if n := d.maybe[r]; n > 0 {
			f.Why += fmt.Sprintf("; %s may: assign it if it does", counted(n, "unplaced frame", "unplaced frames"))
		}
	case whole > 0:
		d.speakFully(&f, may[0], may)
		f.Verdict = ToChoose
		f.Why = fmt.Sprintf("%s every test, nobody has chosen; of the best: %s", counted(whole, "frame passes", "frames pass"), strings.Join(may[0].says, ", "))
		f.Why += after("; ", strings.Join(may[0].notes, "; "))
	case len(may) > 0:
		best := may[0]
		d.speakFully(&f, best, may)
		f.Verdict = ToLook
		f.Why = fmt.Sprintf("%s may serve, nobody has chosen; of the best: %s", counted(len(may), "frame", "frames"), passed(best))
		if len(best.blind) > 0 {
			f.Why += strings.Join(best.blind, "; ") + "; "
		}
		f.Why += "eyes must tell: " + eyes(best) + after("; ", strings.Join(best.notes, "; "))
	case right == 0:
		f.Verdict = ToShoot
		f.Why = fmt.Sprintf("none of its %s is taken that way; of the nearest: %s", counted(len(fits), "frame", "frames"), fits[0].role)
	default:
		d.speakFully(&f, fits[0], nil)
		f.Verdict = ToReshoot
		switch {
		case len(fits) == 1:
			f.Why = "its only frame is not fit: "
		case right == 1:
			f.Why = "the only frame of its kind is not fit: "
		default:
			f.Why = "none of its frames is fit; of the best: "
		}
		f.Why += faults(fits[0]) + after("; ", strings.Join(fits[0].notes, "; "))
	}
	return f
}

func passed(f fit) string {
	if len(f.says) == 0 {
		return ""
	}
	return strings.Join(f.says, ", ") + "; "
}

func faults(f fit) string {
	all := f.fails
	if f.role != "" {
		all = append([]string{f.role}, all...)
	}
	return strings.Join(all, "; ")
}

// eyes lists what the tool can't tell of a frame.
func eyes(f fit) string {
	return strings.Replace(strings.Join(f.eyes, "; "), "focus; light", "focus and light", 1)
}

// speakOf names the frame that a finding is about, and others that may serve.
func (d *sheet) speakOf(f *Finding, frame int, may []fit) {
	file := d.frames[frame].Path()
	f.Frame, f.FrameID, f.Variant = &file, d.frames[frame].ID, d.variant[frame]
	for _, m := range may {
		if m.frame != frame {
			f.Others = append(f.Others, d.frames[m.frame].Path())
			f.OtherIDs = append(f.OtherIDs, d.frames[m.frame].ID)
		}
	}
}

// speakFully is speakOf with what the verdict rests on.
func (d *sheet) speakFully(f *Finding, x fit, may []fit) {
	d.speakOf(f, x.frame, may)
	f.Evidence = slices.Clone(x.evidence)
	for _, r := range d.roles[x.frame].Roles {
		for _, e := range r.Why {
			f.Evidence = append(f.Evidence, Evidence{"role", e.Weight, string(r.Role) + ": " + e.Says})
		}
	}
}

// options judges a need of several set-ups. Frames that show one picture, of
// one variant, orientation and angle, are one set-up; whether others differ is
// not measured: a person who chose as many is taken at their word.
func (d *sheet) options(f *Finding, n plan.Need, fits []fit, chosen []int) {
	var may, good []int
	var rests, are []string
	for _, x := range fits {
		if !x.may() {
			continue
		}
		may = append(may, x.frame)
		if slices.Contains(chosen, x.frame) && len(x.blind) == 0 {
			good = append(good, x.frame)
			if says := eyes(x); !slices.Contains(rests, says) {
				rests = append(rests, says)
			}
			are = append(are, path.Base(d.frames[x.frame].Path())+after(" ", bracketed(d.setUp(x.frame))))
		}
	}
	ups, _ := d.pictures(may)
	picked, twins := d.pictures(good)
	switch {
	case picked >= n.N:
		f.Verdict = Settled
		f.Why = fmt.Sprintf("%d chosen by hand: %s; this rests on the person who chose: %s", len(good), strings.Join(are, ", "), strings.Join(rests, "; "))
	case len(may) == 0: // judge has said it
	case len(may) < n.N:
		f.Verdict = ToShoot
		f.Why = fmt.Sprintf("%d set-ups are asked for, only %s may serve", n.N, counted(len(may), "frame", "frames"))
	case len(good) >= n.N:
		f.Verdict = ToLook
		f.Why = fmt.Sprintf("%d set-ups are asked for and %d frames chosen, but %s and %s seem to show one: choose another, or name what differs with variant",
			n.N, len(good), path.Base(d.frames[twins[0]].Path()), path.Base(d.frames[twins[1]].Path()))
	default:
		f.Verdict = ToLook
		f.Why = fmt.Sprintf("%d set-ups are asked for, %d of them chosen; %s may serve, eyes must tell whether their set-ups differ",
			n.N, picked, counted(len(may), "frame", "frames"))
		if ups < n.N {
			f.Why += fmt.Sprintf("; they seem to show %s", counted(ups, "set-up alone", "set-ups alone"))
		}
	}
}

func bracketed(s string) string {
	if s == "" {
		return ""
	}
	return "(" + s + ")"
}

// picture returns the frame that stands for a recipe in the book: the chosen
// hero, else the best there is; −1 none.
func (d *sheet) picture(r int) (frame int, chosen bool) {
	for _, at := range d.chosen[wish{r, string(plan.Hero)}] {
		if d.frames[at].Look.Slate == nil {
			return at, true
		}
	}
	if fits := d.fits(r, plan.Hero, nil); len(fits) > 0 && d.barred[fits[0].frame] == "" {
		return fits[0].frame, false
	}
	return -1, false
}
