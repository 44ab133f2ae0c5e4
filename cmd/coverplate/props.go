package main

import (
	"context"
	"fmt"
	"slices"
	"strings"

	"github.com/spf13/cobra"

	"coverplate/audit"
	"coverplate/ingest/catalogue"
)

func newProps(at surroundings, where *string) *cobra.Command {
	var asJSON bool
	cmd := &cobra.Command{
		Use:   "props [WORD…]",
		Short: "tell where each prop and surface was and will be",
		Long: `The ledger of props and surfaces: what the plan has, what was logged on set
with props add, and what stands in a chosen picture; every repeat with its
pages and its distance in spreads; what the plan lets come again, and why; what
is free today; what is borrowed and when it is due. WORD shows the things whose
names hold it: has this bowl been used already?

The plan says more of a prop or surface in brackets behind its name:
  grey bowl (again: it runs through the soups)     no fault where it repeats
  oak board (borrowed from Una, due 2026-03-09)    must be back by then

Names are one whatever their case, accents, commas and a plural s. "oat linen"
and "linen, oat" are asked about and never merged. Chosen pictures whose
borders have one colour and one texture, though their recipes name two
surfaces, are told, for you to look. A frame is not searched for props: all
that stood on a set counts as seen in its chosen picture.

Exit code 3 where a thing repeats without a reason, or is overdue.`,
		Example: `  coverplate props
  coverplate props grey bowl
  coverplate props add R07 "oat linen" "tin spoon"
  coverplate props add R07 "tarred board" --surface
  coverplate props off R07 "tin spoon"`,
		Args: cobra.ArbitraryArgs,
		RunE: func(cmd *cobra.Command, args []string) error {
			return runProps(cmd.Context(), at, *where, args, asJSON)
		},
	}
	cmd.Flags().BoolVar(&asJSON, "json", false, "print JSON")
	cmd.AddCommand(newPropsAdd(at, where), newPropsOff(at, where))
	return cmd
}

func newPropsAdd(at surroundings, where *string) *cobra.Command {
	var surface, another bool
	cmd := &cobra.Command{
		Use:   "add RECIPE PROP…",
		Short: "log what stands on the set of a dish",
		Long: `Logs what stands on the set of a dish, planned or not, and says where else
each thing is. A name that only the order of its words or one letter tells from
another is refused until you say which you mean. coverplate undo takes it back.`,
		Example: `  coverplate props add R07 "oat linen" "tin spoon"
  coverplate props add R07 "tarred board" --surface
  coverplate props add R07 "linen, oat" --new`,
		Args: usage(cobra.MinimumNArgs(2), "a recipe and a prop or more"),
		RunE: func(cmd *cobra.Command, args []string) error {
			as := ""
			if surface {
				as = catalogue.AsSurface
			}
			return runPropsSay(cmd.Context(), at, *where, args[0], args[1:], as, another)
		},
		ValidArgsFunction: completeRecipes(where),
	}
	cmd.Flags().BoolVar(&surface, "surface", false, "the dish stands on it: a board, a cloth, a table")
	cmd.Flags().BoolVar(&another, "new", false, "it is another thing than the one with a name alike")
	return cmd
}

func newPropsOff(at surroundings, where *string) *cobra.Command {
	return &cobra.Command{
		Use:   "off RECIPE PROP…",
		Short: "say that a prop was not on the set of a dish after all",
		Long: `Says that a planned or logged prop was not on the set of a dish after all, so
that it doesn't count as used there.`,
		Example: `  coverplate props off R07 "tin spoon"`,
		Args:    usage(cobra.MinimumNArgs(2), "a recipe and a prop or more"),
		RunE: func(cmd *cobra.Command, args []string) error {
			return runPropsSay(cmd.Context(), at, *where, args[0], args[1:], catalogue.TakenOff, false)
		},
		ValidArgsFunction: completeRecipes(where),
	}
}

