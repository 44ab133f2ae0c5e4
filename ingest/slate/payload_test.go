package slate

import (
	"errors"
	"strings"
	"testing"
	"time"
	"unicode/utf8"

	"pgregory.net/rapid"
)

// The examples of RFC 9285, section 4.3 and 4.4.
func TestBase45IsRFC9285s(t *testing.T) {
	for plain, coded := range map[string]string{"AB": "BB8", "Hello!!": "%69 VD92EX0", "base-45": "UJCLQE7W581", "ietf!": "QED8WEX0"} {
		if got := base45(plain); got != coded {
			t.Errorf("base45(%q) = %q, want %q", plain, got, coded)
		}
		if got, ok := unbase45(coded); got != plain || !ok {
			t.Errorf("unbase45(%q) = %q, %v, want %q", coded, got, ok, plain)
		}
	}
	for _, bad := range []string{"A", "a00", ":::", "GGW0", "::"} { // 65,536 is the first that three can't hold
		if got, ok := unbase45(bad); ok {
			t.Errorf("unbase45(%q) = %q, want a refusal", bad, got)
		}
	}
}

// levelOf is the level of a code as its format information says it: the first two
// of 15 bits, in row 8 from the left, under the mask 101010000010010 (ISO/IEC
// 18004 section 7.9, table 12).
func levelOf(code [][]bool) string {
	row := code[QuietZone+8][QuietZone:]
	first, second := row[0] != true, row[1] != false
	return map[[2]bool]string{{false, true}: "L", {false, false}: "M", {true, true}: "Q", {true, false}: "H"}[[2]bool{first, second}]
}

