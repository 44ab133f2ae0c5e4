package audit

import (
	"cmp"
	"fmt"
	"path"
	"slices"
	"strconv"
	"strings"
	"time"

	"coverplate/audit/plan"
	"coverplate/ingest/catalogue"
)

// SeenBody is what was read of one body.
type SeenBody struct {
	Body      string      `json:"body"`
	Frames    int         `json:"frames"`
	LastFrame string      `json:"last_frame"` // library path
	LastAt    string      `json:"last_at"`    // the studio's wall clock, "2026-03-04T17:41:09"
	Unread    []NumberGap `json:"unread"`     // in the order of taking

	lastAt time.Time
}

// NumberGap is a leap in the numbers that a body gives its files: frames that
// were deleted, or lie on a card that was not read.
type NumberGap struct {
	After  string `json:"after"` // name of the file before the leap
	Before string `json:"before"`
	N      int    `json:"n"`    // numbers that no frame read has
	From   string `json:"from"` // wall clock of the frame before the leap
	Until  string `json:"until"`

	from, until time.Time
}

// mostLeap is the longest leap in numbers that is taken for frames: a longer
// one is a counter that was set anew (common sense, no source).
const mostLeap = 2000

// seenBodies tells, by name, what was read of each body whose frames have a
// time.
func (d *sheet) seenBodies() []SeenBody {
	out := []SeenBody{}
	anybodys := map[string]bool{} // numbers of frames that name no body: they may be of any
	for _, f := range d.frames {
		if stem, n, ok := counterOf(f); ok && f.Camera.Serial == "" {
			anybodys[stem+strconv.Itoa(n)] = true
		}
	}
	for _, run := range d.bodies() {
		last := d.frames[run[len(run)-1]]
		b := SeenBody{Body: last.Body(), Frames: len(run), LastFrame: last.Path(), LastAt: *wallClock(last.Taken), lastAt: last.Taken.Truncate(time.Second), Unread: []NumberGap{}}
		read := map[string]bool{} // numbers may come out of their order in time
		for _, i := range run {
			if stem, n, ok := counterOf(d.frames[i]); ok {
				read[stem+strconv.Itoa(n)] = true
			}
		}
		for k := 1; k < len(run); k++ {
			f, g := d.frames[run[k-1]], d.frames[run[k]]
			a, from, ok := counterOf(f)
			z, to, also := counterOf(g)
			if !ok || !also || a != z {
				continue
			}
			steps := to - from
			if steps < 0 {
				steps += 9999 // DCF counts 0001 … 9999 and begins again
			}
			if steps < 2 || steps > mostLeap {
				continue
			}
			missing := 0
			for s := 1; s < steps; s++ {
				if key := a + strconv.Itoa((from+s-1)%9999+1); !read[key] && !anybodys[key] {
					missing++
				}
			}
			if missing > 0 {
				b.Unread = append(b.Unread, NumberGap{After: nameOf(f), Before: nameOf(g), N: missing,
					From: *wallClock(f.Taken), Until: *wallClock(g.Taken), from: f.Taken, until: g.Taken})
			}
		}
		out = append(out, b)
	}
	slices.SortFunc(out, func(a, b SeenBody) int { return cmp.Compare(a.Body, b.Body) })
	return out
}

// nameOf is what the leading file of a frame was called on its card.
func nameOf(f catalogue.Frame) string {
	if len(f.Files) == 0 {
		return ""
	}
	return cmp.Or(f.Files[0].Name, path.Base(f.Files[0].Path))
}

// counterOf reads the number that a camera gave a file: the four letters before
// it, in capitals, and 1 … 9999.
func counterOf(f catalogue.Frame) (letters string, n int, ok bool) {
	name := nameOf(f)
	stem := strings.TrimSuffix(name, path.Ext(name))
	m := cameraFile.FindStringSubmatch(stem)
	if m == nil || m[2] != "" {
		return "", 0, false
	}
	n, err := strconv.Atoi(stem[4:])
	return strings.ToUpper(m[1]), n, err == nil && n > 0
}

