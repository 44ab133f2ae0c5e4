// Package desk is the local web page that people look at while the set still
// stands: a docket a dish, the book as it lies open, frames that no one could
// place. It shows what audit judges and stores what people decide, and says who
// decided. It serves the machine it runs on, and others only by links given out
// one by one; no address leads to a file but by the id of a frame.
package desk

import (
	"context"
	"embed"
	"errors"
	"fmt"
	"html/template"
	"io/fs"
	"net/http"
	"os"
	"strconv"
	"strings"
	"sync"
	"time"

	"coverplate/audit"
	"coverplate/audit/plan"
	"coverplate/cmd/coverplate/paper"
	"coverplate/ingest/catalogue"
)

//go:embed html/*.html
var pages embed.FS

//go:embed static/desk.css
var style string

//go:embed static/desk.js
var script []byte

//go:embed static/icon.svg
var icon []byte

// Options is what the desk needs of the program around it.
type Options struct {
	Dir    string           // the shoot's folder
	Store  *catalogue.Store // its catalogue; Close it after the desk has ended
	Copies int              // verified copies on different devices that a card wants
	Who    string           // the person at this machine
	Hosts  []string         // host:port by which the desk may be asked for; any other is refused
	LAN    bool             // whether links for other machines may be given out
	Now    func() time.Time
	Where  *time.Location // of the studio

	// Gather reads the plan and the catalogue: frames without their maps, of
	// which only those need be read that differ from before, what an earlier
	// Gather gave. Its error is a fault of the plan or the settings: what was
	// known before stays.
	Gather func(ctx context.Context, before []catalogue.Frame) (audit.Shoot, error)

	// Stamp is another text whenever anything changed that Gather rests on and
	// the catalogue does not hold: the plan, the settings, the day.
	Stamp func() string

	// Underway says how far an ingest is that is at work in the shoot, in this
	// process or another; "" where none is.
	Underway func() string
}

// Desk is the page at work.
type Desk struct {
	o       Options
	set     *template.Template
	root    *os.Root // previews are opened below it alone
	began   time.Time
	guests  *guests
	shelf   shelf
	hub     hub
	changed chan struct{} // holds one where there is something new to judge
	hurry   chan struct{} // holds one where that is not to wait
	near    near
	room    room
	suggest suggested
	cards   cardsSeen

	mu   sync.RWMutex
	now  *state
	news chan struct{} // closed when now is replaced
}

// New makes a desk. Run must be started for it to show anything.
func New(o Options) (*Desk, error) {
	texts := map[string]string{}
	names, err := fs.Glob(pages, "html/*.html")
	if err != nil {
		return nil, err
	}
	for _, n := range names {
		b, err := pages.ReadFile(n)
		if err != nil {
			return nil, err
		}
		texts[strings.TrimSuffix(strings.TrimPrefix(n, "html/"), ".html")] = string(b)
	}
	set, err := paper.Templates(texts, paper.Lazy, template.FuncMap{"undoing": undoingOf})
	if err != nil {
		return nil, err
	}
	root, err := os.OpenRoot(o.Dir)
	if err != nil {
		return nil, fmt.Errorf("open the shoot: %w", err)
	}
	return &Desk{o: o, set: set, root: root, began: time.Now(), guests: newGuests(), changed: make(chan struct{}, 1), hurry: make(chan struct{}, 1), near: newNear(), room: make(room, 1), news: make(chan struct{}),
		hub: hub{all: map[chan event]bool{}}}, nil
}

// Close lets go of the shoot's folder.
func (d *Desk) Close() error { return d.root.Close() }

// Run keeps what the desk shows true until ctx ends. The error is a fault of
// the catalogue, or nil.
func (d *Desk) Run(ctx context.Context) error {
	ctx, stop := context.WithCancel(ctx)
	defer stop()
	var wg sync.WaitGroup
	defer wg.Wait()
	defer stop()
	wg.Go(func() { d.judge(ctx) })
	wg.Go(func() { d.readNear(ctx) })
	wg.Go(func() { d.listen(ctx) })
	wg.Go(func() { d.mindCards(ctx) })
	d.touch()
	err := d.o.Store.Watch(ctx, lookEvery, d.touch)
	if ctx.Err() != nil && errors.Is(err, context.Cause(ctx)) {
		return nil
	}
	return err
}

