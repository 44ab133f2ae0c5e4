package desk

import (
	"context"
	"fmt"
	"io"
	"net/http"
	"net/http/httptest"
	"net/url"
	"regexp"
	"strings"
	"testing"
	"time"

	"coverplate/ingest/catalogue"
)

// asked is one request and its answer.
func asked(t *testing.T, s *studio, method, host, path, remote string, form url.Values, headers ...string) *http.Response {
	t.Helper()
	var body io.Reader
	if form != nil {
		body = strings.NewReader(form.Encode())
	}
	r := httptest.NewRequest(method, "http://x"+path, body)
	r.Host, r.RemoteAddr = host, remote
	if form != nil {
		r.Header.Set("Content-Type", "application/x-www-form-urlencoded")
	}
	for i := 0; i+1 < len(headers); i += 2 {
		r.Header.Set(headers[i], headers[i+1])
	}
	w := httptest.NewRecorder()
	s.desk.Handler().ServeHTTP(w, r)
	return w.Result()
}

func text(t *testing.T, r *http.Response) string {
	t.Helper()
	b, err := io.ReadAll(r.Body)
	if err != nil {
		t.Fatal(err)
	}
	return string(b)
}

const (
	here  = "127.0.0.1:50000"
	there = "192.0.2.7:50000" // TEST-NET-1, RFC 5737
)

// TestGuard: who is let in, by which name, and what may be written.
func TestGuard(t *testing.T) {
	s := newStudio(t)
	host := strings.TrimPrefix(s.url, "http://")
	page := text(t, asked(t, s, "GET", host, "/dish/R01", here, nil))
	token := regexp.MustCompile(`name="token" value="([^"]+)"`).FindStringSubmatch(page)
	if token == nil {
		t.Fatal("the page has no form")
	}
	waive := func(tok string) url.Values {
		return url.Values{"token": {tok}, "saw": {"0"}, "back": {"/dish/R01"}, "kind": {"waive"}, "recipe": {"R01"}, "need": {"half"}, "why": {"no post"}}
	}
	for _, c := range []struct {
		name, method, host, path, remote string
		form                             url.Values
		headers                          []string
		want                             int
	}{
		{"own name", "GET", host, "/", here, nil, nil, 200},
		{"rebound name", "GET", "evil.example", "/", here, nil, nil, 403},
		{"right name, other port", "GET", "127.0.0.1:1", "/", here, nil, nil, 403},
		{"no name", "GET", "", "/", here, nil, nil, 403},
		{"another machine without a link", "GET", "studio.test:1", "/", there, nil, nil, 403},
		{"its pictures neither", "GET", "studio.test:1", "/picture/abc000000000/200", there, nil, nil, 403},
		{"its stream neither", "GET", "studio.test:1", "/live", there, nil, nil, 403},
		{"a form without the token", "POST", host, "/decide", here, waive(""), nil, 403},
		{"a form with a wrong token", "POST", host, "/decide", here, waive("x"), nil, 403},
		{"a form from another site", "POST", host, "/decide", here, waive(token[1]), []string{"Sec-Fetch-Site", "cross-site"}, 403},
		{"a form of another origin", "POST", host, "/decide", here, waive(token[1]), []string{"Origin", "http://evil.example"}, 403},
		{"PUT", "PUT", host, "/decide", here, nil, nil, 405},
		{"a link made from another machine", "POST", "studio.test:1", "/links", there, url.Values{"name": {"x"}}, nil, 403},
		{"our own form", "POST", host, "/decide", here, waive(token[1]), []string{"Sec-Fetch-Site", "same-origin", "Origin", "http://" + host}, 303},
	} {
		r := asked(t, s, c.method, c.host, c.path, c.remote, c.form, c.headers...)
		if r.StatusCode != c.want {
			t.Errorf("%s: %d, want %d", c.name, r.StatusCode, c.want)
		}
		if got := r.Header.Get("Content-Security-Policy"); got != policy || strings.Contains(got, "unsafe") {
			t.Errorf("%s: the policy is %q", c.name, got)
		}
	}
	if got := s.decisions(); len(got) != 1 || got[0].Kind != catalogue.Waive || got[0].Who != "maja" {
		t.Errorf("the decisions that hold are %v, want the one waiver of maja", got)
	}
}

