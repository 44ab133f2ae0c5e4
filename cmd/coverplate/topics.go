package main

import (
	"strings"

	"github.com/spf13/cobra"
)

// newTopics are help by tasks: coverplate help day-on-set. Lines of four
// blanks stay as they are in the manual too.
func newTopics() []*cobra.Command {
	topic := func(name, short, long, example string) *cobra.Command {
		return &cobra.Command{Use: name, Short: short, Long: long + "\n\n    " + strings.ReplaceAll(example, "\n", "\n    ")}
	}
	return []*cobra.Command{
		topic("first-hour", "from an empty machine to a plan of your own",
			`See the whole job on an invented shoot first; it takes half a minute and leaves
a folder that you may throw away. Then make the folder of your own shoot: the
title is guessed from its name, the zone from the machine, the days from a plan
that stands in it. Fill the plan in with any spreadsheet program, and check it
as often as you like: every fault is named with its row, its column and what
would be right. The settings, coverplate.toml, explain each key.`,
			`coverplate demo
coverplate new skerry-table --trim 189x246 --days 2026-03-02..2026-03-11
cd skerry-table
coverplate plan template --xlsx
coverplate plan check
coverplate help plan-columns`),
		topic("plan-columns", "what each column of the plan takes",
			`    recipe       a short id of its own: R07
    title        the dish as the book names it
    chapter      in words
    pages        of the picture: 24, or 24-25
    size         full, double, half, quarter, or 120x80 mm
    orientation  portrait, landscape, square; empty: either
    angle        overhead, high, three-quarter, low, any
    needs        with ; between: hero, overhead, half, palette (these are
                 what an empty cell means), portrait, landscape, detail,
                 process, opener, options 3
    props        with ; between; in brackets behind a name:
                 (again: why it may be seen twice)
                 (borrowed from Una, due 2026-03-09)
    surface      what the dish stands on, with the same brackets
    day          2026-03-04
    lettering    top, bottom, left, right, any: calm room for text
    allergens    in words, for the day's sheet; empty says nothing
    notes        for the crew

Only recipe and title must be there. Names of columns are matched forgivingly,
their order is free, and columns of your own are kept. A prop is one thing
whatever the case, accents and plural of its name.`,
			`coverplate plan template --xlsx
coverplate plan check`),
		topic("day-on-set", "from the morning to the last strike",
			`In the morning read what the day must include; last night's gaps stand first.
At each set-up ask whether a bowl has been used, and log what stands there.
When variants are shot, name them. Ingest a card as soon as it is out of the
camera. Before a set is struck, ask: the last line says strike or hold, why,
and what would turn it. What the program can't tell it leaves to eyes.

Format a card only where coverplate cards says that its files are whole on two
devices; in doubt keep it. Food that stood on a set was out of safe temperature
for a time that no picture tells: local rules and licensed practice decide.
What hangs over a table hangs on a safety wire too.`,
			`coverplate day
coverplate props grey bowl
coverplate props add R07 "oat linen" "tin spoon"
coverplate on R07
coverplate variant R07 "without garnish"
coverplate ingest /media/A001
coverplate audit R07
coverplate choose DSC_0419.JPG hero
coverplate cards`),
		topic("after-the-day", "at night: what is missing, and tomorrow",
			`Read the whole report, choose among what is fit, and see how the book turns:
neighbouring spreads too alike are easiest shot again tomorrow. Then what
tomorrow must include, today's gaps first, and whether the pace holds. Read the
originals again where a disk is in doubt.`,
			`coverplate audit
coverplate flatplan --suggest
coverplate wall --pdf
coverplate contact --pdf R07
coverplate day tomorrow --pdf
coverplate verify`),
		topic("handing-over", "when all is covered, and pictures leave the studio",
			`What is settled rests on what people chose: an audit that exits with 0 wants
nothing more. A picture can carry the place where it was taken, the serial
number of the camera and the hour; post leaves them out, deliver takes place and
numbers out of JPEGs, originals and delivered raws keep them.
Faces and hands want a release from the person whose they are, and so may what
others designed or painted. The archive can be checked without this program:
manifest-sha256.txt with sha256sum, a bag by any BagIt tool.`,
			`coverplate audit
coverplate post R07 --to posts
coverplate deliver --spec-example > delivery.toml
coverplate deliver --to /media/out/skerry-1
coverplate verify --second
coverplate bag /media/archive/skerry-bag`),
	}
}