// A version holds so many characters at levels M and Q (ISO/IEC 18004 table 7,
// alphanumeric): 20 and 16, 38 and 29; version 5 holds 122 and 87, 4 90 and 67.
func TestPayloadsComeBack(t *testing.T) {
	shown := time.Date(2026, 11, 28, 10, 15, 2, 300e6, time.FixedZone("", 3600))
	for name, c := range map[string]struct {
		p     Payload
		text  string
		side  int // modules, without the quiet zone
		level string
	}{
		"a usual id":                 {Payload{Kind: Dish, Shoot: "K7Q2M", Recipe: "R07"}, "CR1K7Q2M/R07UUD", 21, "Q"},
		"a usual id with its title":  {Payload{Kind: Dish, Shoot: "K7Q2M", Recipe: "R07", Title: "ZA9"}, "RK7Q2MZA9R07MBF", 21, "Q"},
		"a card of before":           {Payload{Kind: Dish, Shoot: "K7Q2M", Recipe: "R07", Title: "0ZA9"}, "CR2K7Q2M/0ZA9R07SGS", 21, "M"},
		"an id of four and a title":  {Payload{Kind: Dish, Shoot: "K7Q2M", Recipe: "R107", Title: "ZA9"}, "", 21, "Q"},
		"an id of five and a title":  {Payload{Kind: Dish, Shoot: "K7Q2M", Recipe: "R-107", Title: "ZA9"}, "", 21, "M"},
		"a shoot of one":             {Payload{Kind: Dish, Shoot: "K", Recipe: "R07", Title: "ZA9"}, "", 21, "Q"},
		"a shoot of twelve":          {Payload{Kind: Dish, Shoot: "C1C2C3C4C5C6", Recipe: "R07", Title: "CR1"}, "", 25, "Q"},
		"another script and a title": {Payload{Kind: Dish, Shoot: "K7Q2M", Recipe: "餃子 №7", Title: "ZA9"}, "", 25, "M"},
		"small letters and a title":  {Payload{Kind: Dish, Shoot: "K7Q2M", Recipe: "leek-tart", Title: "ZA9"}, "", 25, "Q"},
		"small letters":              {Payload{Kind: Dish, Shoot: "K7Q2M", Recipe: "leek-tart"}, "", 25, "Q"},
		"another script":             {Payload{Kind: Dish, Shoot: "K7Q2M", Recipe: "餃子 №7"}, "", 25, "M"},
		"from the right":             {Payload{Kind: Dish, Shoot: "K7Q2M", Recipe: "كنافة-١"}, "", 25, "M"},
		"beyond the first plane":     {Payload{Kind: Dish, Shoot: "K7Q2M", Recipe: "🥟🦪"}, "", 25, "Q"},
		"characters of our own text": {Payload{Kind: Dish, Shoot: "A", Recipe: "$/R "}, "", 21, "Q"},
		"a slash":                    {Payload{Kind: Dish, Shoot: "K7Q2M", Recipe: "7/3"}, "", 21, "M"},
		"longest":                    {Payload{Kind: Dish, Shoot: strings.Repeat("Z", MaxShoot), Recipe: strings.Repeat("z", MaxRecipe), Title: "ZZZ"}, "", 37, "M"},
		"longest of before":          {Payload{Kind: Dish, Shoot: strings.Repeat("Z", MaxShoot), Recipe: strings.Repeat("z", MaxRecipe), Title: "ZZZZ"}, "", 37, "M"},
		"a clock":                    {Payload{Kind: Clock, Shoot: "K7Q2M", Shown: shown}, "", 21, "M"},
		"a clock of no shoot":        {Payload{Kind: Clock, Shown: shown}, "", 21, "Q"},
		"west of Greenwich":          {Payload{Kind: Clock, Shoot: "K7Q2M", Shown: shown.In(time.FixedZone("", -12*3600))}, "", 21, "M"},
		"a zone of three quarters":   {Payload{Kind: Clock, Shown: shown.In(time.FixedZone("", 5*3600+45*60))}, "", 21, "Q"},
		"UTC":                        {Payload{Kind: Clock, Shown: shown.UTC()}, "", 21, "Q"},
	} {
		t.Run(name, func(t *testing.T) {
			text := c.p.String()
			if c.text != "" && text != c.text {
				t.Errorf("text %q, want %q", text, c.text)
			}
			back, err := Parse(text)
			if err != nil || !same(back, c.p) {
				t.Errorf("%q is read as %+v, %v, want %+v", text, back, err, c.p)
			}
			if strings.Trim(text, alphabet) != "" {
				t.Errorf("%q holds what QR's alphanumeric mode does not", text)
			}
			m, err := Make(c.p)
			if err != nil || len(m)-2*QuietZone != c.side || levelOf(m) != c.level {
				t.Errorf("%q of %d characters: %d modules a side at level %s, %v, want %d at %s", text, len(text), len(m)-2*QuietZone, levelOf(m), err, c.side, c.level)
			}
		})
	}
}

// same tells whether two payloads tell the same, the zone of a time included.
func same(a, b Payload) bool {
	_, za := a.Shown.Zone()
	_, zb := b.Shown.Zone()
	return a.Kind == b.Kind && a.Shoot == b.Shoot && a.Recipe == b.Recipe && a.Title == b.Title && a.Shown.Equal(b.Shown) && za == zb
}

