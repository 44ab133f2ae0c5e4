package rehearsal

import (
	"fmt"
	"math"
	"path"
	"time"
)

// The two cards, by the names of their volumes.
var cardNames = []string{"SKERRY-A", "SKERRY-B"}

// body is a camera of invented make.
type body struct {
	card, maker, model, serial string
	dcf                        string // the five free characters of its folders
	firstNumber                int    // of its first file
	tagsElevation              bool   // it has a level and writes Exif's CameraElevationAngle
	barredThumb                bool   // its thumbnail is 160 × 120 with bars, as DCF has it for 3:2
	subSecDigits               int
	slow                       time.Duration // what its clock lacks against the studio's
}

var bodies = map[byte]body{
	'A': {card: "SKERRY-A", maker: "SKARVOY", model: "SKARVOY S6", serial: "SK6-004417", dcf: "SKARV",
		firstNumber: 9981, tagsElevation: true, subSecDigits: 2},
	'B': {card: "SKERRY-B", maker: "Brimholm", model: "Brimholm B2", serial: "20861135", dcf: "BRIMH",
		firstNumber: 1, barredThumb: true, subSecDigits: 3, slow: 47 * time.Minute},
}

// lenses by focal length in millimetres.
var lenses = map[float64]string{
	40: "Brimholm 40mm F2.8",
	55: "Skarvoy 55mm F2.8",
	60: "Brimholm Macro 60mm F2.8",
	90: "Skarvoy Macro 90mm F2.8",
}

// stand is how a frame is held and stored.
type stand byte

const (
	lying    stand = 'L' // landscape
	turned   stand = 'T' // portrait, stored lying down with orientation 6
	standing stand = 'S' // portrait, stored as it is seen
)

// shot is one press of the button, as the shoot's table has it.
type shot struct {
	at        float64 // minutes after the set's first
	body      byte
	role      string
	elevation float64 // degrees
	azimuth   float64 // degrees
	focal     float64 // mm
	dist      float64 // mm to the point in focus
	fnum      float64
	hold      stand
	aimX      float64 // mm on the table, the point in the middle of the frame
	aimY      float64
	stops     float64 // exposure against the right one
	chosenFor string  // needs, separated by spaces
	subject   string  // how the recipe id is written: "packet", "sidecar" or not at all
	rating    float64
	miss      float64 // mm behind the point aimed at where the focus lies
}

// dinner is one recipe's time on the table.
type dinner struct {
	recipe string
	day    int     // 1 the first
	start  string  // the studio's wall clock
	tether string  // folder of the second body's frames; "" they are on its DCIM
	small  bool    // the second body writes small files
	height float64 // mm of the food over the table, where it is aimed at
	shots  []shot
}

// exposure is a shot with all that its file says.
type exposure struct {
	shot
	recipe    string
	taken     time.Time // the studio's wall clock, in UTC
	offset    string    // of the studio's zone at that time: "+01:00"
	wrote     time.Time // the instant that the body took it for, by which its card dates the file
	cam       body
	dir, name string // below the card
	width     int    // upright, pixels
	height    int
	garnish   bool
	small     bool
	aimZ      float64 // mm over the table
	raw, memo bool
	damaged   bool
	seed      uint64
	code      [][]bool // of the slate that is photographed instead of the dish; nil none
}

func (e exposure) file() string { return path.Join(e.cam.card, e.dir, e.name) }

// sceneKey is the same for frames of one arrangement.
func (e exposure) sceneKey() string { return fmt.Sprint(e.recipe, e.garnish, e.code != nil) }

func (e exposure) tagged() bool { return e.cam.tagsElevation }

func (e exposure) truth() Truth {
	return Truth{
		File: e.file(), Recipe: e.recipe, Role: e.role, Taken: e.taken.Format("2006-01-02T15:04:05.999"),
		Body: e.cam.serial, Elevation: e.elevation, Tagged: e.tagged(), Azimuth: e.azimuth,
		Focal: e.focal, FNumber: e.fnum, Distance: e.dist / 1000,
		Width: e.width, Height: e.height, Turned: e.hold == turned, Garnished: e.garnish, Rating: e.rating,
	}
}

// told is the wall clock that the body's own clock showed, in UTC.
func (e exposure) told() time.Time { return e.taken.Add(-e.cam.slow) }

// exposures plays the two days, card by card and dinner by dinner, in capture
// order.
func (sc Script) exposures() []exposure {
	codes, scale := sc.Codes, sc.scale()
	number := map[byte]int{'A': bodies['A'].firstNumber, 'B': bodies['B'].firstNumber}
	folder := map[byte]int{'A': 100, 'B': 100}
	var all []exposure
	slates := 0
	for _, d := range dinners {
		start, err := time.Parse("2006-01-02 15:04:05", sc.day(d.day)+" "+d.start)
		if err != nil {
			panic(err) // a mistake in our own table
		}
		before := slateShots(d, codes)
		for k, s := range append(before, d.shots...) {
			e := exposure{shot: s, recipe: d.recipe, cam: bodies[s.body]}
			i := k - len(before)
			if i < 0 {
				e.code, slates = codes[d.recipe], slates+1
			}
			n := len(all) - slates // what is planted stays as it is where slates are shot
			e.seed = uint64(n + 1)
			if i < 0 {
				n += 1000
				e.seed = uint64(n + slates)
			}
			e.taken = start.Add(time.Duration(s.at*60) * time.Second).
				Add(time.Duration(130+n*370%860) * time.Millisecond).Truncate(10 * time.Millisecond)
			y, m, date := e.taken.Date()
			e.wrote = time.Date(y, m, date, e.taken.Hour(), e.taken.Minute(), e.taken.Second(), e.taken.Nanosecond(), sc.First.Location())
			e.offset = e.wrote.Format("-07:00")
			e.wrote = e.wrote.Add(-e.cam.slow)
			e.garnish = s.role != "test"
			e.aimZ = d.height
			e.small = d.small && s.body == 'B'
			if number[s.body] > 9999 { // the counter rolls over into a new folder
				number[s.body] = 1
				folder[s.body]++
			}
			e.dir = fmt.Sprintf("DCIM/%03d%s", folder[s.body], e.cam.dcf)
			if d.tether != "" && s.body == 'B' {
				e.dir = d.tether
			}
			e.name = fmt.Sprintf("SKER%04d.JPG", number[s.body])
			number[s.body]++
			long, short := float64(LongSide), float64(LongSide)*2/3
			if e.small {
				long, short = 1200, 800
			}
			e.width, e.height = even(long*scale), even(short*scale)
			if s.hold != lying {
				e.width, e.height = e.height, e.width
			}
			e.damaged = s.role == "damaged"
			e.raw = d.recipe == "R01" && i == 3
			e.memo = d.recipe == "R02" && i == 1
			all = append(all, e)
		}
	}
	return all
}

// even rounds to the next even number, since the darkroom works in pairs.
func even(v float64) int { return 2 * int(math.Round(v/2)) }
