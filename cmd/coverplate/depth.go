package main

import (
	"context"
	"errors"
	"fmt"
	"math"
	"os"
	"strconv"
	"strings"

	"github.com/spf13/cobra"

	"coverplate/audit/optics"
	"coverplate/ingest"
	"coverplate/ingest/catalogue"
)

// depthOptions is a lens and a table as a person writes them; "" not given.
type depthOptions struct {
	Focal, Aperture, Distance, Rim, Coc, Sensor string
	From                                        string
	Crop, Pupil                                 float64 // 0 not given
	JSON                                        bool
}

func newDepth(at surroundings, where *string) *cobra.Command {
	var o depthOptions
	cmd := &cobra.Command{
		Use:   "depth [FRAME|FILE]",
		Short: "tell how deep a lens is sharp, and how high props may stand",
		Long: `Tells from where to where a lens is sharp at an aperture and a distance, how
much of the table it shows, and, for a camera that looks straight down, how
high props may stand and still be sharp. With a frame of the shoot or a
picture's file it takes what the camera wrote; flags count over that.

--distance is from the lens (its front principal plane, about the middle of a
lens), as depth tables take it; with --from sensor it is from the sensor's
mark, as focus scales and cameras count it. Lengths may carry a unit: 0.9,
0.9m, 90cm, 900mm.

The depth is that of a thin lens, for a circle of confusion of 0.030 mm on
24 × 36 mm and as much less as a sensor is smaller. --coc sets another: the
choice decides the result. --pupil is the ratio of the exit pupil to the
entrance pupil, 1 for a symmetric lens, under 1 for most long ones.`,
		Example: `  coverplate depth --focal 50 --aperture 5.6 --distance 0.9
  coverplate depth --focal 35 --aperture 8 --distance 70cm --sensor mft
  coverplate depth --focal 100 --aperture 8 --distance 60cm --rim 35mm
  coverplate depth DSC_0412.JPG --distance 85cm --from sensor --json`,
		Args: usage(cobra.MaximumNArgs(1), "one frame or file, or none"),
		RunE: func(cmd *cobra.Command, args []string) error {
			return runDepth(cmd.Context(), at, *where, args, o)
		},
		ValidArgsFunction: func(*cobra.Command, []string, string) ([]string, cobra.ShellCompDirective) {
			return nil, cobra.ShellCompDirectiveDefault // files
		},
	}
	f := cmd.Flags()
	f.StringVar(&o.Focal, "focal", "", "focal length, `mm`")
	f.StringVar(&o.Aperture, "aperture", "", "f-`number`")
	f.StringVar(&o.Distance, "distance", "", "`metres` to what is focused on")
	f.StringVar(&o.From, "from", "", "distance counts from lens or sensor (default: lens)")
	f.StringVar(&o.Sensor, "sensor", "", "`size`: "+strings.Join(sensorNames(), ", "))
	f.Float64Var(&o.Crop, "crop", 0, "crop `factor` of the sensor instead")
	f.StringVar(&o.Coc, "coc", "", "circle of confusion, `mm`")
	f.Float64Var(&o.Pupil, "pupil", 0, "`ratio` of the pupils (default: 1)")
	f.StringVar(&o.Rim, "rim", "20", "height of the plate's rim, `mm`")
	f.BoolVar(&o.JSON, "json", false, "print JSON; far_m is null where it is infinite")
	for name, values := range map[string][]string{"from": {"lens", "sensor"}, "sensor": sensorNames()} {
		// It fails for a flag that is not there alone.
		_ = cmd.RegisterFlagCompletionFunc(name, cobra.FixedCompletions(values, cobra.ShellCompDirectiveNoFileComp))
	}
	return cmd
}

func sensorNames() []string {
	var names []string
	for _, s := range optics.Sensors() {
		names = append(names, s.Name)
	}
	return names
}

// scene is what depth works out, millimetres.
type scene struct {
	lens    optics.Lens
	sensor  optics.Sensor
	coc     float64
	table   float64 // from the lens
	rim     float64
	named   string   // the frame or file; "" none
	assumes []string // what was not given
}

// depthFacts is what depth prints as JSON. What is infinite is null, and said.
type depthFacts struct {
	File          *string    `json:"file"`
	Focal         float64    `json:"focal_mm"`
	FNumber       float64    `json:"f_number"`
	Sensor        string     `json:"sensor"`
	Crop          float64    `json:"crop"`
	Coc           float64    `json:"coc_mm"`
	Pupil         float64    `json:"pupil_ratio"`
	Distance      float64    `json:"distance_m"` // from the lens
	FromSensor    float64    `json:"sensor_distance_m"`
	Near          float64    `json:"near_m"`
	Far           *float64   `json:"far_m"`
	Infinite      bool       `json:"infinite"` // far is
	Total         *float64   `json:"total_mm"`
	Front         float64    `json:"front_mm"`
	Behind        *float64   `json:"behind_mm"`
	CloseUp       float64    `json:"close_up_mm"` // the depth by the rule for close-ups
	Hyperfocal    float64    `json:"hyperfocal_m"`
	Magnification float64    `json:"magnification"`
	Field         [2]float64 `json:"field_mm"` // width and height that the frame shows
	Diffraction   float64    `json:"diffraction_mm"`
	Above         aboveFacts `json:"from_above"`
	Assumes       []string   `json:"assumes"`
}

