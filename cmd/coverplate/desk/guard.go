package desk

import (
	"context"
	"crypto/rand"
	"crypto/subtle"
	"encoding/base64"
	"net"
	"net/http"
	"slices"
	"strings"
	"sync"
	"time"
)

// visitor is who asks, and what they may do.
type visitor struct {
	name   string
	choose bool   // look and choose; else look alone
	local  bool   // at the machine that the desk runs on
	token  string // that their forms carry
}

type visitorKey struct{}

func visitorOf(r *http.Request) visitor {
	v, _ := r.Context().Value(visitorKey{}).(visitor)
	return v
}

// policy lets in what the desk itself serves, and nothing that stands in a
// page.
const policy = "default-src 'none'; img-src 'self'; style-src 'self'; script-src 'self'; connect-src 'self'; " +
	"form-action 'self'; base-uri 'none'; frame-ancestors 'none'"

// mostBody is the most bytes of a form: the ids of a season of frames.
const mostBody = 1 << 20

// guard lets only those in who may come in: asked for by a name of our own,
// from this machine or with a link that was given out; and of what writes only
// that which a page of ours sent.
func (d *Desk) guard(next http.Handler) http.Handler {
	cross := http.NewCrossOriginProtection()
	cross.SetDenyHandler(http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		http.Error(w, "this was sent by a page that is not the desk's", http.StatusForbidden)
	}))
	inner := cross.Handler(next)
	return http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		protect(w.Header())
		if !slices.Contains(d.o.Hosts, strings.ToLower(r.Host)) {
			http.Error(w, "the desk is not known by this name", http.StatusForbidden)
			return
		}
		if r.Method != http.MethodGet && r.Method != http.MethodHead && r.Method != http.MethodPost {
			http.Error(w, "the desk is looked at and told, nothing else", http.StatusMethodNotAllowed)
			return
		}
		v, ok := d.guests.of(r, d.o.Who)
		open := strings.HasPrefix(r.URL.Path, "/enter/") || r.URL.Path == "/desk.css" || r.URL.Path == "/desk.js" || r.URL.Path == "/icon.svg"
		if !ok && !open {
			d.fail(w, r, http.StatusForbidden, "This desk opens by a link.", "Ask whoever runs it for one of your own: each opens once.")
			return
		}
		r = r.WithContext(context.WithValue(r.Context(), visitorKey{}, v))
		if r.Method == http.MethodPost {
			r.Body = http.MaxBytesReader(w, r.Body, mostBody)
			if err := r.ParseForm(); err != nil {
				http.Error(w, "the form is too large or broken", http.StatusRequestEntityTooLarge)
				return
			}
			if !open && (v.token == "" || subtle.ConstantTimeCompare([]byte(r.PostForm.Get("token")), []byte(v.token)) != 1) {
				d.fail(w, r, http.StatusForbidden, "This form is of an earlier desk.", "Load the page again and say it once more; nothing was stored.")
				return
			}
		}
		inner.ServeHTTP(w, r)
	})
}

// protect tells the browser what a page of ours may do, which is little.
func protect(h http.Header) {
	h.Set("Content-Security-Policy", policy)
	h.Set("X-Content-Type-Options", "nosniff")
	h.Set("Referrer-Policy", "same-origin")
	h.Set("Cross-Origin-Opener-Policy", "same-origin")
	h.Set("Cross-Origin-Resource-Policy", "same-origin")
	h.Set("Permissions-Policy", "camera=(), microphone=(), geolocation=()")
}

// guests are those who came in by a link.
type guests struct {
	cookie string // its name
	home   string // token of forms at the machine itself

	mu    sync.Mutex
	links map[string]*guestLink // by token
	in    map[string]visitor    // by session
}

// guestLink opens the desk once.
type guestLink struct {
	Token, Name string
	Choose      bool
	Used        time.Time // zero: not yet
}

func newGuests() *guests {
	return &guests{cookie: "desk-" + secret()[:8], home: secret(), links: map[string]*guestLink{}, in: map[string]visitor{}}
}

// secret is 256 random bits as text.
func secret() string {
	b := make([]byte, 32)
	rand.Read(b) // never fails since Go 1.24
	return base64.RawURLEncoding.EncodeToString(b)
}

// of tells who asks; false where they have no business here.
func (g *guests) of(r *http.Request, who string) (visitor, bool) {
	if c, err := r.Cookie(g.cookie); err == nil {
		g.mu.Lock()
		v, ok := g.in[c.Value]
		g.mu.Unlock()
		if ok {
			return v, true
		}
	}
	host, _, err := net.SplitHostPort(r.RemoteAddr)
	if err != nil {
		return visitor{}, false
	}
	if ip := net.ParseIP(host); ip != nil && ip.IsLoopback() {
		return visitor{name: who, choose: true, local: true, token: g.home}, true
	}
	return visitor{}, false
}

// link makes a link for a guest of that name.
func (g *guests) link(name string, choose bool) *guestLink {
	l := &guestLink{Token: secret(), Name: name, Choose: choose}
	g.mu.Lock()
	defer g.mu.Unlock()
	g.links[l.Token] = l
	return l
}

// open uses a link up and returns a session; false where it is none, or used.
func (g *guests) open(token string, now time.Time) (session string, ok bool) {
	g.mu.Lock()
	defer g.mu.Unlock()
	l := g.links[token]
	if l == nil || !l.Used.IsZero() {
		return "", false
	}
	l.Used = now
	session = secret()
	g.in[session] = visitor{name: l.Name, choose: l.Choose, token: secret()}
	return session, true
}

// whose returns the link of a token; nil where there is none, or it is used.
func (g *guests) whose(token string) *guestLink {
	g.mu.Lock()
	defer g.mu.Unlock()
	if l := g.links[token]; l != nil && l.Used.IsZero() {
		return &guestLink{Token: l.Token, Name: l.Name, Choose: l.Choose}
	}
	return nil
}

// given lists the links, by name.
func (g *guests) given() []guestLink {
	g.mu.Lock()
	defer g.mu.Unlock()
	var all []guestLink
	for _, l := range g.links {
		all = append(all, *l)
	}
	slices.SortFunc(all, func(a, b guestLink) int { return strings.Compare(a.Name+a.Token, b.Name+b.Token) })
	return all
}
