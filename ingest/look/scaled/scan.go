package scaled

import "image"

// scan decodes the data of the scan, unit by unit (an MCU of T.81, A.2).
func (d *decoder) scan() (image.Image, error) {
	across, down := d.units()
	for i := range d.comps {
		c := &d.comps[i]
		c.stride = across * c.h * d.side
		c.pix = make([]byte, c.stride*down*c.v*d.side)
	}
	all, lost := across*down, 0
	every := d.restart
	if every == 0 {
		every = all
	}
	blocks := d.blocks()
	p := d.bits.reset()
	for from := 0; from < all; {
		to := min(all, from+every)
		at := d.stretch(blocks, p, from, to, across)
		if at < to {
			d.grey(at, to, across)
			lost += to - at
		}
		from = to
		if from >= all {
			break
		}
		// The marker between says by its number which stretch comes next: where
		// one was lost, those that it skips are lost with it (E.2.4).
		m := d.bits.skipTo()
		if m < rst0 || m > rst7 {
			d.grey(from, all, across)
			lost += all - from
			break
		}
		for from < all && m != rst0+byte(((from/every)-1)&7) {
			to := min(all, from+every)
			d.grey(from, to, across)
			lost += to - from
			from = to
		}
		p = d.bits.reset()
	}
	img := d.picture()
	if d.bits.err != nil {
		return img, d.bits.err
	}
	if lost > 0 {
		return img, &DamagedError{Blocks: lost, Of: all, Cut: d.bits.skipTo() == 0}
	}
	return img, nil
}

// units is how many units lie across and down.
func (d *decoder) units() (across, down int) {
	w, h := 8*d.comps[0].h, 8*d.comps[0].v
	return (d.width + w - 1) / w, (d.height + h - 1) / h
}

// block is one of the blocks of a unit: its component and tables, and where in
// the plane its samples lie.
type block struct {
	c          *component
	dc, ac     *table
	quant      *[64]int32
	first      int // sample of the first unit
	right, row int // from a unit to the one beside it, and from a row of units to the next
}

// blocks are those of a unit, in their order.
func (d *decoder) blocks() []block {
	var all []block
	for i := range d.comps {
		c := &d.comps[i]
		for v := range c.v {
			for h := range c.h {
				all = append(all, block{
					c: c, dc: d.dc[c.dc], ac: d.ac[c.ac], quant: d.quants[c.quant],
					first: v*d.side*c.stride + h*d.side,
					right: c.h * d.side,
					row:   c.v * d.side * c.stride,
				})
			}
		}
	}
	return all
}

// stretch decodes the units from … to, which begin at p, and returns the first
// that could not be read.
func (d *decoder) stretch(blocks []block, p place, from, to, across int) int {
	for i := range d.comps {
		d.comps[i].pred = 0
	}
	var low [64]int32 // coefficients in zigzag order
	x, y := from%across, from/across
	buf, side := d.bits.buf, d.side
	for unit := from; unit < to; unit++ {
		if d.bits.wants(p) {
			p = d.bits.fill(p)
		}
		for i := range blocks {
			b := &blocks[i]
			p = p.more(buf)
			e := b.dc.one[p.acc>>(64-window)]
			if e == 0 {
				if e = b.dc.long(p.acc, false); e == 0 {
					return unit
				}
			}
			b.c.pred += e.value(p.acc)
			p = p.drop(e.bits())
			low[0] = b.c.pred * b.quant[0]
			out, ok := b.c.pix[b.first+y*b.row+x*b.right:], true
			switch side {
			case 1:
				out[0] = sample(low[0])
				p, ok = b.ac.skip(p, buf, 1)
			case 2:
				p, ok = b.ac.low(p, buf, b.quant, &low, 5) // up to the second diagonal
				inverse2(&low, out, b.c.stride)
			default:
				p, ok = b.ac.low(p, buf, b.quant, &low, 25) // up to the last of the lowest 4 × 4
				inverse4(&low, out, b.c.stride)
			}
			if !ok {
				return unit
			}
		}
		if d.bits.beyond(p) {
			return unit
		}
		if x++; x == across {
			x, y = 0, y+1
		}
	}
	return to
}

// low reads the coefficients before n in zigzag order, 25 at most, into to, each
// times its quantiser. Those behind may be anything.
func (t *table) low(p place, buf *buffer, quant, to *[64]int32, n int) (place, bool) {
	clear(to[1:n])
	k := 1
	for k < n {
		p = p.more(buf)
		c := t.one[p.acc>>(64-window)]
		if c == 0 {
			if c = t.long(p.acc, true); c == 0 {
				return p, false
			}
		}
		// The end of a block is a 0 where there is one already.
		at := (k + c.run()) & 63
		to[at] = c.value(p.acc) * quant[at]
		p = p.drop(c.bits())
		k += c.run() + 1
	}
	if k > endOfBlock {
		return p, true
	}
	return t.skip(p, buf, k)
}

// skip steps over the coefficients from k on.
func (t *table) skip(p place, buf *buffer, k int) (place, bool) {
	for k < 64 {
		p = p.more(buf)
		e := uint(t.step[p.acc>>(64-window)])
		if to := k + int(e>>5); to < 64 {
			k, p = to, p.drop(e&31)
			e = uint(t.step[p.acc>>(64-window)])
		}
		to := k + int(e>>5)
		if to <= 64 || to >= ended && to < ended+64 {
			k, p = to, p.drop(e&31)
			continue
		}
		// A long code, or a block whose last coefficient is in the step: it has
		// no code for its end, what looks like one is of the next block.
		p = p.more(buf)
		c := t.one[p.acc>>(64-window)]
		if c == 0 {
			if c = t.long(p.acc, true); c == 0 {
				return p, false
			}
		}
		p = p.drop(c.bits())
		if c.run() == endOfBlock {
			return p, true
		}
		k += c.run() + 1
	}
	return p, k == 64 || k >= ended
}

// grey paints the units from … to the middle grey.
func (d *decoder) grey(from, to, across int) {
	for unit := from; unit < to; unit++ {
		x, y := unit%across, unit/across
		for i := range d.comps {
			c := &d.comps[i]
			for row := range c.v * d.side {
				at := (y*c.v*d.side+row)*c.stride + x*c.h*d.side
				line := c.pix[at : at+c.h*d.side]
				for k := range line {
					line[k] = 128
				}
			}
		}
	}
}