// aboveFacts is for a camera that looks straight down; heights are above the
// table, millimetres, below it negative.
type aboveFacts struct {
	Table   float64  `json:"focus_on_table_mm"` // props this high are sharp
	Rim     float64  `json:"rim_mm"`
	RimFrom *float64 `json:"focus_on_rim_from_mm"`
	RimTo   float64  `json:"focus_on_rim_to_mm"`
	Focus   float64  `json:"best_focus_mm"`
	Most    float64  `json:"best_mm"`
}

func runDepth(ctx context.Context, at surroundings, where string, args []string, o depthOptions) error {
	sc, err := o.scene(ctx, where, args)
	if err != nil {
		return err
	}
	d, err := sc.lens.At(sc.table, sc.coc)
	if err != nil {
		return tooNear(err)
	}
	above, err := sc.lens.Above(sc.table, sc.rim, sc.coc)
	if err != nil {
		return misused("give the height of the plate's rim above the table in millimetres: --rim 20", "the rim: %w", err)
	}
	f := sc.facts(d, above)
	if o.JSON {
		return writeJSON(at.Stdout, f)
	}
	t := newSetter(at.Stdout, termOptionsOf(at))
	f.put(t)
	return t.err
}

// tooNear says what may be meant where the lens can't focus.
func tooNear(err error) error {
	if errors.Is(err, optics.ErrTooNear) {
		return hinted{wrongUse{err}, "--distance is in metres; it must be beyond the focal length, and with --from sensor four times that"}
	}
	return wrongUse{err}
}

// scene gathers what the flags, or else the camera, say.
func (o depthOptions) scene(ctx context.Context, where string, args []string) (scene, error) {
	var e catalogue.Exposure
	var sc scene
	if len(args) == 1 {
		f, err := pictured(ctx, where, args[0])
		if err != nil {
			return sc, err
		}
		e, sc.named = f.Exposure, f.Path()
	}
	var err error
	if sc.lens.Focal, err = o.length("focal", o.Focal, "mm", e.FocalLength); err != nil {
		return sc, err
	}
	if sc.lens.FNumber, err = o.length("aperture", strings.TrimPrefix(strings.ToLower(o.Aperture), "f/"), "", e.FNumber); err != nil {
		return sc, err
	}
	if sc.rim, err = o.length("rim", o.Rim, "mm", 0); err != nil {
		return sc, err
	}
	if err := o.lensOf(&sc); err != nil {
		return sc, err
	}
	if err := o.sensorOf(&sc, e); err != nil {
		return sc, err
	}
	return sc, o.distanceOf(&sc, e)
}

// lensOf is what is assumed of the pupils.
func (o depthOptions) lensOf(sc *scene) error {
	sc.lens.Pupil = o.Pupil
	switch {
	case o.Pupil < 0 || math.IsNaN(o.Pupil) || math.IsInf(o.Pupil, 0):
		return misused("1 is a symmetric lens; --pupil 0.7 a long one", "--pupil %g is no ratio", o.Pupil)
	case o.Pupil == 0:
		sc.lens.Pupil = 1
		sc.assumes = append(sc.assumes, "a thin, symmetric lens (pupil ratio 1)")
	default:
		sc.assumes = append(sc.assumes, fmt.Sprintf("a thin lens of pupil ratio %s", shortNumber(o.Pupil)))
	}
	return nil
}

