package plan

import (
	"errors"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"
	"pgregory.net/rapid"
)

// The bounds are the project's own (DESIGN, ANGLE.md): no outside source.
func TestAngleOf(t *testing.T) {
	for _, c := range []struct {
		elevation float64
		want      Angle
	}{
		{90, Overhead}, {75, Overhead}, {74.99, High}, {50, High}, {49.99, ThreeQuarter}, {25, ThreeQuarter},
		{24.99, Low}, {0, Low}, {-30, Low}, {-90, Low}, {90.01, UnknownAngle}, {-90.01, UnknownAngle}, {nan(), UnknownAngle},
	} {
		if got := AngleOf(c.elevation); got != c.want {
			t.Errorf("AngleOf(%v) = %v, want %v", c.elevation, got, c.want)
		}
	}
}

func nan() float64 { zero := 0.0; return zero / zero }

func TestParseAngle(t *testing.T) {
	for in, want := range map[string]Angle{
		"": AnyAngle, "-": AnyAngle, "–": AnyAngle, "n/a": AnyAngle, "any": AnyAngle, "Either": AnyAngle,
		"overhead": Overhead, "OVERHEAD": Overhead, "over-head": Overhead, "top down": Overhead, "top-down": Overhead,
		"Flat lay": Overhead, "flatlay": Overhead, "bird’s eye": Overhead, "birds-eye view": Overhead, "from above": Overhead,
		"overhead shot": Overhead, "90°": Overhead, "80 deg": Overhead, "75": Overhead,
		"high": High, "high angle": High, "60 degrees": High,
		"three-quarter": ThreeQuarter, "Three Quarters": ThreeQuarter, "3/4": ThreeQuarter, "¾": ThreeQuarter, "3/4 view": ThreeQuarter,
		"04-Mar": ThreeQuarter, "3-Apr": ThreeQuarter, "45°": ThreeQuarter, "37,5°": ThreeQuarter,
		"low": Low, "eye level": Low, "side-on": Low, "straight on": Low, "0°": Low,
	} {
		if got, err := ParseAngle(in); err != nil || got != want {
			t.Errorf("ParseAngle(%q) = %q, %v, want %q", in, got, err, want)
		}
	}
}

func TestParseOrientation(t *testing.T) {
	for in, want := range map[string]Orientation{
		"": AnyOrientation, "any": AnyOrientation, "-": AnyOrientation,
		"portrait": Portrait, "Upright": Portrait, "VERTICAL": Portrait, "p": Portrait,
		"landscape": Landscape, "horizontal": Landscape, "L": Landscape, "wide": Landscape,
		"square": Square, "1:1": Square,
	} {
		if got, err := ParseOrientation(in); err != nil || got != want {
			t.Errorf("ParseOrientation(%q) = %q, %v, want %q", in, got, err, want)
		}
	}
}

func TestParseSize(t *testing.T) {
	for in, want := range map[string]Size{
		"": {}, "-": {}, "full": {Kind: FullPage}, "Full page": {Kind: FullPage}, "full-page": {Kind: FullPage},
		"double": {Kind: DoublePage}, "double-page spread": {Kind: DoublePage}, "DPS": {Kind: DoublePage}, "spread": {Kind: DoublePage},
		"half": {Kind: HalfPage}, "1/2": {Kind: HalfPage}, "½ page": {Kind: HalfPage}, "02-Jan": {Kind: HalfPage}, "1-Feb": {Kind: HalfPage},
		"quarter": {Kind: Quarter}, "1/4 page": {Kind: Quarter}, "01-Apr": {Kind: Quarter},
		"120x80 mm": {Measured, 120, 80}, "120 × 80 mm": {Measured, 120, 80}, "120x80": {Measured, 120, 80}, "120 by 80mm": {Measured, 120, 80},
		"120 mm x 80 mm": {Measured, 120, 80}, "120*80 mm": {Measured, 120, 80}, "12 x 8 cm": {Measured, 120, 80}, "12cm x 80mm": {Measured, 120, 80},
		"12,5 x 8 cm": {Measured, 125, 80}, "5 x 4 in": {Measured, 127, 101.6}, `5"x4"`: {Measured, 127, 101.6}, "5 x 4 inches": {Measured, 127, 101.6},
		"120.5x80.25 mm": {Measured, 120.5, 80.25},
	} {
		if got, err := ParseSize(in); err != nil || got != want {
			t.Errorf("ParseSize(%q) = %v, %v, want %v", in, got, err, want)
		}
	}
}