// Handler serves the pages.
func (d *Desk) Handler() http.Handler {
	mux := http.NewServeMux()
	type answer = func(http.ResponseWriter, *http.Request, *state, visitor)
	give := func(pattern string, h answer) {
		mux.HandleFunc("GET "+pattern, func(w http.ResponseWriter, r *http.Request) {
			st, err := d.first(r.Context())
			if err != nil {
				d.fail(w, r, http.StatusServiceUnavailable, "The shoot can't be read yet.", err.Error())
				return
			}
			h(w, r, st, visitorOf(r))
		})
	}
	look := func(pattern string, h answer) {
		mux.HandleFunc("GET "+pattern, func(w http.ResponseWriter, r *http.Request) {
			st, err := d.until(r.Context(), patience, anyState)
			if err != nil {
				d.wait(w, r)
				return
			}
			h(w, r, st, visitorOf(r))
		})
	}
	look("/{$}", d.wall)
	look("/dish/{recipe}", d.dish)
	look("/frame/{frame}", d.frame)
	look("/close", d.close)
	look("/frames", d.frames)
	look("/book", d.book)
	look("/days", d.days)
	look("/props", d.props)
	look("/cards", d.cardsPage)
	look("/said", d.said)
	look("/slate", d.slate)
	give("/code/clock", d.codeOfClock)
	give("/code/dish/{recipe}", d.codeOfDish)
	give("/picture/{frame}/{side}", d.picture)
	give("/pixels/{frame}", d.pixels)
	give("/seen/{frame}", d.seen)
	mux.HandleFunc("GET /live", d.live)
	mux.HandleFunc("GET /links", d.links)
	mux.HandleFunc("POST /links", d.addLink)
	mux.HandleFunc("GET /enter/{token}", d.door)
	mux.HandleFunc("POST /enter/{token}", d.enter)
	mux.HandleFunc("POST /decide", d.decide)
	mux.HandleFunc("GET /desk.css", d.css)
	mux.HandleFunc("GET /desk.js", sendStill("text/javascript; charset=utf-8", script))
	mux.HandleFunc("GET /icon.svg", sendStill("image/svg+xml", icon))
	mux.HandleFunc("/", func(w http.ResponseWriter, r *http.Request) {
		d.fail(w, r, http.StatusNotFound, "There is no such page.", "")
	})
	return d.guard(mux)
}

// css is the style of all pages, with leaves of the book's trim.
func (d *Desk) css(w http.ResponseWriter, r *http.Request) {
	var book plan.Book
	if st := d.state(); st != nil {
		book = st.shoot.Book
	}
	w.Header().Set("Content-Type", "text/css; charset=utf-8")
	w.Header().Set("Cache-Control", "no-cache")
	fmt.Fprint(w, paper.Style(book), style)
}

// chrome is what stands around every page.
type chrome struct {
	Title, Book string
	Here        string // address of the page, for forms that lead back
	Nav         []link
	Who         string
	MayChoose   bool
	Local       bool      // whether the visitor sits at the machine itself
	Token       string    // of forms
	Saw         int64     // the last decision that the page knows of
	State       string    // which judgement it shows, as the stream names it
	Done        *saidView // what the last form did; nil nothing
	Fault       string    // why what is shown may be old
	Underway    string
	Unplaced    int
	Wide        bool // without the measure of a text
}

type link struct {
	To, Says string
	Here     bool
}

// undoing is what the form takes that takes a decision back.
type undoing struct {
	Chrome chrome
	ID     int64
}

func undoingOf(c chrome, id int64) undoing { return undoing{c, id} }

// around makes the chrome of a page.
func (d *Desk) around(r *http.Request, st *state, v visitor, title string) chrome {
	if v == (visitor{}) { // who has no link learns nothing of the shoot
		return chrome{Title: title}
	}
	c := chrome{Title: title, Here: r.URL.RequestURI(), Who: v.name, MayChoose: v.choose, Local: v.local, Token: v.token}
	if st != nil {
		c.Book, c.Saw, c.State, c.Fault, c.Unplaced = st.report.Book, st.last, d.edition(st), st.fault, len(st.report.Unplaced)
		if id, err := strconv.ParseInt(r.URL.Query().Get("done"), 10, 64); err == nil {
			c.Done = d.saidOf(st, id)
		}
	}
	if d.o.Underway != nil {
		c.Underway = d.o.Underway()
	}
	for _, l := range []link{{"/", "Dockets", false}, {"/frames", "Frames", false}, {"/book", "The book", false}, {"/days", "Days", false},
		{"/slate", "Slate", false},
		{"/props", "Props", false}, {"/cards", "Cards", false}, {"/said", "Decided", false}} {
		l.Here = r.URL.Path == l.To
		c.Nav = append(c.Nav, l)
	}
	if d.o.LAN && v.local {
		c.Nav = append(c.Nav, link{"/links", "Links", r.URL.Path == "/links"})
	}
	return c
}

// show renders a page whole and sends it.
func (d *Desk) show(w http.ResponseWriter, r *http.Request, code int, name string, view any) {
	var b strings.Builder
	if err := paper.Execute(&b, d.set, name, view); err != nil {
		http.Error(w, "this page could not be made: "+err.Error(), http.StatusInternalServerError)
		return
	}
	h := w.Header()
	h.Set("Content-Type", "text/html; charset=utf-8")
	h.Set("Cache-Control", "no-store")
	w.WriteHeader(code)
	if r.Method != http.MethodHead {
		fmt.Fprint(w, b.String())
	}
}

// patience is how long a page waits for the shoot to be read a first time before
// it says so instead. Thousands of frames take some seconds.
const patience = time.Second

// waitView is a page that stands until the shoot was read once.
type waitView struct{ Chrome chrome }

// wait says that the shoot is being read. The page asks again when it was, with
// or without its script.
func (d *Desk) wait(w http.ResponseWriter, r *http.Request) {
	w.Header().Set("Refresh", "3") // WHATWG HTML, 7.4.6; the script is faster
	w.Header().Set("Retry-After", "3")
	d.show(w, r, http.StatusServiceUnavailable, "wait", waitView{d.around(r, nil, visitorOf(r), "The shoot is being read")})
}

// failView is a page that says what went wrong.
type failView struct {
	Chrome     chrome
	Says, More string
}

func (d *Desk) fail(w http.ResponseWriter, r *http.Request, code int, says, more string) {
	v := failView{d.around(r, d.state(), visitorOf(r), says), says, more}
	d.show(w, r, code, "fail", v)
}
