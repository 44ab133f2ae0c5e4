package audit

import (
	"fmt"
	"math"
	"path"
	"strconv"

	"coverplate/ingest/catalogue"
)

// sharp tests the focus of a frame: against the sharpest alike frame of its
// set, and where it was read at 1:1 against a floor that holds by itself. A
// picture for print (fine) needs that reading.
func (d *sheet) sharp(f *fit, fine bool) {
	m := d.focus(f.frame)
	if m == nil {
		f.ask("focus", "focus")
		return
	}
	b := d.besides[f.frame]
	ofSet, ofAlike, alike, inSet := b.sharpest, b.alike, b.ofAlike, b.ofBest
	var against string
	switch {
	case alike < d.Rules.FocusShare:
		against = fmt.Sprintf("focus %s of the sharpest alike frame of its set, %s; %g is the floor",
			hundredths(alike, d.Rules.FocusShare), path.Base(d.frames[ofAlike].Path()), d.Rules.FocusShare)
	case inSet < d.Rules.FocusShare:
		against = fmt.Sprintf("focus %.2f of the set's best, which shows it otherwise", inSet)
	case ofSet != f.frame:
		against = fmt.Sprintf("focus %.2f of the set's best", inSet)
	case d.setAt[f.frame] >= 0 && len(d.sets[d.setAt[f.frame]].frames) > 1:
		against = "the sharpest of its set"
	}
	full := ""
	if m.Full != nil {
		full = fmt.Sprintf("%s at 1:1", hundredths(*m.Full, d.Rules.FocusFloor))
	}
	switch {
	case m.Full != nil && *m.Full < d.Rules.FocusFloor:
		f.fail("focus", fmt.Sprintf("%s: sharpness %s, %g is the floor%s", d.soft(f.frame), full, d.Rules.FocusFloor, after("; ", against)))
	case alike < d.Rules.FocusShare:
		f.fail("focus", fmt.Sprintf("%s: %s%s", d.soft(f.frame), against, after("; sharpness ", full)))
	case m.Full != nil:
		f.pass("focus", fmt.Sprintf("sharp (%s%s)", full, after(", ", against)))
	case fine && m.NotFull != "":
		f.ask("focus", "sharpness at 1:1, which can't be told ("+m.NotFull+")"+after(": ", against))
	case fine:
		f.closer = true
		f.ask("focus", "sharpness at 1:1, not read yet"+after(": ", against))
	default:
		f.pass("focus", "sharp on screen"+after(", ", against))
	}
	if d.moved(m) && !f.failed("focus") {
		f.note("focus", fmt.Sprintf("more is lost along %.0f° than across it (%.2f): a movement, or lines of its own", m.Direction, m.Motion))
	}
}

func (d *sheet) moved(m *catalogue.Focus) bool {
	return d.Rules.MotionShare > 0 && m.Motion >= d.Rules.MotionShare
}

// soft says how a frame that is not sharp came to be so.
func (d *sheet) soft(at int) string {
	m := d.focus(at)
	if !d.moved(m) {
		return "it is soft, out of focus"
	}
	says := fmt.Sprintf("it is soft, blurred by motion along %.0f° (%.2f)", m.Direction, m.Motion)
	if s := d.frames[at].Exposure.Seconds; s >= 1.0/8 {
		says += fmt.Sprintf(" in %.2g s: the floor or the camera moved", s)
	}
	return says
}

// lit tests the light of a frame: what is lost of what matters. What differs
// from its set is noted, no fault.
func (d *sheet) lit(f *fit) {
	l := d.light(f.frame)
	if l == nil {
		f.ask("light", "light")
		return
	}
	what, alone := burntWhat(l)
	switch {
	case l.MattersHigh > d.Rules.MostBurnt && alone:
		// Beetroot and berries fill a channel of sRGB at the right exposure:
		// drawing is lost or not, and eyes tell.
		f.ask("light", fmt.Sprintf("light: in %s of what matters %s; %s may be burnt", percent(l.MattersHigh, d.Rules.MostBurnt), what, percent(d.Rules.MostBurnt)))
	case l.MattersHigh > d.Rules.MostBurnt:
		f.fail("light", fmt.Sprintf("%s of what matters is burnt out (%s), %s may be: less light or a shorter exposure",
			percent(l.MattersHigh, d.Rules.MostBurnt), what, percent(d.Rules.MostBurnt)))
	}
	if l.MattersLow > d.Rules.MostBlocked {
		f.fail("light", fmt.Sprintf("%s of what matters is black without drawing, %s may be: fill the shadows or expose longer",
			percent(l.MattersLow, d.Rules.MostBlocked), percent(d.Rules.MostBlocked)))
	}
	if l.MattersHigh <= d.Rules.MostBurnt && l.MattersLow <= d.Rules.MostBlocked {
		f.pass("light", fmt.Sprintf("light holds (%s burnt, %s black of what matters)", percent(l.MattersHigh), percent(l.MattersLow)))
	}
	if off, others := d.besides[f.frame].stops, d.besides[f.frame].others; others >= 2 && math.Abs(off) > d.Rules.LevelDrift {
		word := "brighter"
		if off < 0 {
			word = "darker"
		}
		f.note("light", fmt.Sprintf("%.1f stops %s than the alike frames of its set", math.Abs(off), word))
	}
	if off := d.casts[f.frame]; off > d.Rules.WhiteDrift {
		f.note("light", fmt.Sprintf("its white is %.1f ΔE off that of the frames of the same picture: was the white balance changed?", off))
	}
}

// burntWhat tells white that burnt from a strong colour that ran out of one
// channel.
func burntWhat(l *catalogue.Light) (says string, alone bool) {
	names := [3]string{"red", "green", "blue"}
	top := 0
	for c := range l.MattersBy {
		if l.MattersBy[c] > l.MattersBy[top] {
			top = c
		}
	}
	low := min(l.MattersBy[0], l.MattersBy[1], l.MattersBy[2])
	if low*2 < l.MattersBy[top] {
		return "its " + names[top] + " alone runs out", true
	}
	return "white: crockery, cloth or cream as a rule", false
}

// shareOf is a part of a whole, 1 where the whole is nothing.
func shareOf(part, whole float64) float64 {
	if !(whole > 0) {
		return 1
	}
	return part / whole
}

// hundredths writes a share to two digits, or finer where rounding would lift
// it to a mark that it does not reach.
func hundredths(x float64, mark float64) string {
	for digits := 2; digits < 6; digits++ {
		s := fmt.Sprintf("%.*f", digits, x)
		got, _ := strconv.ParseFloat(s, 64)
		if !(x < mark && got >= mark) {
			return s
		}
	}
	return fmt.Sprintf("%g", x)
}

// percent writes a share in per cent, finer where rounding would bring it down
// to a limit that it is over.
func percent(x float64, limits ...float64) string {
	for digits := 2; digits < 8; digits++ {
		s := fmt.Sprintf("%.*g", digits, 100*x)
		got, _ := strconv.ParseFloat(s, 64)
		near := false
		for _, m := range limits {
			near = near || x > m && got <= 100*m
		}
		if !near {
			return s + " %"
		}
	}
	return fmt.Sprintf("%g %%", 100*x)
}

// after puts a mark before a text that is there.
func after(mark, says string) string {
	if says == "" {
		return ""
	}
	return mark + says
}