// turn tells what would turn the answer on a set, and what is known of frames
// of it that were not read. The palette that waits holds nothing.
func (d *sheet) turn(i int, out *Recipe, waits bool, bodies []SeenBody) {
	out.Unread = []string{}
	if n := len(d.shows[i]); n > 0 {
		last := d.frames[d.shows[i][n-1]]
		p := last.Path()
		out.LastFrame, out.LastAt = &p, wallClock(last.Taken)
		if !last.Taken.IsZero() {
			first := d.firstOfDay(i, last.Taken)
			out.Unread = d.unread(first, last, bodies)
			stood := last.Taken.Sub(first).Minutes()
			out.Stood = &stood
		}
	}
	if out.Strike == MayStrike {
		switch {
		case waits:
			out.Turn = "a neighbour's picture too like it, once chosen, would turn it"
		case !slices.ContainsFunc(out.Needs, func(f Finding) bool { return f.Verdict == Settled }):
			out.Turn = "taking a waiver back would turn it"
		default:
			out.Turn = "taking a choice back would turn it"
		}
		return
	}
	var do []string
	for _, v := range urgency {
		for _, f := range out.Needs {
			palette := f.Need == string(plan.Palette)
			if f.Verdict != v || waits && palette {
				continue
			}
			file := ""
			if f.Frame != nil {
				file = path.Base(*f.Frame)
			}
			switch {
			case palette && v == ToReshoot:
				do = append(do, "shoot it again in other colours")
			case palette && slices.ContainsFunc(out.Needs, func(o Finding) bool {
				return o.Need != f.Need && o.Verdict != Settled && o.Verdict != Waived
			}): // it follows the others
			case palette:
				do = append(do, "look at the palette beside its neighbours'")
			case v == ToShoot:
				do = append(do, "shoot "+f.Need)
			case v == ToReshoot:
				do = append(do, "shoot "+f.Need+" again")
			case v == ToLook:
				do = also(do, fmt.Sprintf("look at %s and choose the frame for ", file), f.Need)
			default:
				do = also(do, fmt.Sprintf("choose %s for ", file), f.Need)
			}
		}
	}
	if len(out.Unread) > 0 {
		do = append(do, "read the cards first")
	}
	out.Turn = strings.Join(do, ", ") + ", or waive what the book can do without"
}

// also adds a need to what is to be done, to the same words where they came last.
func also(do []string, words, need string) []string {
	if n := len(do); n > 0 && strings.HasPrefix(do[n-1], words) {
		do[n-1] += " and " + need
		return do
	}
	return append(do, words+need)
}

// firstOfDay is when the first frame of a recipe was taken on the day of last.
func (d *sheet) firstOfDay(i int, last time.Time) time.Time {
	for _, k := range d.shows[i] {
		if t := d.frames[k].Taken; !t.IsZero() && d.Book.DayAt(t) == d.Book.DayAt(last) {
			return t
		}
	}
	return last
}

// unread tells of which bodies frames may lie in cameras or on cards that
// could show a dish whose frames of its last day are first to last. What is not known is not told.
func (d *sheet) unread(first time.Time, last catalogue.Frame, bodies []SeenBody) []string {
	out := []string{}
	for _, b := range bodies {
		for _, g := range b.Unread {
			if g.until.Before(first) || d.Book.DayAt(g.from).Sub(d.Book.DayAt(last.Taken)) > 0 {
				continue
			}
			when := fmt.Sprintf("from %s to %s", g.from.Format("15:04"), g.until.Format("15:04"))
			if d.Book.DayAt(g.until) != d.Book.DayAt(g.from) {
				when = fmt.Sprintf("from %s to %s", g.from.Format("15:04 on 2 January"), g.until.Format("15:04 on 2 January"))
			}
			out = append(out, fmt.Sprintf("%s shot %s between %s and %s, %s, that no card read so far holds: deleted, or on a card that was not read",
				b.Body, counted(g.N, "frame", "frames"), g.After, g.Before, when))
		}
		if at := b.lastAt; b.Body != last.Body() && d.Book.DayAt(at) == d.Book.DayAt(last.Taken) && at.Before(last.Taken.Truncate(time.Second)) {
			out = append(out, fmt.Sprintf("%s was last seen at %s, before this dish's last frame: what it shot since is not known", b.Body, at.Format("15:04")))
		}
	}
	return out
}
