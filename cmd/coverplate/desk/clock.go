package desk

import (
	"fmt"
	"html/template"
	"net/http"
	"slices"
	"strings"
	"time"

	"coverplate/audit/plan"
	"coverplate/cmd/coverplate/paper"
	"coverplate/ingest/slate"
)

// Clock is one page that needs no shoot: the studio's time as a running code,
// over the whole screen, to be photographed with every camera.
type Clock struct {
	Hosts []string // names by which it may be asked for, with the port
	Slate string   // id of the shoot on its slates; "" any
	Now   func() time.Time
	Where *time.Location // the studio's zone
}

// clockView is that page.
type clockView struct {
	Time, Day, Zone string
}

// Handler serves the page. The error is a mistake of our own in it.
func (c Clock) Handler() (http.Handler, error) {
	b, err := pages.ReadFile("html/clock.html")
	if err != nil {
		return nil, err
	}
	page, err := template.New("clock").Parse(string(b))
	if err != nil {
		return nil, err
	}
	mux := http.NewServeMux()
	mux.HandleFunc("GET /{$}", func(w http.ResponseWriter, _ *http.Request) {
		now := c.Now().In(c.Where)
		w.Header().Set("Content-Type", "text/html; charset=utf-8")
		w.Header().Set("Cache-Control", "no-store")
		paper.Execute(w, page, "clock", clockView{now.Format("15:04:05"), now.Format("Monday 2 January 2006"), now.Format("-07:00")})
	})
	mux.HandleFunc("GET /code/clock", func(w http.ResponseWriter, _ *http.Request) { sendClock(w, c.Now().In(c.Where), c.Slate) })
	mux.HandleFunc("GET /desk.css", func(w http.ResponseWriter, _ *http.Request) {
		w.Header().Set("Content-Type", "text/css; charset=utf-8")
		fmt.Fprint(w, paper.Style(plan.Book{}), style)
	})
	mux.HandleFunc("GET /desk.js", sendStill("text/javascript; charset=utf-8", script))
	mux.HandleFunc("GET /icon.svg", sendStill("image/svg+xml", icon))
	return http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		protect(w.Header())
		if !slices.Contains(c.Hosts, strings.ToLower(r.Host)) {
			http.Error(w, "the clock is not known by this name", http.StatusForbidden)
			return
		}
		mux.ServeHTTP(w, r)
	}), nil
}

// sendClock sends the time as a code, and in words beside it.
func sendClock(w http.ResponseWriter, now time.Time, shoot string) {
	code, err := slate.Make(slate.Payload{Kind: slate.Clock, Shoot: shoot, Shown: now})
	if err != nil {
		http.Error(w, "the clock can't be drawn: "+err.Error(), http.StatusInternalServerError)
		return
	}
	w.Header().Set("X-Studio-Time", now.Format("15:04:05"))
	sendCode(w, code)
}

// sendStill sends what all pages have alike.
func sendStill(kind string, b []byte) http.HandlerFunc {
	return func(w http.ResponseWriter, _ *http.Request) {
		w.Header().Set("Content-Type", kind)
		w.Header().Set("Cache-Control", "no-cache")
		w.Write(b)
	}
}