func TestParseNeeds(t *testing.T) {
	usual := DefaultNeeds()
	for in, want := range map[string][]Need{
		"": usual, " ; ": usual, "usual": usual, "hero; overhead; half; palette": usual, "hero/overhead/half/palette": usual,
		"hero": {{Kind: Hero}}, "Hero, Overhead": {{Kind: Hero}, {Kind: NeedOverhead}},
		"hero\noverhead": {{Kind: Hero}, {Kind: NeedOverhead}}, "hero and half": {{Kind: Hero}, {Kind: Half}},
		"flat lay": {{Kind: NeedOverhead}}, "close-up": {{Kind: Detail}}, "colours": {{Kind: Palette}},
		"hero; options 3": {{Kind: Hero}, {Options, 3}}, "3 options": {{Options, 3}}, "options x3": {{Options, 3}},
		"options (3)": {{Options, 3}}, "three options": {{Options, 3}}, "Options: 12": {{Options, 12}},
		"portrait option; landscape option": {{Kind: NeedPortrait}, {Kind: NeedLandscape}},
		"usual; process; opener":            append(DefaultNeeds(), Need{Kind: Process}, Need{Kind: Opener}),
	} {
		got, err := ParseNeeds(in)
		if d := cmp.Diff(want, got); err != nil || d != "" {
			t.Errorf("ParseNeeds(%q) error %v, −want +got:\n%s", in, err, d)
		}
	}
}

func TestNeedsThatCantBeReadNeverMakeTheListShorter(t *testing.T) {
	got, err := ParseNeeds("half; overhed; options")
	want := []Need{{Kind: Half}, {Kind: Hero}, {Kind: NeedOverhead}, {Kind: Palette}}
	if d := cmp.Diff(want, got); d != "" {
		t.Errorf("−want +got:\n%s", d)
	}
	joined, ok := err.(interface{ Unwrap() []error })
	if !ok || len(joined.Unwrap()) != 2 {
		t.Fatalf("error %v, want one for each of overhed and options", err)
	}
	got, err = ParseNeeds("half; half")
	if d := cmp.Diff([]Need{{Kind: Half}}, got); d != "" || err == nil {
		t.Errorf("a need named twice: error %v, −want +got:\n%s", err, d)
	}
}

func TestUnknownWordsAreRefusedAndTheNearestIsNamed(t *testing.T) {
	angle := func(s string) error { _, err := ParseAngle(s); return err }
	orientation := func(s string) error { _, err := ParseOrientation(s); return err }
	size := func(s string) error { _, err := ParseSize(s); return err }
	need := func(s string) error { _, err := ParseNeeds(s); return err }
	for _, c := range []struct {
		name      string
		parse     func(string) error
		in        string
		says, fix string
	}{
		{"a letter missing", angle, "overhed", "not a known angle", "did you mean overhead?"},
		{"two letters swapped", angle, "overhaed", "not a known angle", "did you mean overhead?"},
		{"a slip in a long word", angle, "threequater", "not a known angle", "did you mean three-quarter?"},
		{"nothing near", angle, "dramatic", "not a known angle", "write one of overhead, high, three-quarter, low, any"},
		{"the angle of a frame", angle, "unknown", "not a known angle", "write one of"},
		{"more than straight down", angle, "95°", "no elevation", "0 to 90"},
		{"two angles", angle, "overhead or low", "more than one angle", "or any"},
		{"two angles with a slash", angle, "overhead/low", "more than one angle", "or any"},
		{"portait", orientation, "portait", "not a known orientation", "did you mean portrait?"},
		{"both ways", orientation, "portrait/landscape", "more than one orientation", "among the needs"},
		{"both, in a word", orientation, "both", "more than one orientation", "among the needs"},
		{"doulbe", size, "doulbe", "not a known size", "did you mean double?"},
		{"a third", size, "third", "not a known size", "120x80 mm"},
		{"no unit", size, "12x8", "no unit", "mm, cm or in"},
		{"an unknown unit", size, "12x8 pt", "unknown unit", "mm, cm or in"},
		{"a side of nothing", size, "0x80 mm", "a side of 0 mm", "unit"},
		{"centimetres that were millimetres", size, "1200x800 cm", "a side of 12000 mm", "unit"},
		{"three sides", size, "1x2x3 mm", "not a known size", "120x80 mm"},
		{"heros", need, "hreo", "not a known need", "did you mean hero?"},
		{"options without a number", need, "options", "how many", "options 3"},
		{"one option", need, "options 1", "how many", "from 2 to 99"},
		{"a hundred options", need, "options 100", "how many", "from 2 to 99"},
		{"a number that overflows", need, "options 999999999", "how many", "from 2 to 99"},
		{"three heroes", need, "hero 3", "not counted", "write hero, and options 3"},
		{"none", need, "none", "asks for no picture", "hero; overhead; half; palette"},
	} {
		t.Run(c.name, func(t *testing.T) {
			err := c.parse(c.in)
			var v *ValueError
			if !errors.As(err, &v) {
				t.Fatalf("%q: error %v, want a ValueError", c.in, err)
			}
			if !strings.Contains(v.Says, c.says) || !strings.Contains(v.Want, c.fix) || v.Value != c.in {
				t.Errorf("%q: got %+v, want it to say %q and %q", c.in, *v, c.says, c.fix)
			}
		})
	}
}

func TestParseProps(t *testing.T) {
	for in, want := range map[string][]string{
		"": nil, "-": nil, "none": nil, "grey bowl": {"grey bowl"}, "grey bowl; linen ": {"grey bowl", "linen"},
		"grey bowl, linen": {"grey bowl", "linen"}, "bowl, grey; linen": {"bowl, grey", "linen"},
		"grey bowl\nlinen": {"grey bowl", "linen"}, "grey bowl; Grey  bowl": {"grey bowl"}, "spoon; ; -": {"spoon"},
	} {
		if d := cmp.Diff(want, ParseProps(in)); d != "" {
			t.Errorf("ParseProps(%q), −want +got:\n%s", in, d)
		}
	}
}

