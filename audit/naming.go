package audit

import (
	"fmt"
	"math"
	"math/bits"
	"path"
	"regexp"
	"slices"
	"strings"

	"coverplate/audit/plan"
	"coverplate/ingest/catalogue"
)

// source is where a text comes from. Texts of one source were written in one
// act, so only the strongest of them counts; sources add up.
type source int

const (
	fromMetadata source = iota
	fromFolder
	fromName
	sources
)

// What a text weighs, in nats: the log-odds that a frame shows the recipe
// whose id, or whole title, it carries. Stated choices, in the order in which
// DESIGN section 6 trusts them.
var (
	sourceKind  = [sources]string{"metadata", "folder", "name"}
	idWeight    = [sources]float64{6, 5, 5}
	titleWeight = [sources]float64{5, 4.5, 4.5}
)

const (
	looseID     = 1.5 // taken off where the id fits but for leading zeros
	leastWeight = 0.3 // what weighs less says nothing
	mostWords   = 64  // of a text; the rest is not read
)

// hit is what one text says for one recipe.
type hit struct {
	recipe int
	weight float64
	says   string
}

// index finds recipes in texts.
type index struct {
	recipes []plan.Recipe
	ids     map[string][]idWords // by the id's first word
	loose   map[string][]idWords // the same without leading zeros, where that is one recipe's alone
	titles  [][]string           // telling words of each title
	holding map[string][]int     // recipes whose title or chapter has a word, ascending
	book    []string
	read    map[string][]hit    // by source and text
	split   map[string][]string // words of texts that many frames carry
}

type idWords struct {
	recipe int
	words  []string
}

func newIndex(book plan.Book, recipes []plan.Recipe) *index {
	x := &index{recipes: recipes, ids: map[string][]idWords{}, loose: map[string][]idWords{},
		holding: map[string][]int{}, read: map[string][]hit{}, split: map[string][]string{}, book: words(book.Title)}
	alike := map[string]int{}
	for i, r := range recipes {
		ws := words(r.ID)
		title := telling(words(r.Title))
		x.titles = append(x.titles, title)
		for _, w := range telling(append(slices.Clone(title), words(r.Chapter)...)) {
			x.holding[w] = append(x.holding[w], i)
		}
		if len(ws) == 0 {
			continue
		}
		x.ids[ws[0]] = append(x.ids[ws[0]], idWords{i, ws})
		alike[strings.Join(plainAll(ws), " ")]++
	}
	for i, r := range recipes {
		ws := plainAll(words(r.ID))
		if len(ws) > 0 && alike[strings.Join(ws, " ")] == 1 {
			x.loose[ws[0]] = append(x.loose[ws[0]], idWords{i, ws})
		}
	}
	return x
}

func plainAll(ws []string) []string {
	all := make([]string, len(ws))
	for i, w := range ws {
		all[i] = plain(w)
	}
	return all
}

// bare reports whether an id is too slight to be found within a text: of
// digits alone, or a single sign. It must be the whole text then.
func (i idWords) bare() bool {
	all := strings.Join(i.words, "")
	return len(all) < 2 || number(all)
}

// hits reads one text, whose name in evidence is label.
func (x *index) hits(from source, label, text string) []hit {
	key := sourceKind[from] + "\x00" + label + "\x00" + text
	if found, ok := x.read[key]; ok {
		return found
	}
	ws := words(text)
	if len(ws) > mostWords {
		ws = ws[:mostWords]
	}
	name := fmt.Sprintf("%s %q", label, text)
	best := map[int]hit{}
	keep := func(h hit) {
		if old, ok := best[h.recipe]; h.weight >= leastWeight && (!ok || old.weight < h.weight) {
			best[h.recipe] = h
		}
	}
	x.findIDs(ws, from != fromName, x.ids, func(recipe int) {
		keep(hit{recipe, idWeight[from], name + " names " + x.recipes[recipe].ID})
	})
	x.findIDs(plainAll(ws), from != fromName, x.loose, func(recipe int) {
		keep(hit{recipe, idWeight[from] - looseID, name + " names " + x.recipes[recipe].ID + " but for zeros"})
	})
	for _, h := range x.titleHits(from, name, telling(ws)) {
		keep(h)
	}
	found := make([]hit, 0, len(best))
	for _, h := range best {
		found = append(found, h)
	}
	slices.SortFunc(found, func(a, b hit) int { return a.recipe - b.recipe })
	x.read[key] = found
	return found
}

func (x *index) findIDs(ws []string, whole bool, ids map[string][]idWords, found func(recipe int)) {
	longest := 0 // "R07 b" is not R07 where both are ids
	var at []idWords
	for i, w := range ws {
		for _, id := range ids[w] {
			n := len(id.words)
			if i+n > len(ws) || !slices.Equal(ws[i:i+n], id.words) || id.bare() && (n != len(ws) || !whole) {
				continue
			}
			longest = max(longest, n)
			at = append(at, id)
		}
	}
	for _, id := range at {
		if len(id.words) == longest {
			found(id.recipe)
		}
	}
}