// runPropsSay stores what was on a set, or was not. All names are held against
// the ledger before the first is written.
func runPropsSay(ctx context.Context, at surroundings, where, recipe string, names []string, as string, another bool) error {
	s, g, err := openAndGather(ctx, at, where)
	if err != nil {
		return err
	}
	r, err := findRecipe(g.Recipes, recipe)
	if err != nil {
		return err
	}
	things := audit.Run(g.Shoot).Things
	var decisions []catalogue.Decision
	var says []string
	for _, name := range names {
		name = strings.Join(strings.Fields(name), " ")
		same, near := audit.MayBe(things, name)
		switch {
		case same != "":
			name = same
		case len(near) > 0 && !another && as != catalogue.TakenOff:
			return misused(fmt.Sprintf("write %s if it is that; --new if it is another", shellWord(near[0])),
				"the ledger has %q, and %q may be the same; nothing was written", near[0], name)
		case as == catalogue.TakenOff:
			hint := "coverplate props lists them"
			if len(near) > 0 {
				hint = "did you mean " + near[0] + "? " + hint
			}
			return misused(hint, "the ledger has no %q; nothing was written", name)
		case strings.Trim(name, " .,;-") == "":
			return misused("name what stands on the set", "%q is no name", name)
		}
		decisions = append(decisions, catalogue.Decision{Kind: catalogue.Prop, Recipe: r.ID, Name: name, Need: as})
		line := g.decisionSays(decisions[len(decisions)-1])
		if as != catalogue.TakenOff {
			line += elsewhere(things, name, r.ID)
		}
		says = append(says, line)
	}
	return s.decide(ctx, at, g, decisions, says)
}

// elsewhere tells in which other dishes a thing is; "" in none.
func elsewhere(things []audit.Thing, name, recipe string) string {
	i := slices.IndexFunc(things, func(t audit.Thing) bool { return t.Name == name })
	if i < 0 {
		return ""
	}
	var others []string
	for _, u := range things[i].Uses {
		if u.Recipe != recipe && !u.Off {
			others = append(others, u.Recipe+pageSuffix(u.Pages)+" ("+useSays(u)+")")
		}
	}
	if len(others) == 0 {
		return ""
	}
	return "; seen too in " + joinAnd(others)
}

func runProps(ctx context.Context, at surroundings, where string, words []string, asJSON bool) error {
	_, g, err := openAndGather(ctx, at, where)
	if err != nil {
		return err
	}
	r := audit.Run(g.Shoot)
	things := r.Things
	if len(words) > 0 {
		things = slices.DeleteFunc(slices.Clone(things), func(t audit.Thing) bool { return !holdsAll(t.Name, words) })
		if len(things) == 0 {
			return misused("coverplate props lists all; coverplate props add RECIPE PROP logs one", "no prop or surface of this shoot has %q in its name: it is free", strings.Join(words, " "))
		}
	}
	if asJSON {
		if things == nil {
			things = []audit.Thing{}
		}
		err = writeJSON(at.Stdout, things)
	} else {
		t := newSetter(at.Stdout, termOptionsOf(at))
		if len(words) > 0 {
			for _, x := range things {
				putThing(t, x)
			}
		} else {
			putLedger(t, r, audit.DayOf(g.Shoot, r, g.Today))
		}
		err = t.err
	}
	if err != nil {
		return err
	}
	for _, x := range things {
		if x.Repeat || overdue(x, g.Today.String()) {
			return errWanting
		}
	}
	return nil
}

// holdsAll tells whether a name holds every word, whatever its case.
func holdsAll(name string, words []string) bool {
	name = strings.ToLower(name)
	return !slices.ContainsFunc(words, func(w string) bool { return !strings.Contains(name, strings.ToLower(w)) })
}

func overdue(t audit.Thing, today string) bool { return t.Due != "" && t.Due < today }