// TestLinkOpensOnce: a link is used up by pressing, not by looking, and its
// guest does what the link lets them, under its name.
func TestLinkOpensOnce(t *testing.T) {
	s := newStudio(t)
	come := func(choose bool) (cookie string) {
		at := s.desk.Link("kitchen", choose)
		if len(at) != 1 || !strings.HasPrefix(at[0], "http://studio.test:1/enter/") {
			t.Fatalf("the link is %v", at)
		}
		path := strings.TrimPrefix(at[0], "http://studio.test:1")
		for range 2 {
			if r := asked(t, s, "GET", "studio.test:1", path, there, nil); r.StatusCode != 200 || len(r.Cookies()) != 0 {
				t.Fatalf("looking at the link: %d, %v", r.StatusCode, r.Cookies())
			}
		}
		r := asked(t, s, "POST", "studio.test:1", path, there, url.Values{})
		if r.StatusCode != 303 || len(r.Cookies()) != 1 {
			t.Fatalf("pressing: %d", r.StatusCode)
		}
		c := r.Cookies()[0]
		if !c.HttpOnly || c.SameSite != http.SameSiteStrictMode {
			t.Errorf("the cookie is %v", c)
		}
		for _, m := range []string{"GET", "POST"} {
			if again := asked(t, s, m, "studio.test:1", path, there, url.Values{}); again.StatusCode != 403 {
				t.Errorf("%s of a link that was used: %d, want 403", m, again.StatusCode)
			}
		}
		return c.Name + "=" + c.Value
	}
	for _, choose := range []bool{false, true} {
		cookie := come(choose)
		page := text(t, asked(t, s, "GET", "studio.test:1", "/dish/R01", there, nil, "Cookie", cookie))
		if got := strings.Contains(page, `value="choose"`); got != choose {
			t.Errorf("a guest who may choose (%v) has forms to choose: %v", choose, got)
		}
		token := ""
		if m := regexp.MustCompile(`name="token" value="([^"]+)"`).FindStringSubmatch(page); m != nil {
			token = m[1]
		}
		if !choose { // the form of the machine itself, sent by a guest who may only look
			for _, v := range s.desk.guests.in {
				token = v.token
			}
		}
		form := url.Values{"token": {token}, "saw": {"0"}, "back": {"/"}, "kind": {"waive"}, "recipe": {"R02"}, "need": {"half"}, "why": {"no post"}}
		want := map[bool]int{false: 403, true: 303}[choose]
		if r := asked(t, s, "POST", "studio.test:1", "/decide", there, form, "Cookie", cookie); r.StatusCode != want {
			t.Errorf("a guest who may choose (%v) decides: %d, want %d", choose, r.StatusCode, want)
		}
		if r := asked(t, s, "GET", "studio.test:1", "/links", there, nil, "Cookie", cookie); r.StatusCode != 403 {
			t.Errorf("a guest sees the links of others: %d", r.StatusCode)
		}
	}
	if got := s.decisions(); len(got) != 1 || got[0].Who != "kitchen" {
		t.Errorf("%v, want one decision of kitchen", got)
	}
}

// TestStrangersLearnNothing: pages for who has no link name neither the book nor
// ways that would be refused; the link that was used up leads its own screen in.
func TestStrangersLearnNothing(t *testing.T) {
	s := newStudio(t)
	door := strings.TrimPrefix(s.desk.Link("kitchen", false)[0], "http://studio.test:1")
	cookie := asked(t, s, "POST", "studio.test:1", door, there, url.Values{}).Header.Get("Set-Cookie")
	cookie, _, _ = strings.Cut(cookie, ";")
	for _, page := range []string{"/", "/enter/nothing", door} {
		if body := text(t, asked(t, s, "GET", "studio.test:1", page, there, nil)); strings.Contains(body, "<nav") || strings.Contains(body, "Skerry") || strings.Contains(body, "data-live") {
			t.Errorf("%s tells a stranger %s", page, body)
		}
	}
	if r := asked(t, s, "GET", "studio.test:1", door, there, nil, "Cookie", cookie); r.StatusCode != 303 || r.Header.Get("Location") != "/" {
		t.Errorf("the same link on its own screen: %s to %q", r.Status, r.Header.Get("Location"))
	}
}

