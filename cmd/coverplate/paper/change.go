package paper

import (
	"fmt"
	"html/template"
	"strings"

	"coverplate/audit"
	"coverplate/ingest/catalogue"
)

// Change is one hero for another, as a page shows it.
type Change struct {
	Recipe, Title, Pages string
	From, To, Why        string
	FromPicture          template.URL
	ToPicture            template.URL
	ToID                 catalogue.FrameID
	Before, After        string // nearest neighbour, ΔE2000
	Take                 string // what to type; "" nothing
}

// ChangesOf puts changes into view; take says what to type for one.
func ChangesOf(all []audit.Change, titles map[string]string, picture func(catalogue.FrameID) template.URL, take func(audit.Change) string) []Change {
	var views []Change
	for _, c := range all {
		views = append(views, Change{c.Recipe, titles[c.Recipe], c.Pages, c.From, c.To, c.Why, picture(c.FromID), picture(c.ToID), c.ToID,
			fmt.Sprintf("%.1f", c.Before), fmt.Sprintf("%.1f", c.After), take(c)})
	}
	return views
}

// NotWeighed says of which pictures nothing is known, and of which recipes not
// every frame was weighed.
func NotWeighed(g audit.Suggestion, titles map[string]string) (unknown, leftOut []string) {
	for _, u := range g.Unknown {
		unknown = append(unknown, strings.TrimSpace(u.Recipe+" "+titles[u.Recipe])+PageSuffix(u.Pages)+": "+u.Why)
	}
	for _, u := range g.LeftOut {
		leftOut = append(leftOut, fmt.Sprintf("%s %s: %d of %d frames weighed", u.Recipe, titles[u.Recipe], u.Weighed, u.Of))
	}
	return unknown, leftOut
}
