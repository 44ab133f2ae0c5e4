package main

import (
	"context"
	"fmt"
	"path/filepath"
	"strings"
	"time"

	"github.com/spf13/cobra"

	"coverplate/ingest"
)

// The verdicts on a card.
const (
	cardKeep   = "keep"
	cardFormat = "may be formatted"
)

func newCards(at surroundings, where *string) *cobra.Command {
	var rehash, asJSON bool
	cmd := &cobra.Command{
		Use:   "cards [CARD…]",
		Short: "say of each card whether it may be formatted",
		Long: `Looks at every file that is on a card now, also clips and odd folders, and says
keep, or may be formatted: then each has verified copies on as many different
devices as copies.wanted in coverplate.toml asks (2), read back after they were
made. Without a card it looks at all that were ever read, where they were last;
one that is not mounted now is to be kept. Nothing is written to any card.

A file is known again by its path, size, time and both ends, or by all that is
in it; --rehash reads every file whole. --json prints one object; exit code 3
where a card that is mounted, or was asked for, must be kept.`,
		Example: `  coverplate cards
  coverplate cards /media/A001 --rehash`,
		Args: cobra.ArbitraryArgs,
		RunE: func(cmd *cobra.Command, args []string) error {
			s, err := openShoot(*where)
			if err != nil {
				return err
			}
			return runCards(cmd.Context(), at, s, args, rehash, asJSON)
		},
	}
	cmd.Flags().BoolVar(&rehash, "rehash", false, "read every file on the card whole")
	cmd.Flags().BoolVar(&asJSON, "json", false, "print JSON")
	return cmd
}

// cardFacts is what cards --json says of one card.
type cardFacts struct {
	Card     string         `json:"card"`
	Root     string         `json:"root"`
	Mounted  bool           `json:"mounted"`
	Verdict  string         `json:"verdict"` // keep, may be formatted
	Why      string         `json:"why"`
	Files    int            `json:"files"` // on it now
	Bytes    int64          `json:"bytes"`
	Passed   int            `json:"passed_over"` // hidden and system files
	InTheWay []cardFileJSON `json:"in_the_way"`
	Away     []string       `json:"away"`   // second copies that count and can't be seen now
	Oldest   *time.Time     `json:"oldest"` // reading back of a copy that counts
}

type cardFileJSON struct {
	Path   string `json:"path"`
	Copies int    `json:"copies"`
	Why    string `json:"why"`
}

func runCards(ctx context.Context, at surroundings, s shoot, roots []string, rehash, asJSON bool) error {
	store, err := s.catalogue()
	if err != nil {
		return err
	}
	defer store.Close()
	all, err := ingest.Cards(ctx, store, s.Dir, s.Settings.Copies, roots, rehash)
	if err != nil {
		return err
	}
	wanting := false
	facts := []cardFacts{}
	for _, c := range all {
		wanting = wanting || !c.Format && (c.Mounted || len(roots) > 0)
		facts = append(facts, factsOfCard(c))
	}
	if asJSON {
		err = writeJSON(at.Stdout, struct {
			Wanted int         `json:"copies_wanted"`
			Cards  []cardFacts `json:"cards"`
		}{s.Settings.Copies, facts})
	} else {
		err = sayCards(at, s, facts)
	}
	if err == nil && wanting {
		err = errWanting
	}
	return err
}

func factsOfCard(c ingest.CardState) cardFacts {
	f := cardFacts{Card: c.Name, Root: c.Root, Mounted: c.Mounted, Verdict: cardKeep, Why: c.Why, Files: c.Files, Bytes: c.Bytes,
		Passed: c.Passed, InTheWay: []cardFileJSON{}, Away: append([]string{}, c.Away...)}
	if c.Format {
		f.Verdict = cardFormat
	}
	if !c.Oldest.IsZero() {
		f.Oldest = &c.Oldest
	}
	for _, x := range c.Lacking {
		f.InTheWay = append(f.InTheWay, cardFileJSON{x.Path, x.Copies, x.Why})
	}
	return f
}

// mostNamed is how many files of one kind are named before the rest is counted.
const mostNamed = 6

func sayCards(at surroundings, s shoot, all []cardFacts) error {
	t := newSetter(at.Stdout, termOptionsOf(at))
	if len(all) == 0 {
		t.put(0, 0, "No card was read yet. coverplate ingest takes one in; coverplate cards CARD looks at one.")
		return t.err
	}
	for i, c := range all {
		if i > 0 {
			t.gap()
		}
		t.put(0, 2, fmt.Sprintf("%s: %s", plain(c.Card), c.Verdict))
		t.put(2, 2, plain(filepath.ToSlash(c.Root)))
		if c.Verdict == cardFormat {
			line := fmt.Sprintf("%s (%s), each with %s on different devices; the oldest was read back %s.", counted(c.Files, "file", "files"),
				bytesOf(c.Bytes), counted(s.Settings.Copies, "verified copy", "verified copies"), c.Oldest.In(s.Settings.Where).Format("2006-01-02 15:04"))
			t.put(2, 2, line)
		} else {
			t.put(2, 2, c.Why+".")
		}
		sayInTheWay(t, c.InTheWay)
		if len(c.Away) > 0 {
			t.put(2, 2, fmt.Sprintf("Not plugged in now, counted as it was read back: %s.", plain(filepath.ToSlash(strings.Join(c.Away, ", ")))))
		}
		if c.Passed > 0 {
			t.put(2, 2, fmt.Sprintf("%s hidden or of the system: not copied.", counted(c.Passed, "file is", "files are")))
		}
	}
	t.gap()
	t.put(0, 0, "Caution: formatting can't be undone, and this looked only at the cards named here, as they are now. Look at the pictures once more before you do it; when in doubt, keep the card.")
	return t.err
}

// sayInTheWay names files by their reason, a few of each.
func sayInTheWay(t *setter, files []cardFileJSON) {
	var reasons []string
	by := map[string][]string{}
	for _, f := range files {
		if by[f.Why] == nil {
			reasons = append(reasons, f.Why)
		}
		by[f.Why] = append(by[f.Why], f.Path)
	}
	for _, why := range reasons {
		all := by[why]
		t.put(2, 2, fmt.Sprintf("%s: %s.", counted(len(all), "file", "files"), plain(why)))
		for _, path := range all[:min(len(all), mostNamed)] {
			t.put(4, 2, cutLeft(plain(path), 74))
		}
		if more := len(all) - mostNamed; more > 0 {
			t.put(4, 2, fmt.Sprintf("and %d more", more))
		}
	}
}