// TestNoAddressReachesTheDisk: frames are asked for by their ids, and nothing
// else leads to a file.
func TestNoAddressReachesTheDisk(t *testing.T) {
	s := newStudio(t)
	host := strings.TrimPrefix(s.url, "http://")
	asked(t, s, "GET", host, "/", here, nil)
	for path, want := range map[string]int{
		"/picture/abc000000000/200":                          200,
		"/picture/abc000000000/480":                          200,
		"/picture/abc000000000/1024":                         200,
		"/picture/abc000000000/201":                          404,
		"/picture/abc000000000/-1":                           404,
		"/picture/abc00000000/200":                           404,
		"/picture/..%2f..%2fcatalogue.db/200":                404,
		"/picture/%2e%2e/200":                                404,
		"/picture/originals%2f2026-03-04/200":                404,
		"/pixels/abc000000000?x=0&y=0&w=64&h=48":             200,
		"/pixels/abc000000000?x=440&y=0&w=64&h=48":           400,
		"/pixels/abc000000000?x=-1&y=0&w=64&h=48":            400,
		"/pixels/abc000000000?x=0&y=0&w=9999999&h=48":        400,
		"/pixels/abc000000000?x=9223372036854775807&w=1&h=1": 400,
		"/catalogue.db":                                      404,
		"/html/wall.html":                                    404,
		"/frame/..%2f..%2fetc":                               404,
		"/dish/..%2f..%2fetc":                                404,
		"/close?a=../../secret":                              404,
	} {
		if r := asked(t, s, "GET", host, path, here, nil); r.StatusCode != want {
			t.Errorf("%s: %d, want %d", path, r.StatusCode, want)
		}
	}
	// A preview's path in the catalogue is no proof of where it lies.
	for _, p := range []string{"../outside.jpg", "/etc/hostname", "previews/../../outside.jpg"} {
		f, err := s.store.Frame(context.Background(), catalogue.FrameID(fmt.Sprintf("%012x%052x", 0xabc000000000+uint64(1), 1)))
		if err != nil {
			t.Fatal(err)
		}
		f.Look.Picture = p
		if b, err := s.desk.kept(f); err == nil {
			t.Errorf("%s was read: %d bytes", p, len(b))
		}
	}
}

// TestPicturesAreKept: a picture has a tag and is not sent twice.
func TestPicturesAreKept(t *testing.T) {
	s := newStudio(t)
	host := strings.TrimPrefix(s.url, "http://")
	r := asked(t, s, "GET", host, "/picture/abc000000000/200?m=1", here, nil)
	tag := r.Header.Get("ETag")
	if tag == "" || !strings.Contains(r.Header.Get("Cache-Control"), "immutable") {
		t.Fatalf("ETag %q, %q", tag, r.Header.Get("Cache-Control"))
	}
	if r := asked(t, s, "GET", host, "/picture/abc000000000/200?m=1", here, nil, "If-None-Match", tag); r.StatusCode != 304 {
		t.Errorf("asked again: %d, want 304", r.StatusCode)
	}
}

// TestBackLeadsNowhereElse: where a form leads is ours, whatever it says.
func TestBackLeadsNowhereElse(t *testing.T) {
	for to, want := range map[string]string{
		"/dish/R01?a=1#half":   "/dish/R01?a=1&done=7#half",
		"//evil.example/x":     "/?done=7",
		"https://evil.example": "/?done=7",
		`/\evil.example`:       "/?done=7",
		"javascript:alert(1)":  "/?done=7",
		"":                     "/?done=7",
		"/dish/a%2Fb?done=3":   "/dish/a%2Fb?done=7",
	} {
		if got := back(to, 7); got != want {
			t.Errorf("back(%q) = %q, want %q", to, got, want)
		}
	}
}

// A day that no frame was taken on asks for all frames; and a day whose frames all
// have a dish does not say so of the others.
func TestFramesOfADay(t *testing.T) {
	s := newStudio(t)
	f, err := s.store.Frame(context.Background(), s.frame(30, "R01", "R01_30.JPG"))
	if err != nil {
		t.Fatal(err)
	}
	f.Taken = f.Taken.AddDate(0, 0, 1)
	if err := s.store.Put(context.Background(), f); err != nil {
		t.Fatal(err)
	}
	s.seen(t, 9)
	host := strings.TrimPrefix(s.url, "http://")
	whole := text(t, asked(t, s, "GET", host, "/frames", here, nil))
	lede := func(page string) string {
		return regexp.MustCompile(`(?s)<p class="lede".*?</p>`).FindString(page)
	}
	if !strings.Contains(lede(whole), "dish is not known") {
		t.Fatalf("the studio has no frame without a dish: %s", lede(whole))
	}
	for _, day := range []string{"2026-03-09", "bad"} {
		if got := lede(text(t, asked(t, s, "GET", host, "/frames?day="+day, here, nil))); got != lede(whole) {
			t.Errorf("day %s: %s, want %s", day, got, lede(whole))
		}
	}
	for end := time.Now().Add(15 * time.Second); ; time.Sleep(20 * time.Millisecond) { // until its second time is judged
		got := lede(text(t, asked(t, s, "GET", host, "/frames?day=2026-03-05", here, nil)))
		if strings.Contains(got, "Every frame of Thursday 5 March 2026 has its dish;") && strings.Contains(got, "of other days have none") {
			return
		}
		if time.Now().After(end) {
			t.Fatalf("a day without one: %s", got)
		}
	}
}