// sensorOf is the sensor and the circle of confusion.
func (o depthOptions) sensorOf(sc *scene, e catalogue.Exposure) error {
	switch {
	case o.Sensor != "" && o.Crop != 0:
		return misused("give one of the two", "--sensor and --crop both tell the sensor's size")
	case o.Crop < 0 || math.IsNaN(o.Crop) || o.Crop > 100:
		return misused("--crop 1.5 is a sensor whose diagonal is 1.5 times shorter than that of 24 × 36 mm", "--crop %g is no factor", o.Crop)
	case o.Crop > 0:
		sc.sensor = optics.Cropped(o.Crop)
	case o.Sensor != "":
		found := false
		for _, s := range optics.Sensors() {
			if strings.EqualFold(s.Name, o.Sensor) {
				sc.sensor, found = s, true
			}
		}
		if !found {
			return misused("they are "+strings.Join(sensorNames(), ", ")+"; or give --crop", "there is no sensor %q", o.Sensor)
		}
	case e.Focal35 > 0 && e.FocalLength > 0:
		sc.sensor = optics.Cropped(e.Focal35 / e.FocalLength)
		sc.assumes = append(sc.assumes, "a sensor of "+sc.sensor.Name+", by the 35 mm equivalent that the camera wrote in whole millimetres")
	default:
		sc.sensor = optics.Full
		sc.assumes = append(sc.assumes, "a sensor of 24 × 36 mm")
	}
	var err error
	if sc.coc, err = o.length("coc", o.Coc, "mm", sc.sensor.Confusion()); err == nil && o.Coc == "" {
		sc.assumes = append(sc.assumes, fmt.Sprintf("a circle of confusion of %.4f mm (diagonal / 1442; others take 1000 to 1730, and the depth goes with it)", sc.coc))
	}
	return err
}

// distanceOf is the distance from the lens.
func (o depthOptions) distanceOf(sc *scene, e catalogue.Exposure) error {
	from := strings.ToLower(o.From)
	if from != "" && from != "lens" && from != "sensor" {
		return misused("give lens or sensor", "--from %q: a distance counts from the lens or from the sensor", o.From)
	}
	written := e.SubjectDistance * 1000
	d, err := o.length("distance", o.Distance, "m", written)
	if err != nil {
		return err
	}
	if o.Distance == "" && from == "" {
		from = "sensor" // as cameras count it
		sc.assumes = append(sc.assumes, "that the camera's distance of "+shortNumber(d/1000)+" m is from its sensor and true; most cameras give coarse steps")
	}
	if from == "sensor" {
		if d, err = sc.lens.FromSensor(d); err != nil {
			return tooNear(err)
		}
	} else if o.From == "" {
		sc.assumes = append(sc.assumes, "that the distance is from the lens, not from the sensor")
	}
	sc.table = d
	return nil
}

// length reads a flag's length in its unit, millimetres out; in no unit at
// all the number as it is. fallback is what counts where it is not given.
func (o depthOptions) length(flag, s, unit string, fallback float64) (float64, error) {
	s = strings.TrimSpace(strings.ToLower(strings.Replace(s, ",", ".", 1)))
	if s == "" {
		if fallback > 0 {
			return fallback, nil
		}
		return 0, misused("coverplate depth --focal 50 --aperture 5.6 --distance 0.9; or give a picture whose camera wrote them", "--%s is not given, and no camera wrote it", flag)
	}
	scale := map[string]float64{"": 1, "mm": 1, "cm": 10, "m": 1000}
	by := scale[unit]
	for _, u := range []string{"mm", "cm", "m"} { // "mm" before "m"
		if cut, ok := strings.CutSuffix(s, u); ok && unit != "" {
			s, by = strings.TrimSpace(cut), scale[u]
			break
		}
	}
	v, err := strconv.ParseFloat(s, 64)
	if err != nil || math.IsNaN(v) || math.IsInf(v, 0) || v < 0 || v == 0 && flag != "rim" {
		return 0, misused(lengthHints[flag], "--%s %q is no number above 0", flag, s)
	}
	return v * by, nil
}

// lengthHints show how each length is written.
var lengthHints = map[string]string{
	"focal":    "the focal length on the lens, in millimetres: --focal 50",
	"aperture": "the f-number: --aperture 5.6",
	"distance": "the distance in metres, or with its unit: --distance 0.9, --distance 90cm",
	"rim":      "the height of the plate's rim above the table in millimetres: --rim 20",
	"coc":      "the circle of confusion in millimetres: --coc 0.03",
}

// pictured is the frame that word names, in the shoot or as a loose file, with
// what the camera wrote.
func pictured(ctx context.Context, where, word string) (catalogue.Frame, error) {
	if _, err := os.Stat(word); err == nil {
		f, err := ingest.Facts(word)
		if err != nil {
			return f, wrongUse{err}
		}
		return f, nil
	}
	s, err := openShoot(where)
	if err != nil {
		if where == "" {
			return catalogue.Frame{}, misused("give a picture's file; or a frame, inside of a shoot or with --shoot DIR", "there is no file %s here, and no shoot", word)
		}
		return catalogue.Frame{}, err
	}
	store, err := s.catalogue()
	if err != nil {
		return catalogue.Frame{}, err
	}
	defer store.Close()
	all, err := store.Frames(ctx)
	if err != nil {
		return catalogue.Frame{}, err
	}
	return findFrame(all, s.Dir, word)
}

