package desk

import (
	"context"
	"fmt"
	"net/url"
	"regexp"
	"strings"
	"testing"

	"github.com/chromedp/cdproto/log"
	"github.com/chromedp/cdproto/runtime"
	"github.com/chromedp/chromedp"

	"coverplate/ingest/catalogue"
)

// teller sends forms to the desk as its own pages do.
type teller struct {
	s     *studio
	token string
}

func newTeller(t *testing.T, s *studio) teller {
	t.Helper()
	page := text(t, asked(t, s, "GET", strings.TrimPrefix(s.url, "http://"), "/dish/R01", here, nil))
	return teller{s, regexp.MustCompile(`name="token" value="([^"]+)"`).FindStringSubmatch(page)[1]}
}

// tell sends a form that knows of all that was decided, and returns what came.
func (x teller) tell(t *testing.T, fields ...string) (code int, page string) {
	t.Helper()
	all, err := x.s.store.Decisions(context.Background())
	if err != nil {
		t.Fatal(err)
	}
	form := url.Values{"token": {x.token}, "saw": {fmt.Sprint(len(all))}, "back": {"/dish/R01"}}
	for i := 0; i < len(fields); i += 2 {
		form.Add(fields[i], fields[i+1])
	}
	r := asked(t, x.s, "POST", strings.TrimPrefix(x.s.url, "http://"), "/decide", here, form)
	return r.StatusCode, text(t, r)
}

// TestAssignTakesItsSetAlong, as the command does: the set is shown before
// anything is stored, and goes along in the same act, or stays.
func TestAssignTakesItsSetAlong(t *testing.T) {
	s := newStudio(t)
	x := newTeller(t, s)
	one := []string{"kind", "assign", "f", "abc000000000", "recipe", "R02"}
	for _, says := range []string{"", "set 2", "set 4", "nonsense"} {
		code, page := x.tell(t, append(one, "reach", says)...)
		if code != 200 || !strings.Contains(page, "And its set: 3 frames more") || !strings.Contains(page, `value="set 3"`) || !strings.Contains(page, "R01_0003.JPG") {
			t.Fatalf("%q: %d, %s", says, code, page)
		}
		if got := s.decisions(); len(got) != 0 {
			t.Fatalf("%q: stored unasked: %+v", says, got)
		}
	}
	if code, page := x.tell(t, append(one, "reach", "set 3")...); code != 303 {
		t.Fatalf("%d, %s", code, page)
	}
	got := s.decisions()
	if len(got) != 4 || got[0].Act == 0 || got[3].Act != got[0].Act || got[3].Recipe != "R02" || got[3].Title != "Rye flatbread" {
		t.Fatalf("%+v, want four frames in one act", got)
	}
	if code, page := x.tell(t, "kind", "undo", "undoes", fmt.Sprint(got[0].ID)); code != 303 || len(s.decisions()) != 0 {
		t.Fatalf("taken back: %d, %s, and %+v holds", code, page, s.decisions())
	}
	if code, _ := x.tell(t, append(one, "reach", "alone")...); code != 303 || len(s.decisions()) != 1 {
		t.Errorf("alone: %d, %+v", code, s.decisions())
	}
	// That it shows no dish is said of a frame alone.
	if code, _ := x.tell(t, "kind", "assign", "f", "abc000000001", "recipe", noDish); code != 303 || len(s.decisions()) != 2 {
		t.Errorf("no dish: %d, %+v", code, s.decisions())
	}
}

