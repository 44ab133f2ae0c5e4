package look

import "math"

// motionBlock is how many cells of the focus grid one block for motion is wide
// and high: defocus changes little over it, and edges point many ways.
const motionBlock = 8

// motionCap is how much larger than the coarse energy of a cell its fine one
// may be to count: that of a sharp edge, as the scales' ratio has it. What is
// above is a weave or a grain, whose threads run one way without anything
// having moved.
const motionCap = coarse

// motionRidge holds the answer near none where few edges tell of it.
const motionRidge = 0.005

// motionGrain is the energy of a block, as a share of its grain's, of which half
// is believed.
const motionGrain = 0.5

// motion tells how much more is lost along one direction than across it, 0 … 1,
// and that direction in degrees, 0 … 180, counter-clockwise from the width.
//
// Slopes are taken less their cell's mean slope: the shading of a bowl is a
// slope too, and no edge. A blur along θ takes fine gradients that point along θ and spares those that
// point across. Which way the edges of a picture point says nothing, so the
// fine gradients are held against the coarse ones of the same place, which the
// blur spares: of the gradients at angle φ a share r(φ) = a·(1 + u·cos 2φ +
// v·sin 2φ) is left. Each block has an a of its own, its defocus; u and v are
// of the whole frame. With the coarse energy's moments m of φ and the fine
// one's f, each block says
//
//	f0  = a·(m0  + u·m2c + v·m2s)
//	f2c = a·(m2c + u·(m0+m4c)/2 + v·m4s/2)
//	f2s = a·(m2s + u·m4s/2 + v·(m0−m4c)/2)
//
// and with a eliminated two equations for u and v, solved over all blocks by
// least squares. A block whose edges all point one way has nothing to say, and
// its equations come out as nothing. Own derivation.
func (d details) motion(weight []float64, floor float64) (strength, direction float64) {
	var uu, uv, vv, ub, vb, total float64
	for by := 0; by < d.rows; by += motionBlock {
		for bx := 0; bx < d.cols; bx += motionBlock {
			var f0, f2c, f2s, m0, m2c, m2s, m4c, m4s, grain float64
			for y := by; y < min(by+motionBlock, d.rows); y++ {
				for x := bx; x < min(bx+motionBlock, d.cols); x++ {
					i := y*d.cols + x
					c, w := d.cell[i], weight[i]
					xx, yy, xy := c.xx-c.x*c.x, c.yy-c.y*c.y, c.xy-c.x*c.y
					f, k := max(0, xx+yy-floor), 1.0
					if f > motionCap*c.edge {
						k = motionCap * c.edge / f
					}
					f0 += w * k * f
					grain += w * floor
					f2c += w * k * (xx - yy)
					f2s += w * k * 2 * xy
					m0 += w * c.edge
					m2c += w * c.cos2
					m2s += w * c.sin2
					m4c += w * c.cos4
					m4s += w * c.sin4
				}
			}
			if f0 <= 0 || m0 <= 0 {
				continue
			}
			// In shares of f0 and m0; the block counts by both its energies, so
			// that neither a fine pattern nor one soft edge speaks for all.
			w := math.Sqrt(f0 * m0)
			total += w
			// Of what is left of a block's grain the direction is any.
			sure := f0 / (f0 + motionGrain*grain)
			w *= sure * sure * sure * sure
			f2c, f2s = f2c/f0, f2s/f0
			m2c, m2s, m4c, m4s = m2c/m0, m2s/m0, m4c/m0, m4s/m0
			for _, e := range [][3]float64{
				{(1+m4c)/2 - f2c*m2c, m4s/2 - f2c*m2s, f2c - m2c},
				{m4s/2 - f2s*m2c, (1-m4c)/2 - f2s*m2s, f2s - m2s},
			} {
				uu += w * e[0] * e[0]
				uv += w * e[0] * e[1]
				vv += w * e[1] * e[1]
				ub += w * e[0] * e[2]
				vb += w * e[1] * e[2]
			}
		}
	}
	if total <= 0 {
		return 0, 0
	}
	ridge := motionRidge * total
	uu, vv = uu+ridge, vv+ridge
	det := uu*vv - uv*uv
	u, v := (ub*vv-vb*uv)/det, (vb*uu-ub*uv)/det
	a := min(1, math.Hypot(u, v))
	if a < 1e-9 {
		return 0, 0
	}
	// The most is kept at ½·atan2(v, u) with y pointing down; the blur runs
	// across that.
	direction = 90 - math.Atan2(v, u)*90/math.Pi
	if direction >= 180 {
		direction -= 180
	}
	return 2 * a / (1 + a), direction
}
