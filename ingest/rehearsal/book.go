package rehearsal

import (
	"bytes"
	"encoding/csv"
	"strings"
)

// row is one line of the plan, in the order of planHeader.
type row struct {
	id, title, chapter, pages, size, orientation, angle string
	needs, props, surface                               string
	day                                                 int // 1 the first
	notes                                               string
}

var planHeader = []string{
	"recipe", "title", "chapter", "pages", "size", "orientation", "angle",
	"needs", "props", "surface", "day", "notes",
}

// rows is the plan of Skerry Table, in page order. All of it is invented.
var rows = []row{
	{"R01", "Dark rye with caraway butter", "From the oven", "11", "full", "portrait", "three-quarter",
		"hero; overhead; half; palette", "beech bread board; horn-handled knife; butter pot", "oak boards", 1, "slices fanned, crumb to the window"},
	{"R02", "Smoked trout with soured cream and dill", "From the water", "13", "full", "portrait", "three-quarter",
		"hero; overhead; half; palette", "white fish plate; pewter fork", "black slate", 1, "skin side down, dill last"},
	{"R03", "Beetroot and caraway", "From the cellar", "15", "full", "portrait", "overhead",
		"hero; overhead; half; palette", "grey stoneware bowl; tin spoon; striped napkin", "undyed linen", 1, "stains: cover the cloth until the last minute"},
	{"R04", "Pearl barley with leeks", "From the field", "17", "full", "portrait", "three-quarter",
		"hero; half", "wide enamel plate; ash spoon", "blue painted boards", 1, "upright, room above for the title"},
	{"R05", "Potato cakes with brown butter", "From the field", "19", "full", "portrait", "three-quarter",
		"hero; overhead; half; palette", "ochre plate; small jug", "birch table", 1, ""},
	{"R06", "Oat and honey biscuits", "From the oven", "21", "full", "portrait", "three-quarter",
		"hero; overhead; half; palette", "amber dish; honey jar", "pine table", 1, "not the colours of the page before"},
	{"R07", "Carrots roasted with sea buckthorn", "From the field", "23", "half", "landscape", "high",
		"hero; overhead; half; palette", "long white platter; iron fork", "green painted boards", 2, ""},
	{"R08", "Green pea soup with mint", "From the field", "25", "full", "portrait", "three-quarter",
		"hero; overhead; half; palette", "white soup bowl; steel spoon; bleached napkin", "white painted boards", 2, ""},
	{"R09", "Plums baked in birch syrup", "From the orchard", "27", "full", "portrait", "overhead",
		"hero; overhead; half; palette", "grey stoneware bowl; silver spoon", "rust linen", 2, ""},
	{"R10", "Cucumber with mustard seed", "From the cellar", "29", "full", "portrait", "overhead",
		"hero", "glass bowl; wooden tongs", "zinc table top", 2, ""},
	{"R11", "Red cabbage and apple", "From the cellar", "31", "full", "portrait", "three-quarter",
		"hero; overhead; half; palette", "black iron pan; checked cloth", "mustard cloth", 2, ""},
	{"R12", "Cloudberries in cream", "From the moor", "33", "full", "portrait", "three-quarter",
		"hero; overhead; half; palette", "blue glass coupe; long spoon", "grey wool blanket", 2, "berries come with the noon boat"},
}

// Titles are the titles of the invented dishes by their ids.
func Titles() map[string]string {
	titles := map[string]string{}
	for _, r := range rows {
		titles[r.id] = r.title
	}
	return titles
}

// planCSV writes the plan as an author's spreadsheet would.
func (sc Script) planCSV() []byte {
	var b bytes.Buffer
	w := csv.NewWriter(&b)
	w.Write(planHeader)
	for _, r := range rows {
		w.Write([]string{r.id, r.title, r.chapter, r.pages, r.size, r.orientation, r.angle,
			r.needs, r.props, r.surface, sc.day(r.day), r.notes})
	}
	w.Flush() // a bytes.Buffer takes everything
	return b.Bytes()
}

// gaps is what the report must find: every need that is not settled.
var gaps = []Gap{
	{"R02", "overhead", "shoot", "all frames of the trout are from the side; none was taken from above"},
	{"R02", "hero", "look", "the chosen frame is a stop and a half too bright: the white plate is burnt out"},
	{"R04", "half", "look", "the enamel plate fills the chosen frame: any half cuts it"},
	{"R04", "hero", "reshoot", "the chosen frame lies, and so do all others; the page stands"},
	{"R05", "palette", "reshoot", "golden brown on honey-coloured wood, like the biscuits on the next spread"},
	{"R06", "palette", "reshoot", "golden brown on honey-coloured wood, like the potato cakes on the spread before"},
	{"R06", "overhead", "reshoot", "taken by hand from 58°; that body writes no level, but a rim and the table's edges tell"},
	{"R08", "hero", "look", "the chosen frame is focused behind the bowl; the one before is sharp"},
	{"R08", "overhead", "waived", "Maren does not want it"},
	{"R10", "hero", "reshoot", "the second body had been left in its small mode: 1200 × 800 pixels"},
	{"R11", "hero", "choose", "nobody has chosen"},
	{"R11", "palette", "look", "rests on a picture that nobody has chosen"},
	{"R12", "hero", "shoot", "never shot: the berries missed the boat"},
	{"R12", "overhead", "shoot", "never shot"},
	{"R12", "half", "shoot", "never shot"},
	{"R12", "palette", "shoot", "never shot"},
}

// bookOf puts the shoot's facts together from its exposures.
func (sc Script) bookOf(exposures []exposure) Shoot {
	s := Shoot{
		Title: "Skerry Table", TrimWidth: 150, TrimHeight: 200, Bleed: 3, Gutter: 8, GoodPPI: 300, FloorPPI: 240,
		FirstDay: sc.day(1), LastDay: sc.day(3), Zone: sc.First.Location().String(), Today: sc.day(2),
		Plan: sc.planCSV(),
		Waivers: []Waiver{
			{"R08", "overhead", "from above the soup is one flat green; the page wants its steam and depth"},
		},
		Gaps:    append([]Gap(nil), gaps...),
		Repeats: []Repeat{{"grey stoneware bowl", []string{"R03", "R09"}}},
		Clocks:  []Clock{{Body: bodies['B'].serial, Slow: bodies['B'].slow}},
	}
	for _, e := range exposures {
		if e.damaged {
			s.Unread = append(s.Unread, e.file())
			continue
		}
		s.Truths = append(s.Truths, e.truth())
		if e.recipe == "" {
			s.Unplaced = append(s.Unplaced, e.file())
		}
		for _, need := range strings.Fields(e.chosenFor) {
			s.Choices = append(s.Choices, Choice{File: e.file(), Need: need, Recipe: e.recipe})
		}
	}
	return s
}