// TestLogsWhatStandsOnASet, and which variant of the dish is on it.
func TestLogsWhatStandsOnASet(t *testing.T) {
	s := newStudio(t)
	x := newTeller(t, s)
	last := func() catalogue.Decision {
		t.Helper()
		all, err := s.store.Decisions(context.Background())
		if err != nil || len(all) == 0 {
			t.Fatal(len(all), err)
		}
		return all[len(all)-1]
	}
	for _, c := range []struct {
		name   string
		fields []string
		code   int
		says   string // of the page, where nothing was stored
		want   catalogue.Decision
	}{
		{"a prop", []string{"kind", "prop", "recipe", "R01", "name", "  tin   spoon "}, 303, "", catalogue.Decision{Kind: catalogue.Prop, Name: "tin spoon"}},
		{"a surface", []string{"kind", "prop", "recipe", "R01", "name", "tarred board", "as", "surface"}, 303, "", catalogue.Decision{Kind: catalogue.Prop, Name: "tarred board", Need: catalogue.AsSurface}},
		{"its name is the ledger's", []string{"kind", "prop", "recipe", "R01", "name", "GREY bowl"}, 303, "", catalogue.Decision{Kind: catalogue.Prop, Name: "grey bowl"}},
		{"a name in another order", []string{"kind", "prop", "recipe", "R01", "name", "bowl, grey"}, 400, "may be the same", catalogue.Decision{}},
		{"another thing with such a name", []string{"kind", "prop", "recipe", "R01", "name", "bowl, grey", "another", "yes"}, 303, "", catalogue.Decision{Kind: catalogue.Prop, Name: "bowl, grey"}},
		{"not there after all", []string{"kind", "prop", "recipe", "R01", "name", "tin spoon", "as", "off"}, 303, "", catalogue.Decision{Kind: catalogue.Prop, Name: "tin spoon", Need: catalogue.TakenOff}},
		{"a planned thing was not there", []string{"kind", "prop", "recipe", "R01", "name", "grey bowl", "as", "off"}, 303, "", catalogue.Decision{Kind: catalogue.Prop, Name: "grey bowl", Need: catalogue.TakenOff}},
		{"what no set has", []string{"kind", "prop", "recipe", "R01", "name", "zither", "as", "off"}, 400, "no set has", catalogue.Decision{}},
		{"no name", []string{"kind", "prop", "recipe", "R01", "name", " . "}, 400, "is no name", catalogue.Decision{}},
		{"no such dish", []string{"kind", "prop", "recipe", "R99", "name", "tin spoon"}, 400, "no recipe", catalogue.Decision{}},
		{"neither prop nor surface", []string{"kind", "prop", "recipe", "R01", "name", "tin spoon", "as", "guest"}, 400, "a prop or a surface", catalogue.Decision{}},
		{"a variant from a frame on", []string{"kind", "variant", "recipe", "R01", "name", "with dill", "from", "abc000000001"}, 303, "", catalogue.Decision{Kind: catalogue.Variant, Name: "with dill"}},
		{"one spelling a variant", []string{"kind", "variant", "recipe", "R01", "name", "With  Dill"}, 303, "", catalogue.Decision{Kind: catalogue.Variant, Name: "with dill"}},
		{"from a frame of another dish", []string{"kind", "variant", "recipe", "R02", "name", "with dill", "from", "abc000000001"}, 400, "does not show R02", catalogue.Decision{}},
		{"without a name", []string{"kind", "variant", "recipe", "R01", "name", ""}, 400, "a variant has a name", catalogue.Decision{}},
		{"its end", []string{"kind", "variant", "recipe", "R01", "name", "", "ends", "yes"}, 303, "", catalogue.Decision{Kind: catalogue.Variant}},
	} {
		code, page := x.tell(t, c.fields...)
		if code != c.code || !strings.Contains(page, c.says) {
			t.Errorf("%s: %d, want %d with %q: %s", c.name, code, c.code, c.says, page)
			continue
		}
		if code != 303 {
			continue
		}
		got := last()
		if got.Kind != c.want.Kind || got.Name != c.want.Name || got.Need != c.want.Need || got.Recipe != "R01" || got.Who != "maja" || got.Title != "Barley broth" {
			t.Errorf("%s: %+v", c.name, got)
		}
		if from := got.Frame != ""; got.Kind == catalogue.Variant && from != (c.name == "a variant from a frame on") {
			t.Errorf("%s: begins with the frame %q, or at %v", c.name, got.Frame, got.From)
		}
	}
	page := text(t, asked(t, s, "GET", strings.TrimPrefix(s.url, "http://"), "/dish/R01", here, nil))
	for _, want := range []string{"tarred board", "not on set after all", "with dill"} {
		if !strings.Contains(page, want) {
			t.Errorf("the dish does not tell of %q", want)
		}
	}
}

// TestNoPageIsHeldUp: the browser has nothing against any page: no policy is
// broken, no script fails, nothing is missing.
func TestNoPageIsHeldUp(t *testing.T) {
	s := newStudio(t)
	tab := newTab(t)
	var at string
	said := make(chan string, 200)
	if err := chromedp.Listen(tab, func(e any) {
		switch e := e.(type) {
		case *log.EventEntryAdded:
			// The page of what is not there is itself not there.
			if !strings.HasSuffix(e.Entry.URL, "/nowhere") {
				said <- fmt.Sprintf("%s (%s)", e.Entry.Text, e.Entry.URL)
			}
		case *runtime.EventExceptionThrown:
			said <- e.ExceptionDetails.Text
		}
	}); err != nil {
		t.Fatal(err)
	}
	for _, at = range everyPage {
		do(t, tab, chromedp.Navigate(s.url+at))
		evaluate[bool](t, tab, `document.querySelectorAll("details").forEach(d => d.open = true); document.querySelectorAll("img").forEach(i => i.loading = "eager"); true`)
		eventually(t, tab, `[...document.images].every(i => i.complete)`)
		for len(said) > 0 {
			t.Errorf("%s: %s", at, <-said)
		}
	}
	// What breaks the policy would be heard.
	do(t, tab, chromedp.Navigate(s.url+"/"))
	evaluate[bool](t, tab, `(() => { const s = document.createElement("script"); s.textContent = "window.owned = 2"; document.body.append(s); return true; })()`)
	if got := <-said; !strings.Contains(got, "Content Security Policy") {
		t.Errorf("a script in the page: %q", got)
	}
	if evaluate[bool](t, tab, `window.owned === 2`) {
		t.Error("a script in the page ran")
	}
}

// TestAFrameIsChosenOnItsPage, for what its dish asks for; a palette is
// measured, not chosen.
func TestAFrameIsChosenOnItsPage(t *testing.T) {
	s := newStudio(t)
	x := newTeller(t, s)
	page := text(t, asked(t, s, "GET", strings.TrimPrefix(s.url, "http://"), "/frame/abc000000001", here, nil))
	if !strings.Contains(page, "<option>hero</option><option>half</option></select> of R01") {
		t.Errorf("its page offers no choice, or a palette: %s", page)
	}
	if code, page := x.tell(t, "kind", "choose", "frame", "abc000000001", "recipe", "R01", "need", "half"); code != 303 || len(s.decisions()) != 1 {
		t.Errorf("%d, %s", code, page)
	}
}