// titleHits weighs the words that a text shares with titles: the share of the
// title that it has, each word counting one over the number of recipes that
// have it, times the source's weight, over the root of the number of recipes
// that have all of those words. A title whose words in the text are fewer
// than another's, and all among them, is not meant.
func (x *index) titleHits(from source, name string, ws []string) []hit {
	has := map[int]uint64{}
	for bit, w := range ws {
		for _, r := range x.holding[w] {
			if slices.Contains(x.titles[r], w) {
				has[r] |= 1 << bit
			}
		}
	}
	order := make([]int, 0, len(has))
	for r := range has {
		order = append(order, r)
	}
	slices.Sort(order)
	var all []hit
	for _, r := range order {
		beaten := false
		for _, other := range order {
			beaten = beaten || has[r] != has[other] && has[r]&^has[other] == 0
		}
		if beaten {
			continue
		}
		var got, of float64
		for _, w := range x.titles[r] {
			share := 1 / float64(len(x.holding[w]))
			of += share
			if bit := slices.Index(ws, w); bit >= 0 {
				got += share
			}
		}
		shared := make([]string, 0, bits.OnesCount64(has[r]))
		for bit, w := range ws {
			if has[r]&(1<<bit) != 0 {
				shared = append(shared, w)
			}
		}
		weight := titleWeight[from] * got / of / math.Sqrt(float64(x.holdingAll(shared)))
		all = append(all, hit{r, weight, fmt.Sprintf("%s has %s of the title of %s (%d of %d words)",
			name, strings.Join(shared, ", "), x.recipes[r].ID, len(shared), len(x.titles[r]))})
	}
	return all
}

// holdingAll counts the recipes that have all of some words.
func (x *index) holdingAll(ws []string) int {
	n := 0
	for _, r := range x.holding[ws[0]] {
		all := true
		for _, w := range ws[1:] {
			_, has := slices.BinarySearch(x.holding[w], r)
			all = all && has
		}
		if all {
			n++
		}
	}
	return max(n, 1)
}

// texts reads all that was written on a frame: by source, for each recipe the
// strongest.
func (x *index) texts(f catalogue.Frame) [sources][]hit {
	var by [sources][]hit
	add := func(from source, label, text string) {
		if strings.TrimSpace(text) == "" {
			return
		}
		for _, h := range x.hits(from, label, text) {
			i, ok := slices.BinarySearchFunc(by[from], h, func(a, b hit) int { return a.recipe - b.recipe })
			switch {
			case !ok:
				by[from] = slices.Insert(by[from], i, h)
			case by[from][i].weight < h.weight:
				by[from][i] = h
			}
		}
	}
	for _, s := range f.Subjects {
		add(fromMetadata, "the subject", s)
	}
	add(fromMetadata, "the title", f.Title)
	add(fromMetadata, "the headline", f.Headline)
	body := x.words(f.Camera.Make + " " + f.Camera.Model + " " + f.Camera.Serial)
	for _, file := range f.Files {
		for _, folder := range x.folders(file) {
			ws := x.words(folder)
			// A folder that is called as the camera is names no dish, though a
			// body may well be called R7.
			if cameraFolder.MatchString(folder) || within(ws, body) || within(x.book, ws) && within(ws, x.book) {
				continue
			}
			add(fromFolder, "the folder", folder)
		}
		name := file.Name
		if name == "" {
			name = path.Base(file.Path)
		}
		add(fromName, "the file name", written(strings.TrimSuffix(name, path.Ext(name))))
	}
	return by
}

// words is words of a text that many frames carry. A nil index keeps none.
func (x *index) words(text string) []string {
	if x == nil {
		return words(text)
	}
	ws, ok := x.split[text]
	if !ok {
		ws = words(text)
		x.split[text] = ws
	}
	return ws
}

// cardNumber is what ingest adds to the name of a card whose name another had.
var cardNumber = regexp.MustCompile(` \(\d+\)$`)

// folders returns the folders that a person may have named. The library's own
// folders, of the day and the body, are not among them. A card's name counts
// only where it is more than one word: A001 is how cards are numbered.
func (x *index) folders(f catalogue.File) []string {
	var all []string
	if card := cardNumber.ReplaceAllString(f.Card, ""); len(x.words(card)) > 1 {
		all = append(all, card)
	}
	from := f.Source
	if from == "" && path.IsAbs(f.Path) {
		from = f.Path
	}
	for _, folder := range strings.Split(path.Dir(strings.ReplaceAll(from, `\`, "/")), "/") {
		if folder != "" && folder != "." && folder != ".." {
			all = append(all, folder)
		}
	}
	return all
}

// within reports whether all words of a are among those of b, and a has any.
func within(a, b []string) bool {
	for _, w := range a {
		if !slices.Contains(b, w) {
			return false
		}
	}
	return len(a) > 0
}
