package look

import (
	"math"
	"slices"

	"coverplate/colour"
	"coverplate/ingest/catalogue"
)

// What matters in a picture is found by colour first: what stands out from the
// surface that the picture's border shows, and from the picture's mean
// (frequency-tuned saliency). Detail in focus adds to it, and what lies inside
// of a round rim belongs together: a white plate on a white cloth is part of
// the dish. The figures below are choices of this project, no source.
const (
	mattersCells = 96 * 64 // cells of the grid, about, whatever the picture's shape

	// standsOut is the distance in Lab, ΔE*ab, below which nothing stands out
	// of a picture: its grain and the fall of its light.
	standsOut = 8

	// standsOutMost is the ΔE*ab beyond which nothing stands out any more: a
	// blue napkin must not make its dish a part of the table.
	standsOutMost = 40

	leastRegion = 0.006 // share of the picture below which a spot is no dish
	rimCounts   = 0.5   // least score of a rim whose inside belongs together
)

// weigh makes the grid of what matters from the upright picture r. focus and
// rims may be nil. It returns nil where nothing stands out: the picture is of
// one colour, or of one texture all over.
func weigh(r colour.Raster, focus *catalogue.Focus, rims []catalogue.Rim) *catalogue.Matters {
	if r.Width < 4 || r.Height < 4 || len(r.Pix) != r.Width*r.Height {
		return nil
	}
	lab := make([]colour.Lab, len(r.Pix))
	for i, p := range r.Pix {
		lab[i] = p.Lab()
	}
	lab = softened(lab, r.Width, r.Height)
	out := outstanding(lab, r.Width, r.Height)
	top := min(percentile(out, 0.98), standsOutMost)
	if top < standsOut {
		return nil
	}
	m := &catalogue.Matters{}
	m.Columns = min(r.Width, max(1, int(math.Round(math.Sqrt(mattersCells*float64(r.Width)/float64(r.Height))))))
	m.Rows = min(r.Height, max(1, mattersCells/m.Columns))
	pix := make([][1]float32, len(out))
	for i, v := range out {
		pix[i][0] = float32(v)
	}
	grid := make([]float64, m.Columns*m.Rows)
	for i, v := range averaged(pix, r.Width, r.Height, m.Columns, m.Rows) {
		x, y := (float64(i%m.Columns)+0.5)/float64(m.Columns), (float64(i/m.Columns)+0.5)/float64(m.Rows)
		grid[i] = min(1, float64(v[0])/top) * sharpAt(focus, x, y) * central(x, y)
	}
	high := float64(r.Height) / float64(r.Width)
	vessels := laden(vesselsOf(rims), grid, m.Columns, m.Rows, high, 0.75*threshold(grid))
	gathered(grid, m.Columns, m.Rows, high, vessels)
	cut := threshold(grid)
	m.Weight = make([]uint8, len(grid))
	for i, v := range grid {
		m.Weight[i] = weightOf(v, cut)
	}
	plated(m, inCells(lab, r.Width, r.Height, m.Columns, m.Rows))
	whole(m)
	part(m, high, vessels)
	sparse(m)
	m.Regions = regions(*m)
	return m
}

// central favours the middle a little: models of what people look at do better
// with it (reference file 10_saliency_cases.json quotes the benchmark). x and
// y are shares.
func central(x, y float64) float64 {
	return 0.7 + 0.3*math.Exp(-(square(x-0.5)+square(y-0.5))/0.12)
}

// sharpAt is how much detail in focus there is at a place, as a factor: what
// is soft keeps six tenths of its weight, since a bare plate has no detail either.
func sharpAt(f *catalogue.Focus, x, y float64) float64 {
	if f == nil || f.Columns <= 0 || f.Rows <= 0 || len(f.Grid) != f.Columns*f.Rows {
		return 1
	}
	cx, cy := min(int(x*float64(f.Columns)), f.Columns-1), min(int(y*float64(f.Rows)), f.Rows-1)
	// The sharpest of the neighbourhood: food lies between its own edges.
	var best uint8
	for dy := -1; dy <= 1; dy++ {
		for dx := -1; dx <= 1; dx++ {
			if px, py := cx+dx, cy+dy; px >= 0 && py >= 0 && px < f.Columns && py < f.Rows {
				best = max(best, f.Grid[py*f.Columns+px])
			}
		}
	}
	top := slices.Max(f.Grid)
	if top == 0 {
		return 1
	}
	return 0.6 + 0.4*float64(best)/float64(top)
}

// threshold is Otsu's (1979) of the values, held to where a dish can end.
func threshold(grid []float64) float64 {
	const bins = 64
	var count [bins]float64
	var total float64
	for _, v := range grid {
		b := min(bins-1, max(0, int(v*bins)))
		count[b]++
		total += float64(b)
	}
	n := float64(len(grid))
	var below, sum, best float64
	at := bins / 3
	for b := range bins - 1 {
		below += count[b]
		sum += float64(b) * count[b]
		if below == 0 || below == n {
			continue
		}
		between := below * (n - below) * square(sum/below-(total-sum)/(n-below))
		if between > best {
			best, at = between, b
		}
	}
	return min(0.5, max(0.22, float64(at+1)/bins))
}

// weightOf lays a value out so that the threshold comes to MattersFrom.
func weightOf(v, cut float64) uint8 {
	if v < cut {
		return uint8(v / cut * (catalogue.MattersFrom - 1))
	}
	return uint8(catalogue.MattersFrom + min(1, (v-cut)/(1-cut))*(255-catalogue.MattersFrom))
}

func percentile(in []float64, p float64) float64 {
	all := slices.Clone(in)
	slices.Sort(all)
	return all[int(p*float64(len(all)-1))]
}
