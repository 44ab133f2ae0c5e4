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
	d.bits.reset()
	for from := 0; from < all; {
		to := min(all, from+every)
		at := d.stretch(from, to, across)
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
		d.bits.reset()
	}
	img := d.picture()
	if d.bits.err != nil {
		return img, d.bits.err
	}
	if lost > 0 {
		return img, &DamagedError{Blocks: lost, Of: all, Cut: d.bits.ended && d.bits.marker == 0}
	}
	return img, nil
}

// units is how many units lie across and down.
func (d *decoder) units() (across, down int) {
	w, h := 8*d.comps[0].h, 8*d.comps[0].v
	return (d.width + w - 1) / w, (d.height + h - 1) / h
}

// stretch decodes the units from … to, and returns the first that could not be
// read.
func (d *decoder) stretch(from, to, across int) int {
	for i := range d.comps {
		d.comps[i].pred = 0
	}
	for unit := from; unit < to; unit++ {
		d.bits.fill()
		x, y := unit%across, unit/across
		for i := range d.comps {
			c := &d.comps[i]
			for v := range c.v {
				for h := range c.h {
					at := (y*c.v+v)*d.side*c.stride + (x*c.h+h)*d.side
					if !d.block(c, c.pix[at:]) {
						return unit
					}
				}
			}
		}
		if d.bits.beyond() {
			return unit
		}
	}
	return to
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

// extend is the value that size bits stand for (F.2.2.1, figure F.12): raw are
// the bits themselves.
func extend(raw int32, size uint) int32 {
	if size > 0 && raw < 1<<(size-1) {
		raw += 1 - 1<<size
	}
	return raw
}

// block decodes a block to side × side samples at out; it reports whether it
// could.
func (d *decoder) block(c *component, out []byte) bool {
	b, quant, ac := &d.bits, d.quants[c.quant], d.ac[c.ac]
	b.more()
	size, ok := d.dc[c.dc].symbol(b)
	if !ok || size > 15 {
		return false
	}
	c.pred += extend(b.take(uint(size)), uint(size))
	dc := c.pred * quant[0]
	switch d.side {
	case 1:
		out[0] = sample(dc)
		return ac.skip(b, 1)
	case 2:
		var low [5]int32 // zigzag up to the second diagonal
		if !ac.low(b, quant, low[:], 5) {
			return false
		}
		inverse2(dc, &low, out, c.stride)
	default:
		var low [25]int32 // zigzag up to the last of the lowest 4 × 4
		if !ac.low(b, quant, low[:], 25) {
			return false
		}
		low[0] = dc
		inverse4(&low, out, c.stride)
	}
	return true
}

// symbol reads a code. b must have 16 bits.
func (t *table) symbol(b *bits) (byte, bool) {
	e := t.one[b.acc>>(64-window)]
	if e != 0 {
		b.drop(uint(e & 31))
		return byte(e >> 5), true
	}
	s, length := t.long(int32(b.acc >> 48))
	b.drop(length)
	return s, length > 0
}

// drop takes n bits off, n at most 32.
func (b *bits) drop(n uint) {
	b.acc <<= n & 63
	b.n -= n
}

// take reads n bits, 0 … 15.
func (b *bits) take(n uint) int32 {
	v := int32(b.acc >> 1 >> (63 - n))
	b.drop(n)
	return v
}

// low reads the coefficients before n in zigzag order into to, each times its
// quantiser, and steps over the others.
func (t *table) low(b *bits, quant *[64]int32, to []int32, n int) bool {
	for k := 1; k < n; {
		b.more()
		s, ok := t.symbol(b)
		if !ok {
			return false
		}
		run, size := int(s>>4), uint(s&15)
		if size == 0 {
			if run != 15 {
				return true // the end of the block
			}
			if k += 16; k >= n {
				return t.skip(b, k)
			}
			continue
		}
		k += run
		v := extend(b.take(size), size)
		if k >= n {
			return t.skip(b, k+1)
		}
		to[k] = v * quant[k]
		k++
	}
	return t.skip(b, n)
}

// skip steps over the coefficients from k on.
func (t *table) skip(b *bits, k int) bool {
	for k < 64 {
		b.more()
		e := uint(t.step[b.acc>>(64-window)])
		moved := int(e >> 5)
		// A block whose last coefficient is there has no code for its end: what
		// looks like one is of the next block.
		if e != 0 && (moved >= endOfBlock && k+moved-endOfBlock < 64 || k+moved <= 64) {
			b.drop(e & 31)
			if moved >= endOfBlock {
				return true
			}
			k += moved
			continue
		}
		s, ok := t.symbol(b)
		if !ok {
			return false
		}
		run, size := int(s>>4), uint(s&15)
		if size == 0 && run != 15 {
			return true
		}
		b.drop(size)
		k += run + 1
	}
	return k == 64
}
