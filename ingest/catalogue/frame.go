package catalogue

import (
	"strings"
	"time"

	"coverplate/colour"
)

// FrameID is the SHA-256 of a frame's leading file (the JPEG or HEIC, else
// the raw) as 64 lower-case hexadecimal digits. A frame keeps the ID that it
// first got: where its raw came first and its JPEG on a later card, that is
// the raw's, and what people decided about it stays true.
type FrameID string

// FileKind tells what a file of a frame is.
type FileKind string

// The kinds of file that a frame is made of.
const (
	JPEG    FileKind = "jpeg"
	HEIC    FileKind = "heic"    // HEIC and HIF
	Picture FileKind = "picture" // PNG, TIFF, WebP: what a studio's software writes
	Raw     FileKind = "raw"
	Sidecar FileKind = "sidecar" // XMP
	Memo    FileKind = "memo"    // a voice memo of the frame's stem
	Thumb   FileKind = "thumb"   // DCF's THM
	Other   FileKind = "other"   // kept and verified, not understood: clips, logs
)

// File is one file of a frame as it stands in the library.
type File struct {
	Kind     FileKind
	Path     string    // below the shoot's folder with forward slashes; absolute where it was taken in place
	Name     string    // the name it had on the card, also where Path had to differ
	Size     int64     // bytes
	SHA256   string    // 64 hexadecimal digits
	Card     string    // name of the card it came from
	Source   string    // path on that card, with forward slashes
	Modified time.Time // when it was last written, as the card's file system has it, UTC; zero unknown
	Verified time.Time // when the copy was read back and found equal, UTC; zero where it was taken in place
}

// Camera is the body and lens as the camera wrote them; empty fields were not
// written.
type Camera struct {
	Make, Model, Serial, Lens string
}

// Exposure is what the camera wrote of one exposure. Zero and nil fields were
// not written, or were written as unknown, infinite or nonsense.
type Exposure struct {
	FocalLength     float64  // millimetres
	Focal35         float64  // millimetres, 35 mm equivalent
	FNumber         float64  // f-number
	Seconds         float64  // shutter, seconds
	ISO             float64  // ISO speed
	SubjectDistance float64  // metres
	Elevation       *float64 // degrees of the optical axis as Exif has it: −90 looks straight down
	ElevationFrom   Sensor   // what tells Elevation; "" where it is nil
	Cut             bool     // the pixels have another shape than the camera wrote: a part of the picture was cut off since
}

// Sensor is where a camera's elevation comes from.
type Sensor string

// The sources of an elevation.
const (
	ByExif    Sensor = "exif"    // Exif's own tag of the elevation angle
	ByGravity Sensor = "gravity" // the direction of gravity in the maker's note
)

// Frame is one exposure: all that is known of it, from its files.
type Frame struct {
	ID          FrameID
	Files       []File    // the leading file first
	Taken       time.Time // the camera's wall clock, its digits held in UTC; zero: not written
	Offset      string    // of the wall clock from UTC, "+01:00"; "" not written
	Camera      Camera
	Exposure    Exposure
	Orientation int    // 1 … 8 as Exif has it; 0 not written
	ColourSpace string // "sRGB", "Adobe RGB (1998)", "Display P3", what an embedded profile calls itself, "uncalibrated"; "" not written
	Rating      *float64
	Title       string   // dc:title
	Headline    string   // photoshop:Headline
	Subjects    []string // dc:subject
	Look        Look
	Unread      string // why facts or pixels could not be read, in words; "" where all is well
	Measured    int    // number of the way in which facts and look were measured; 0 before they were counted

	// Stored is another number whenever anything of the frame but its files was
	// stored, Revision whenever that was more than what was read of it at 1:1.
	// Only Store.Bare tells them.
	Stored, Revision int64
}

// Path returns the library path of the frame's leading file.
func (f Frame) Path() string {
	if len(f.Files) == 0 {
		return ""
	}
	return f.Files[0].Path
}

// Body names the camera that took the frame, as people tell bodies apart: by
// make, model and serial. One that wrote no serial is told from others of its
// model by the card it was read from.
func (f Frame) Body() string {
	name := strings.TrimSpace(f.Camera.Model)
	if make := strings.TrimSpace(f.Camera.Make); !strings.HasPrefix(strings.ToLower(name), strings.ToLower(make)) {
		name = strings.TrimSpace(make + " " + name)
	}
	if name == "" {
		name = "unnamed body"
	}
	switch {
	case f.Camera.Serial != "":
		return name + " #" + f.Camera.Serial
	case len(f.Files) > 0 && f.Files[0].Card != "":
		return name + ", card " + f.Files[0].Card
	}
	return name
}

// Damaged is Look.Preview of a frame whose own pixels are damaged or cut off.
// Picture shows as much of it as can be read, or a smaller picture that it
// carries; what is measured is of the latter alone.
const Damaged = "damaged"

// Look is what the pixels of a frame measure.
type Look struct {
	Width, Height int    // of the original, upright, pixels; 0 unknown
	Preview       string // which pixels were measured: "exif", "mpf", "raw", "decoded"; Damaged; "" none could be had
	Picture       string // the upright preview kept for people, a path below the shoot's folder; "" none
	Palette       []colour.Swatch
	Surface       *colour.Swatch // dominant colour of the border
	Profile       string         // how codes became colours, in words: "Display P3, embedded"; "" not known
	Focus         *Focus         // nil not measured
	Light         *Light         // nil not measured
	Rims          []Rim          // round rims of vessels, the surest first; nil none found or not sought
	Lines         []Line         // long straight edges, the longest first; nil none found or not sought
	Matters       *Matters       // nil not measured
	Slate         *Slate         // nil none was read
}

