package audit

import (
	"fmt"
	"math"
	"slices"

	"coverplate/audit/plan"
	"coverplate/colour"
	"coverplate/ingest/catalogue"
)

// sameTexture is how many times as rough one border may be as another of the
// same surface: light from the side and a lens opened wider change that, but
// seldom more (the project's own choice, no source).
const sameTexture = 2.0

// smooth is the roughness below which a border has no texture: half a code of 8
// bits a pixel.
const smooth = 0.5 / 255

// oneGround notes chosen pictures that seem to lie on one surface though their
// recipes name two: the borders' colours are one by Rules.SameSurface, and their
// roughness is alike where it was measured.
func (d *sheet) oneGround() {
	type ground struct {
		row, frame int
		name       string
		rough      float64 // NaN not measured
	}
	var all []ground
	for i := range d.recipes {
		at, chosen := d.picture(i)
		name := d.surfaceOf(i)
		if !chosen || at < 0 || name == "" || d.frames[at].Look.Surface == nil {
			continue
		}
		all = append(all, ground{i, at, name, d.rough[at]})
	}
	for i, a := range all {
		for _, b := range all[i+1:] {
			if _, near := MayBe([]Thing{{Name: a.name}}, b.name); propKey(a.name) == propKey(b.name) || len(near) > 0 {
				continue // one name, or asked about already
			}
			x := colour.DeltaE2000(d.frames[a.frame].Look.Surface.Lab, d.frames[b.frame].Look.Surface.Lab)
			if !(x < d.Rules.SameSurface) {
				continue
			}
			texture := "their texture was not measured"
			if rougher := max(a.rough, b.rough) / min(a.rough, b.rough); rougher > sameTexture {
				continue
			} else if !math.IsNaN(rougher) {
				texture = fmt.Sprintf("their texture is alike (%.1f times as rough)", rougher)
			}
			d.note("prop", "", "", fmt.Sprintf("%s on %s and %s on %s look as if on one surface: their borders are %s apart, under %g, and %s: look, and write the surfaces alike if they are one",
				onPages(d.placeOf(a.row)), a.name, onPages(d.placeOf(b.row)), b.name, tenths(x, d.Rules.SameSurface), d.Rules.SameSurface, texture))
		}
	}
}

// placeOf is a recipe as a side with its pages.
func (d *sheet) placeOf(row int) side {
	r := d.recipes[row]
	if r.Pages.IsZero() {
		return side{pages: "not given", recipes: []string{r.ID}}
	}
	return side{pages: r.Pages.String(), recipes: []string{r.ID}}
}

// surfaceOf is the name of what a dish stood on: as logged last on set, else as
// planned.
func (d *sheet) surfaceOf(row int) string {
	name := d.recipes[row].Surface
	for _, w := range d.logged[row] {
		if w.Need == catalogue.AsSurface {
			name = w.Name
		}
	}
	p, _ := plan.ParseProp(name)
	return p.Name
}

// roughness is the root of the middle of the slope energies along the border:
// what a dish that reaches into a few cells adds does not move it. NaN not
// measured.
func roughness(f *catalogue.Focus) float64 {
	if f == nil || len(f.Far) == 0 {
		return math.NaN()
	}
	columns, rows := f.Cells()
	if len(f.Far) != columns*rows {
		return math.NaN()
	}
	var border []float64
	for i, e := range f.Far {
		if x, y := i%columns, i/columns; x == 0 || y == 0 || x == columns-1 || y == rows-1 {
			border = append(border, float64(e.Value()))
		}
	}
	slices.Sort(border)
	return math.Sqrt(max(border[len(border)/2], smooth*smooth))
}
