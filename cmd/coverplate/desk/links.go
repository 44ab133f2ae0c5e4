package desk

import (
	"net/http"
	"strings"
	"unicode/utf8"
)

// linksView is the page on which links for other machines are made.
type linksView struct {
	Chrome chrome
	Links  []linkView
}

type linkView struct {
	Name, Role, Used string
	At               []string // addresses that open the desk once
}

// Link makes a link by which another machine opens the desk, once; its guest is
// known by name in what they decide. choose lets them decide, else they look.
// The addresses are one a host by which the desk is known.
func (d *Desk) Link(name string, choose bool) []string {
	return d.addresses(*d.guests.link(name, choose))
}

func (d *Desk) addresses(l guestLink) []string {
	var all []string
	for _, h := range d.o.Hosts {
		if !strings.HasPrefix(h, "127.") && !strings.HasPrefix(h, "localhost") && !strings.HasPrefix(h, "[::1]") {
			all = append(all, "http://"+h+"/enter/"+l.Token)
		}
	}
	return all
}

func (d *Desk) links(w http.ResponseWriter, r *http.Request) {
	v := visitorOf(r)
	if !v.local || !d.o.LAN {
		d.fail(w, r, http.StatusForbidden, "Links are made at the machine that runs the desk.", "Start it with --lan there.")
		return
	}
	p := linksView{Chrome: d.around(r, d.state(), v, "Links")}
	for _, l := range d.guests.given() {
		lv := linkView{Name: l.Name, Role: "look only"}
		if l.Choose {
			lv.Role = "look and choose"
		}
		if l.Used.IsZero() {
			lv.At = d.addresses(l)
		} else {
			lv.Used = l.Used.In(d.o.Where).Format("15:04")
		}
		p.Links = append(p.Links, lv)
	}
	d.show(w, r, http.StatusOK, "links", p)
}

func (d *Desk) addLink(w http.ResponseWriter, r *http.Request) {
	v := visitorOf(r)
	name := strings.TrimSpace(r.PostForm.Get("name"))
	if !v.local || !d.o.LAN {
		d.fail(w, r, http.StatusForbidden, "Links are made at the machine that runs the desk.", "Start it with --lan there.")
		return
	}
	if name == "" || utf8.RuneCountInString(name) > 60 {
		d.fail(w, r, http.StatusBadRequest, "A link is for somebody.", "Write a name of 60 letters at most: it stands beside what they decide.")
		return
	}
	d.guests.link(name, r.PostForm.Get("role") == "choose")
	http.Redirect(w, r, "/links", http.StatusSeeOther)
}

// doorView asks whether to come in. A link is used up by pressing, not by
// looking: programs that preview links look.
type doorView struct {
	Chrome     chrome
	Name, Role string
	Token      string
}

func (d *Desk) door(w http.ResponseWriter, r *http.Request) {
	l := d.guests.whose(r.PathValue("token"))
	if l == nil && visitorOf(r) != (visitor{}) { // the same link again, on the screen that it has opened
		http.Redirect(w, r, "/", http.StatusSeeOther)
		return
	}
	if l == nil {
		d.fail(w, r, http.StatusForbidden, "This link is used up.", "Each opens the desk once. Ask whoever runs it for another.")
		return
	}
	p := doorView{Chrome: chrome{Title: "Come in"}, Name: l.Name, Role: "look", Token: l.Token}
	if l.Choose {
		p.Role = "look and choose"
	}
	if st := d.state(); st != nil {
		p.Chrome.Book = st.report.Book
	}
	d.show(w, r, http.StatusOK, "door", p)
}

func (d *Desk) enter(w http.ResponseWriter, r *http.Request) {
	session, ok := d.guests.open(r.PathValue("token"), d.o.Now())
	if !ok {
		d.fail(w, r, http.StatusForbidden, "This link is used up.", "Each opens the desk once. Ask whoever runs it for another.")
		return
	}
	http.SetCookie(w, &http.Cookie{Name: d.guests.cookie, Value: session, Path: "/", HttpOnly: true, SameSite: http.SameSiteStrictMode})
	http.Redirect(w, r, "/", http.StatusSeeOther)
}