// putLedger sets the whole ledger, what needs a person first.
func putLedger(t *setter, r audit.Report, day audit.Day) {
	if len(r.Things) == 0 {
		t.put(0, 2, "The plan names no prop and no surface. Write them into its columns props and surface, or log what stands on set: coverplate props add RECIPE PROP.")
		return
	}
	pick := func(head, says string, of func(audit.Thing) bool, put func(audit.Thing)) {
		first := true
		for _, x := range r.Things {
			if !of(x) {
				continue
			}
			if first {
				t.head(head, says)
				first = false
			}
			put(x)
		}
	}
	t.put(0, 2, fmt.Sprintf("%s: %s", r.Book, counted(len(r.Things), "prop or surface", "props and surfaces")))
	pick("repeats", "without a reason in the plan", func(x audit.Thing) bool { return x.Repeat }, func(x audit.Thing) { putThing(t, x) })
	pick("again, with a reason", "", func(x audit.Thing) bool { return !x.Repeat && again(x) != "" }, func(x audit.Thing) { putThing(t, x) })
	asked := false
	for _, n := range r.Notes {
		if n.Kind == "prop" {
			if !asked {
				t.head("one thing or two?", "only eyes can tell")
				asked = true
			}
			t.put(2, 4, n.Says)
		}
	}
	pick("borrowed", "", func(x audit.Thing) bool { return x.Lent }, func(x audit.Thing) { t.put(2, 4, lentSays(x)) })
	taken := map[string][]string{}
	for _, list := range [][]audit.Dish{day.Over, day.Planned} {
		for _, dish := range list {
			for _, x := range r.Things {
				if slices.ContainsFunc(x.Uses, func(u audit.Use) bool { return u.Recipe == dish.Recipe && !u.Off }) {
					taken[x.Name] = append(taken[x.Name], dish.Recipe)
				}
			}
		}
	}
	pick("wanted today", dayName(day.Day), func(x audit.Thing) bool { return len(taken[x.Name]) > 0 },
		func(x audit.Thing) { t.put(2, 4, x.Name+": "+joinAnd(taken[x.Name])) })
	pick("free today", "no dish of today has it; in the book it is where it stands behind", func(x audit.Thing) bool { return len(taken[x.Name]) == 0 },
		func(x audit.Thing) {
			line := x.Name
			var uses []string
			for _, u := range x.Uses {
				if !u.Off {
					uses = append(uses, u.Recipe+pageSuffix(u.Pages))
				}
			}
			if len(uses) > 0 {
				line += ": " + strings.Join(uses, "; ")
			}
			t.put(2, 4, line)
		})
}

// putThing sets a thing with each of its uses.
func putThing(t *setter, x audit.Thing) {
	line := fmt.Sprintf("%s (%s)", x.Name, x.Kind)
	if x.Repeat && x.Nearest != nil {
		line += fmt.Sprintf(": %s and %s are %s apart", x.Between[0], x.Between[1], counted(*x.Nearest, "spread", "spreads"))
	}
	t.put(2, 4, line)
	for _, u := range x.Uses {
		t.put(6, 4, strings.TrimSpace(u.Recipe+"  "+u.Title)+pageSuffix(u.Pages)+": "+useSays(u))
	}
	if x.Lent {
		t.put(6, 4, lentSays(x))
	}
	if len(x.Ask) > 0 {
		t.put(6, 4, "is it also "+strings.Join(x.Ask, ", or ")+"? Write them alike if so.")
	}
}

// useSays tells what is known of a use.
func useSays(u audit.Use) string {
	var says []string
	switch {
	case u.Off:
		says = append(says, "planned, and not on set after all")
	case u.Planned && u.Logged:
		says = append(says, "planned and on set")
	case u.Logged:
		says = append(says, "on set, not planned")
	default:
		says = append(says, "planned")
	}
	if u.Chosen && !u.Off {
		says = append(says, "its picture is chosen")
	} else if u.Day != "" {
		says = append(says, "for "+u.Day)
	}
	if u.Again != "" {
		says = append(says, "again: "+u.Again)
	}
	return strings.Join(says, ", ")
}

// again is the first reason why a thing may be seen again; "" none.
func again(x audit.Thing) string {
	for _, u := range x.Uses {
		if u.Again != "" && !u.Off {
			return u.Again
		}
	}
	return ""
}

// lentSays tells from whom a thing is borrowed, and what its return asks.
func lentSays(x audit.Thing) string {
	s := x.Name + ": borrowed"
	if x.From != "" {
		s += " from " + x.From
	}
	if x.Due != "" {
		s += ", due back " + x.Due
	} else {
		s += ", no day is written on which it is due"
	}
	if x.Returns != "" {
		s += "; " + x.Returns
	}
	return s
}