func TestWhatCannotBeWritten(t *testing.T) {
	now := time.Date(2026, 11, 28, 10, 15, 2, 0, time.UTC)
	for name, p := range map[string]Payload{
		"no kind":            {Shoot: "A", Recipe: "R"},
		"no shoot":           {Kind: Dish, Recipe: "R07"},
		"no recipe":          {Kind: Dish, Shoot: "A"},
		"a long recipe":      {Kind: Dish, Shoot: "A", Recipe: strings.Repeat("R", MaxRecipe+1)},
		"not UTF-8":          {Kind: Dish, Shoot: "A", Recipe: "\xff"},
		"a small shoot":      {Kind: Dish, Shoot: "a", Recipe: "R07"},
		"a shoot with slash": {Kind: Clock, Shoot: "A/B", Shown: now},
		"a dish with a time": {Kind: Dish, Shoot: "A", Recipe: "R07", Shown: now},
		"a short title":      {Kind: Dish, Shoot: "A", Recipe: "R07", Title: "AA"},
		"a long title":       {Kind: Dish, Shoot: "A", Recipe: "R07", Title: "AAAAA"},
		"a small title":      {Kind: Dish, Shoot: "A", Recipe: "R07", Title: "aaa"},
		"a clock's title":    {Kind: Clock, Title: "AAA", Shown: now},
		"no time":            {Kind: Clock},
		"a clock's recipe":   {Kind: Clock, Recipe: "R07", Shown: now},
		"before 1970":        {Kind: Clock, Shown: time.Date(1969, 1, 1, 0, 0, 0, 0, time.UTC)},
		"after 4453":         {Kind: Clock, Shown: time.Date(4500, 1, 1, 0, 0, 0, 0, time.UTC)},
		"seconds of a zone":  {Kind: Clock, Shown: now.In(time.FixedZone("", 1172))},
		"a day's zone":       {Kind: Clock, Shown: now.In(time.FixedZone("", 24*3600))},
	} {
		if p.Check() == nil || p.String() != "" {
			t.Errorf("%s: Check %v, text %q, want a refusal and none", name, p.Check(), p.String())
		}
		if _, err := Make(p); err == nil {
			t.Errorf("%s: Make drew it", name)
		}
	}
}

// One wrong character is no other payload: CRC-32 tells all bursts of up to 32
// bits, and so most of what is left of it.
func TestAWrongCharacterIsSeen(t *testing.T) {
	for _, mark := range []string{"", "ZA9", "0ZA9"} {
		text := Payload{Kind: Dish, Shoot: "K7Q2M", Recipe: "R07", Title: mark}.String()
		for i := range text {
			for _, c := range alphabet {
				if other := text[:i] + string(c) + text[i+1:]; other != text {
					if p, err := Parse(other); err == nil {
						t.Errorf("%q for %q is read as %+v", other, text, p)
					} else if !errors.Is(err, ErrNotOurs) {
						t.Errorf("%q: %v does not wrap ErrNotOurs", other, err)
					}
				}
			}
		}
	}
}

func TestAnyPayloadComesBack(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		p := Payload{Kind: Dish, Shoot: rapid.StringMatching(`[A-Z0-9]{1,12}`).Draw(t, "shoot")}
		p.Recipe = rapid.StringN(1, 15, MaxRecipe).Draw(t, "recipe")
		if !utf8.ValidString(p.Recipe) {
			t.Skip("rapid's own")
		}
		if rapid.Bool().Draw(t, "titled") {
			p.Title = rapid.StringMatching(`[A-Z0-9]{3,4}`).Draw(t, "title")
		}
		if rapid.Bool().Draw(t, "clock") {
			p.Kind, p.Recipe, p.Title = Clock, "", ""
			zone := time.FixedZone("", 60*rapid.IntRange(-zoneBias, zoneBias).Draw(t, "zone"))
			p.Shown = time.UnixMilli(100 * rapid.Int64Range(0, tenthsSpace-1).Draw(t, "tenths")).In(zone)
		}
		if back, err := Parse(p.String()); err != nil || !same(back, p) {
			t.Fatalf("%+v is written %q and read %+v, %v", p, p.String(), back, err)
		}
	})
}

func FuzzParse(f *testing.F) {
	f.Add("CR1K7Q2M/R07UUD")
	f.Add("CT1K7Q2M0AB12CDSQ000")
	f.Add("CR2K7Q2M/0ZA9R07SGS")
	f.Add("RK7Q2MZA9R07MBF")
	f.Add("https://example.org/menu")
	f.Fuzz(func(t *testing.T, text string) {
		p, err := Parse(text)
		if err != nil {
			if !errors.Is(err, ErrNotOurs) {
				t.Fatalf("%v does not wrap ErrNotOurs", err)
			}
			return
		}
		if p.Check() != nil || p.String() != text {
			t.Fatalf("%q is read as %+v, which is written %q (%v)", text, p, p.String(), p.Check())
		}
	})
}