// kitten and sitting, and CA and ABC, are the usual examples of the Levenshtein
// and the optimal string alignment distance (3 and 3; from memory).
func TestSlips(t *testing.T) {
	for _, c := range []struct {
		a, b string
		want int
	}{
		{"kitten", "sitting", 3}, {"CA", "ABC", 3}, {"", "abc", 3}, {"overhaed", "overhead", 1}, {"Top-Down", "topdown", 0}, {"plum", "plums", 1},
	} {
		if got, back := Slips(c.a, c.b), Slips(c.b, c.a); got != c.want || back != c.want {
			t.Errorf("Slips(%q, %q) = %d, and %d the other way round, want %d", c.a, c.b, got, back, c.want)
		}
	}
}

func TestTidyDropsWhatCantBeSeen(t *testing.T) {
	if got, want := Tidy(" a\u00a0\u200b\tb\r\n\x1b[31mc\u202e\ufeff "), "a b [31mc"; got != want {
		t.Errorf("Tidy = %q, want %q", got, want)
	}
	if got, want := Tidy("می\u200cخواهم"), "می\u200cخواهم"; got != want {
		t.Errorf("Tidy = %q, want the joiner kept in %q", got, want)
	}
}

func TestEverySizeAndNeedIsReadBackAsPrinted(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		side := rapid.Custom(func(t *rapid.T) float64 {
			return float64(rapid.IntRange(5, 20000).Draw(t, "tenths of a hundredth")) / 10
		})
		s := Size{Measured, max(5, side.Draw(t, "w")), max(5, side.Draw(t, "h"))}
		if got, err := ParseSize(s.String()); err != nil || got != s {
			t.Errorf("ParseSize(%q) = %v, %v", s.String(), got, err)
		}
		n := Need{Options, rapid.IntRange(2, mostOptions).Draw(t, "n")}
		if got, err := ParseNeed(n.String()); err != nil || got != n {
			t.Errorf("ParseNeed(%q) = %v, %v", n.String(), got, err)
		}
	})
	for _, k := range []NeedKind{Hero, NeedOverhead, Half, Palette, NeedPortrait, NeedLandscape, Detail, Process, Opener} {
		if got, err := ParseNeed(Need{Kind: k}.String()); err != nil || got != (Need{Kind: k}) {
			t.Errorf("ParseNeed(%q) = %v, %v", k, got, err)
		}
	}
	for _, k := range []SizeKind{FullPage, DoublePage, HalfPage, Quarter} {
		if got, err := ParseSize(Size{Kind: k}.String()); err != nil || got != (Size{Kind: k}) {
			t.Errorf("ParseSize(%q) = %v, %v", k, got, err)
		}
	}
}

func FuzzParsers(f *testing.F) {
	for _, s := range []string{"", "24-25", "pp. 24–25", "10-Nov", "3/4", "45°", "120x80 mm", `5"x4"`, "hero; options 3", "4 March 2026", "3/4/2026", "\xff\xfe", "bowl, grey; linen"} {
		f.Add(s)
	}
	f.Fuzz(func(t *testing.T, s string) {
		// What is accepted is sound and is read back as printed.
		if d, err := ParseDay(s); err == nil {
			if back, err := ParseDay(d.String()); err != nil || back != d || !d.IsZero() && !d.Valid() {
				t.Errorf("ParseDay(%q) = %v, read back as %v, %v", s, d, back, err)
			}
		}
		if p, err := ParsePages(s); err == nil {
			if back, err := ParsePages(p.String()); err != nil || back != p {
				t.Errorf("ParsePages(%q) = %v, read back as %v, %v", s, p, back, err)
			}
		}
		if z, err := ParseSize(s); err == nil {
			if back, err := ParseSize(z.String()); err != nil || back != z {
				t.Errorf("ParseSize(%q) = %v, read back as %v, %v", s, z, back, err)
			}
		}
		if a, err := ParseAngle(s); err == nil {
			if back, err := ParseAngle(string(a)); err != nil || back != a {
				t.Errorf("ParseAngle(%q) = %v, read back as %v, %v", s, a, back, err)
			}
		}
		if o, err := ParseOrientation(s); err == nil {
			if back, err := ParseOrientation(string(o)); err != nil || back != o {
				t.Errorf("ParseOrientation(%q) = %v, read back as %v, %v", s, o, back, err)
			}
		}
		needs, err := ParseNeeds(s)
		if len(needs) == 0 {
			t.Errorf("ParseNeeds(%q) gives no need", s)
		}
		if back, backErr := ParseNeeds(FormatNeeds(needs)); backErr != nil || !cmp.Equal(needs, back) {
			t.Errorf("ParseNeeds(%q) = %v, %v, read back as %v, %v", s, needs, err, back, backErr)
		}
		ParseProps(s)
	})
}