// Slate is the code of a slate that stands in the picture: a dish's, or a clock.
type Slate struct {
	Text   string    `json:"text"`             // what the code holds
	Shoot  string    `json:"shoot,omitempty"`  // id of the shoot it was made for; "" of a clock alone
	Recipe string    `json:"recipe,omitempty"` // id that the recipe had when it was made; "" of a clock
	Title  string    `json:"title,omitempty"`  // mark of the title that the recipe had then; "" not in the code
	Shown  time.Time `json:"shown,omitzero"`   // the code's own clock, with its zone; zero on paper
	Others []Slate   `json:"others,omitempty"` // slates of other dishes that stand in the picture too; none of these has others
}

// Focus is how sharp a frame is: on a grid over the upright picture, and in
// what matters of it. Scores fall with every blur.
type Focus struct {
	Score     float64  `json:"score"`              // 0 … 1, of the whole at the preview's size, the middle counting most
	Full      *float64 `json:"full"`               // 0 … 1, the sharpest of what matters at 1:1 of the original; nil not read
	NotFull   string   `json:"not_full,omitempty"` // why it was sought and can't be had, in words; "" not sought, or had
	Motion    float64  `json:"motion"`             // 0 … 1, how much more is lost along one direction than across it
	Direction float64  `json:"direction"`          // degrees of that direction, 0 … 180, counter-clockwise from the picture's width
	Columns   int      `json:"columns"`            // of the grid
	Rows      int      `json:"rows"`
	Grid      []uint8  `json:"grid"` // Columns × Rows, row by row from the top: local sharpness, 255 the most the scale knows

	// Fine and Far are the energy of slopes at two scales, the grain's share
	// taken off, of which Over makes a score for any place: one value for two
	// by two cells of the grid, row by row. Fine may fall a little below 0
	// where there is nothing but grain.
	Fine Floats `json:"fine,omitempty"`
	Far  Floats `json:"far,omitempty"`
}

// Light is how a frame is exposed, in linear light. Shares are 0 … 1.
type Light struct {
	High        [3]float64 `json:"high"`         // share of all pixels of the preview measured that are clipped high (codes 254 and 255), by the file's channels R, G, B
	Low         [3]float64 `json:"low"`          // share clipped low (codes 0 and 1)
	MattersHigh float64    `json:"matters_high"` // share of what matters that is clipped high in any channel
	MattersLow  float64    `json:"matters_low"`  // share of what matters that is clipped low in all channels
	MattersBy   [3]float64 `json:"matters_by"`   // share of what matters that is clipped high, by channel
	Level       float64    `json:"level"`        // mean luminance of what matters in stops from white: 0 white, −2.47 an 18 % grey; −16 the least, for black

	// Stops is the mean light of the channels R, G and B of sRGB in each cell
	// of a grid, in stops from white, row by row from the top: by what light
	// frames that show the same surfaces were taken, and whether they do.
	// Untold where a part of the cell is clipped or all but black.
	Columns int       `json:"columns"`
	Rows    int       `json:"rows"`
	Stops   [3]Floats `json:"stops"`
}

// Untold is what Light.Stops holds of a cell whose light can't be told. Light
// is never so bright.
const Untold = 16

// Rim is an ellipse that the round rim of a plate, bowl, pan or glass draws in
// the upright picture. Lengths are shares of the picture's width, so that a
// circle seen from straight above has A = B whatever the picture's shape.
type Rim struct {
	X       float64 `json:"x"`       // centre, share of the width from the left
	Y       float64 `json:"y"`       // centre, share of the width (not of the height) from the top
	A       float64 `json:"a"`       // larger half axis
	B       float64 `json:"b"`       // smaller half axis
	Turn    float64 `json:"turn"`    // degrees of the larger axis, −90 … 90, clockwise as seen from the picture's width
	Cover   float64 `json:"cover"`   // 0 … 1, share of the ellipse traced by an edge
	Support float64 `json:"support"` // 0 … 1, share of the part inside of the picture that is traced
	Score   float64 `json:"score"`   // 0 … 1, how sure it is a rim
}

// Line is a long straight edge of the upright picture: of a table, a board, a
// tray, or anything else. Its ends are in shares of the picture's width from
// the left and from the top.
type Line struct {
	X1 float64 `json:"x1"`
	Y1 float64 `json:"y1"`
	X2 float64 `json:"x2"`
	Y2 float64 `json:"y2"`
}

// Matters is where a picture holds what matters in it.
type Matters struct {
	Columns int      `json:"columns"`
	Rows    int      `json:"rows"`
	Weight  []uint8  `json:"weight"`  // Columns × Rows, row by row from the top, 255 the most
	Regions []Region `json:"regions"` // connected, the weightiest first
}

// Region is one connected part that matters, a dish as a rule.
type Region struct {
	X      float64 `json:"x"` // left edge, share of the picture's width
	Y      float64 `json:"y"` // top edge, share of the picture's height
	Width  float64 `json:"width"`
	Height float64 `json:"height"`
	Share  float64 `json:"share"` // of all weight, 0 … 1
}
