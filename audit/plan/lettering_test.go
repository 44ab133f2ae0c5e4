package plan

import "testing"

func TestParseLettering(t *testing.T) {
	for in, want := range map[string]Lettering{"": "", "-": "", "none": "", "Top": LetteringTop, " above ": LetteringTop, "foot": LetteringBottom, "LEFT": LetteringLeft, "right": LetteringRight, "yes": LetteringAny, "anywhere": LetteringAny} {
		if got, err := ParseLettering(in); got != want || err != nil {
			t.Errorf("%q: %q, %v, want %q", in, got, err, want)
		}
	}
	for _, in := range []string{"middle", "topp left", "24"} {
		if got, err := ParseLettering(in); err == nil || got != "" {
			t.Errorf("%q: %q, no fault", in, got)
		}
	}
}
