package desk

import (
	"context"
	"fmt"
	"net/http"
	"sync"
	"time"

	"coverplate/cmd/coverplate/paper"
	"coverplate/ingest"
)

// cardsSeen is the last look at the cards.
type cardsSeen struct {
	mu   sync.Mutex
	all  []ingest.CardState
	at   time.Time
	busy sync.Mutex
}

func (c *cardsSeen) last() ([]ingest.CardState, time.Time) {
	c.mu.Lock()
	defer c.mu.Unlock()
	return c.all, c.at
}

// lookAtCards looks at every card as it is now.
func (d *Desk) lookAtCards(ctx context.Context) error {
	d.cards.busy.Lock() // one look at a time: it reads cards
	defer d.cards.busy.Unlock()
	all, err := ingest.Cards(ctx, d.o.Store, d.o.Dir, d.o.Copies, nil, false)
	if err != nil {
		return err
	}
	d.cards.mu.Lock()
	defer d.cards.mu.Unlock()
	d.cards.all, d.cards.at = all, d.o.Now()
	return nil
}

// mindCards looks at the cards when another was read, so that the first page
// can say which may be formatted.
func (d *Desk) mindCards(ctx context.Context) {
	seen := ""
	for {
		st, news := d.next()
		if st != nil {
			now := ""
			for _, c := range st.shoot.Cards {
				now += fmt.Sprintf("%s %s %v\n", c.Name, c.Root, c.LastRead)
			}
			if now != seen && d.lookAtCards(ctx) == nil {
				seen = now
				d.hub.tell(event{"shoot", ""})
			}
		}
		select {
		case <-news:
		case <-ctx.Done():
			return
		}
	}
}

// cardsView is the page of the cards.
type cardsView struct {
	Chrome chrome
	At     string
	Wanted string
	Cards  []cardView
	Fault  string
}

type cardView struct {
	Name, Root, Says, Why string
	Format                bool
	Lacking               []lackView
	Away                  []string
	Passed                int
}

type lackView struct {
	Why  string
	N    int
	Some []string
	Rest int // files that are not named
}

// mostLacking is how many files of one reason are named.
const mostLacking = 6

func (d *Desk) cardsPage(w http.ResponseWriter, r *http.Request, st *state, v visitor) {
	p := cardsView{Chrome: d.around(r, st, v, "Cards"), Wanted: paper.Counted(d.o.Copies, "verified copy", "verified copies")}
	if err := d.lookAtCards(r.Context()); err != nil {
		p.Fault = err.Error()
	}
	all, at := d.cards.last()
	if !at.IsZero() {
		p.At = at.In(d.o.Where).Format("15:04:05")
	}
	for _, c := range all {
		cv := cardView{Name: c.Name, Root: c.Root, Why: c.Why, Format: c.Format, Away: c.Away, Passed: c.Passed}
		cv.Says = fmt.Sprintf("%s on it", paper.Counted(c.Files, "file", "files"))
		if !c.Mounted {
			cv.Says = "not mounted now"
		}
		if !c.Oldest.IsZero() {
			cv.Says += ", the oldest copy that counts was read back " + c.Oldest.In(d.o.Where).Format("2 January, 15:04")
		}
		by := map[string]int{}
		for _, x := range c.Lacking {
			i, ok := by[x.Why]
			if !ok {
				i = len(cv.Lacking)
				by[x.Why] = i
				cv.Lacking = append(cv.Lacking, lackView{Why: x.Why})
			}
			l := &cv.Lacking[i]
			l.N++
			if len(l.Some) < mostLacking {
				l.Some = append(l.Some, x.Path)
			} else {
				l.Rest++
			}
		}
		p.Cards = append(p.Cards, cv)
	}
	d.show(w, r, http.StatusOK, "cards", p)
}