func (sc scene) facts(d optics.Depth, a optics.Above) depthFacts {
	f := depthFacts{
		File: written(sc.named), Focal: sc.lens.Focal, FNumber: sc.lens.FNumber, Sensor: sc.sensor.Name, Crop: sc.sensor.Crop(), Coc: sc.coc, Pupil: sc.lens.Pupil,
		Distance: d.Distance / 1000, FromSensor: d.FromSensor / 1000, Near: d.Near / 1000, Infinite: math.IsInf(d.Far, 1),
		Front: d.Front(), CloseUp: d.CloseUp, Hyperfocal: d.Hyperfocal / 1000, Magnification: d.Magnification,
		Field:       [2]float64{sc.sensor.Width / d.Magnification, sc.sensor.Height / d.Magnification},
		Diffraction: d.Airy,
		Above:       aboveFacts{Table: a.Table, Rim: sc.rim, RimTo: a.Rim.To, Focus: a.Focus, Most: a.Most},
		Assumes:     sc.assumes,
	}
	if !f.Infinite {
		far, total, behind := d.Far/1000, d.Total(), d.Behind()
		f.Far, f.Total, f.Behind = &far, &total, &behind
	}
	if !math.IsInf(a.Rim.From, 0) {
		f.Above.RimFrom = &a.Rim.From
	}
	return f
}

// put tells the depth in words.
func (f depthFacts) put(t *setter) {
	m := func(metres float64) string {
		if metres < 1 {
			return length(metres*1000) + " mm"
		}
		return shortNumber(metres) + " m"
	}
	if f.File != nil {
		t.put(0, 2, *f.File)
	}
	t.put(0, 2, fmt.Sprintf("%s mm f/%s on %s, focused %s from the lens", shortNumber(f.Focal), shortNumber(f.FNumber), sensorSays(f), m(f.Distance)))
	t.gap()
	line := func(name, says string) { t.put(2, 13, fmt.Sprintf("%-13s%s", name, says)) }
	line("distance", fmt.Sprintf("%s from the lens, %s from the sensor", m(f.Distance), m(f.FromSensor)))
	if f.Infinite {
		line("sharp", fmt.Sprintf("from %s to infinity", m(f.Near)))
	} else {
		line("sharp", fmt.Sprintf("%s to %s, %s mm: %s before, %s behind", m(f.Near), m(*f.Far), length(*f.Total), length(f.Front), length(*f.Behind)))
		line("close-up", fmt.Sprintf("%s mm by the rule for close-ups, 2Nc(1+m/P)/m²", length(f.CloseUp)))
	}
	line("shows", fmt.Sprintf("%s × %s mm of the table, magnification %.3g", length(f.Field[0]), length(f.Field[1]), f.Magnification))
	line("hyperfocal", m(f.Hyperfocal))
	line("diffraction", fmt.Sprintf("%.3f mm, %s", f.Diffraction, f.diffractionSays()))
	t.gap()
	a := f.Above
	t.put(2, 2, fmt.Sprintf("From straight above, the table %s from the lens, this is sharp:", m(f.Distance)))
	line("on the table", fmt.Sprintf("focused there, props stay sharp up to %s mm", length(a.Table)))
	line("on the rim", a.rimSays())
	line("best", fmt.Sprintf("focused %s mm up, all from the table to %s mm", length(a.Focus), length(a.Most)))
	t.gap()
	t.put(2, 2, "Assumes "+strings.Join(f.Assumes, "; ")+".")
}

func (a aboveFacts) rimSays() string {
	says := fmt.Sprintf("focused %s mm up, ", length(a.Rim))
	switch {
	case a.RimFrom == nil || *a.RimFrom <= 0:
		return says + fmt.Sprintf("all from the table to %s mm", length(a.RimTo))
	default:
		return says + fmt.Sprintf("all from %s to %s mm, not the table", length(*a.RimFrom), length(a.RimTo))
	}
}

func (f depthFacts) diffractionSays() string {
	if f.Diffraction > f.Coc {
		return "more than the circle of confusion, so that nothing is as sharp as is said here; open up"
	}
	return "less than the circle of confusion"
}

func sensorSays(f depthFacts) string {
	if f.Sensor == optics.Full.Name {
		return "24 × 36 mm"
	}
	if strings.HasPrefix(f.Sensor, "crop") {
		return f.Sensor
	}
	return fmt.Sprintf("%s, crop %.3g", f.Sensor, f.Crop)
}

// length writes millimetres with the figures that mean something.
func length(mm float64) string {
	switch abs := math.Abs(mm); {
	case abs >= 100:
		return strconv.FormatFloat(mm, 'f', 0, 64)
	case abs >= 10:
		return strconv.FormatFloat(mm, 'f', 1, 64)
	}
	return strconv.FormatFloat(mm, 'f', 2, 64)
}
