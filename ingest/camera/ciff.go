package camera

import (
	"encoding/binary"
	"fmt"
	"math"
	"strings"
	"time"
)

// Bounds of a CIFF raw, well above what cameras wrote.
const (
	maxHeaps   = 8 // one within the other
	maxRecords = 2048
)

// readCIFF reads an early Canon raw (.crw): a heap of records with its directory
// at its end, some of them heaps again. Records as ExifTool 12.57 reads them. It
// holds no Exif.
func (p *picture) readCIFF() error {
	p.format = "raw"
	h := p.src.head
	order := binary.ByteOrder(binary.LittleEndian)
	if hasAt(h, 0, "MM") {
		order = binary.BigEndian
	}
	c := ciff{p: p, order: order, left: maxRecords}
	from := int64(order.Uint32(h[2:]))
	if !c.heap(from, p.src.size-from, 0) {
		return &FormatError{"raw", "its directory can't be read; the file is cut short or damaged"}
	}
	c.expose()
	if b := p.beside; b.Camera.Make == "" && b.Taken.IsZero() && b.Width == 0 {
		return &FormatError{"raw", "nothing in it says how it was taken; the file is cut short or damaged"}
	}
	return nil
}

// ciff is the walk of a CIFF file.
type ciff struct {
	p     *picture
	order binary.ByteOrder
	left  int // records that may still be read

	serial                uint32
	focal, shot, settings []byte // records of an array each, of 2 bytes
}

// heap reads the heap of size bytes at base and reports whether it could.
func (c *ciff) heap(base, size int64, depth int) bool {
	src := c.p.src
	if base < 0 || size < 6 || base > src.size || size > src.size-base {
		return false
	}
	end := src.upTo(base+size-4, 4)
	if len(end) < 4 {
		return false
	}
	dir := base + int64(c.order.Uint32(end))
	count := src.upTo(dir, 2)
	if len(count) < 2 || dir >= base+size {
		return false
	}
	n := int(c.order.Uint16(count))
	records := src.upTo(dir+2, int64(10*n))
	for ; len(records) >= 10 && c.left > 0; records = records[10:] {
		c.left--
		tag := c.order.Uint16(records)
		// A value lies in the heap, or in the 8 bytes of its place.
		const inPlace, mask, isHeap, isHeapToo = 0x4000, 0x3800, 0x2800, 0x3000
		length, off := int64(c.order.Uint32(records[2:])), base+int64(c.order.Uint32(records[6:]))
		switch {
		case tag&inPlace != 0:
			c.record(tag&^inPlace, records[2:10])
		case tag>>15 != 0 || off > base+size || length > base+size-off:
			c.p.warn("raw: a record lies outside of its heap")
		case tag&mask == isHeap || tag&mask == isHeapToo:
			if depth < maxHeaps && !c.heap(off, length, depth+1) {
				c.p.warn("raw: a part of its directory can't be read")
			}
		case tag == 0x2007 || tag == 0x2008: // a whole JPEG, and its thumbnail
			c.p.addPreview("raw", off, length)
		default:
			if wantedOfCIFF(tag) {
				c.record(tag, c.p.src.upTo(off, min(length, maxValue)))
			}
		}
	}
	return true
}

func wantedOfCIFF(tag uint16) bool {
	switch tag {
	case 0x080A, 0x180B, 0x180E, 0x1810, 0x1029, 0x102A, 0x102D:
		return true
	}
	return false
}

// record takes what one record says.
func (c *ciff) record(tag uint16, v []byte) {
	b := &c.p.beside
	switch {
	case tag == 0x080A: // maker and model, a NUL behind each
		maker, model, _ := strings.Cut(string(v), "\x00")
		model, _, _ = strings.Cut(model, "\x00")
		b.Camera.Make, b.Camera.Model = words(maker), words(model)
	case tag == 0x180B && len(v) >= 4:
		c.serial = c.order.Uint32(v)
	case tag == 0x180E && len(v) >= 4: // seconds since 1970 of the camera's wall clock
		if t := c.order.Uint32(v); t != 0 {
			b.Taken = time.Unix(int64(t), 0).UTC()
		}
	case tag == 0x1810 && len(v) >= 16: // width, height, shape of a pixel, turn in degrees
		b.Width, b.Height = side(c.order.Uint32(v)), side(c.order.Uint32(v[4:]))
		b.Orientation = map[int32]int{0: 1, 90: 6, 180: 3, 270: 8, -90: 8}[int32(c.order.Uint32(v[12:]))]
	case tag == 0x1029:
		c.focal = v
	case tag == 0x102A:
		c.shot = v
	case tag == 0x102D:
		c.settings = v
	}
}

// expose reads focal length, exposure and the serial number, once all their
// records are known.
func (c *ciff) expose() {
	at := func(v []byte, i int) (int, bool) {
		if len(v) < 2*i+2 {
			return 0, false
		}
		n := int(int16(c.order.Uint16(v[2*i:])))
		return n, n != 0 && n != -1
	}
	e := &c.p.beside.Exposure
	if f, ok := at(c.focal, 1); ok && f > 0 {
		units, ok := at(c.settings, 25)
		if !ok || units < 1 {
			units = 1
		}
		e.FocalLength = float64(f) / float64(units)
	}
	ev := func(i int) (float64, bool) {
		n, ok := at(c.shot, i)
		v := canonSteps(n)
		return v, ok && math.Abs(v) < 20
	}
	for _, i := range []int{21, 4} { // what was set, else what was aimed at
		if v, ok := ev(i); ok && v > 0 && e.FNumber == 0 {
			e.FNumber = rounded(math.Exp2(v/2), 2)
		}
	}
	for _, i := range []int{22, 5} {
		if v, ok := ev(i); ok && e.Seconds == 0 {
			e.Seconds = math.Exp2(-v)
		}
	}
	if base, ok := at(c.shot, 2); ok && base > 0 && base < 1000 { // steps of 32 above ISO 100/32
		auto, _ := at(c.shot, 1)
		e.ISO = math.Round(math.Exp2(float64(auto+base)/32) * 100 / 32)
	}
	// Other models write something else there.
	if n := c.serial; n != 0 && strings.Contains(c.p.beside.Camera.Model, "EOS") && !strings.HasSuffix(c.p.beside.Camera.Model, "D30") {
		c.p.beside.Camera.Serial = fmt.Sprintf("%010d", n)
	}
}

// canonSteps are steps of exposure, written in 32nds with 12 and 20 for a third
// and two.
func canonSteps(n int) float64 {
	sign := 1.0
	if n < 0 {
		sign, n = -1, -n
	}
	part := float64(n & 31)
	switch n & 31 {
	case 12:
		part = 32.0 / 3
	case 20:
		part = 64.0 / 3
	}
	return sign * (float64(n&^31) + part) / 32
}
