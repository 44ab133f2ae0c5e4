package camera

import (
	"encoding/binary"
	"fmt"
)

// maxItems bounds the items of a HEIF; a 12 MP phone picture has some 50.
const maxItems = 65_536

// cursor takes big-endian fields off the front of b; short tells that it ran
// out, after which everything reads as zero.
type cursor struct {
	b     []byte
	short bool
}

func (c *cursor) take(n int) []byte {
	if n > len(c.b) {
		c.b, c.short = nil, true
		return make([]byte, n)
	}
	out := c.b[:n]
	c.b = c.b[n:]
	return out
}

// uint takes a field of n bytes, 0, 1, 2, 3, 4 or 8.
func (c *cursor) uint(n int) uint64 {
	var v uint64
	for _, x := range c.take(n) {
		v = v<<8 | uint64(x)
	}
	return v
}

// text takes bytes up to a NUL.
func (c *cursor) text() string {
	for i, x := range c.b {
		if x == 0 {
			s := string(c.b[:i])
			c.b = c.b[i+1:]
			return s
		}
	}
	s := string(c.b)
	c.b = nil
	return s
}

// item is one item of a HEIF: a picture, a tile, Exif, a packet.
type item struct {
	kind    string // "hvc1", "grid", "Exif", "mime", …
	mime    string
	off     int64 // in the file
	size    int64
	placed  bool
	pieces  int
	details []int // indices of its properties, counted from 1
}

// readHEIF reads the metadata of a HEIF (ISO/IEC 23008-12): the primary
// picture's size, turn and colours, the Exif item and the packet.
func (p *picture) readHEIF(top []box, cut bool) error {
	var meta box
	for _, b := range top {
		if b.kind == "meta" {
			meta = b
			break
		}
	}
	if meta.kind == "" {
		why := "no meta box in it"
		if cut {
			why += "; the file is cut short"
		}
		return &FormatError{p.format, why}
	}
	if cut {
		p.warn("%s: the file is cut short", p.format)
	}
	in, broken := boxes(p.src, meta.off+4, meta.end) // behind version and flags
	if broken {
		p.warn("%s: a box in its metadata is broken", p.format)
	}
	parts := map[string]box{}
	for _, b := range in {
		if _, twice := parts[b.kind]; !twice {
			parts[b.kind] = b
		}
	}
	items := p.heifItems(parts)
	primary := p.primaryItem(parts, items)
	if primary != nil {
		p.heifProperties(parts["iprp"], primary)
	}
	if p.width == 0 {
		p.warn("%s: the picture's size is missing", p.format)
	}
	p.heifMetadata(items)
	if len(items) == 0 && p.width == 0 {
		return &FormatError{p.format, "its metadata lists no picture"}
	}
	return nil
}

// primaryItem returns the item that is the picture.
func (p *picture) primaryItem(parts map[string]box, items map[uint32]*item) *item {
	c := cursor{b: parts["pitm"].content(p.src)}
	n := 2
	if c.uint(1) != 0 {
		n = 4
	}
	c.uint(3)
	id := uint32(c.uint(n))
	if c.short {
		return nil
	}
	return items[id]
}

// heifItems reads which items there are, where they lie and which properties
// they have.
func (p *picture) heifItems(parts map[string]box) map[uint32]*item {
	items := map[uint32]*item{}
	list := parts["iinf"]
	if list.kind != "" {
		head := int64(6)
		if v := p.src.upTo(list.off, 1); len(v) == 1 && v[0] != 0 {
			head = 8
		}
		entries, _ := boxes(p.src, list.off+head, list.end)
		for _, b := range entries {
			if b.kind != "infe" || len(items) >= maxItems {
				continue
			}
			c := cursor{b: p.src.upTo(b.off, min(512, b.end-b.off))}
			version := c.uint(1)
			c.uint(3)
			if version < 2 { // names no type; nothing of ours is written so
				continue
			}
			n := 2
			if version > 2 {
				n = 4
			}
			id := uint32(c.uint(n))
			c.uint(2)
			it := &item{kind: string(c.take(4))}
			c.text()
			if it.kind == "mime" {
				it.mime = c.text()
			}
			if !c.short {
				items[id] = it
			}
		}
	}
	p.locate(parts, items)
	p.associate(parts["iprp"], items)
	return items
}

// locate reads the item location box into the items.
func (p *picture) locate(parts map[string]box, items map[uint32]*item) {
	c := cursor{b: parts["iloc"].content(p.src)}
	version := c.uint(1)
	c.uint(3)
	sizes, more := c.uint(1), c.uint(1)
	offSize, lenSize, baseSize, indexSize := int(sizes>>4), int(sizes&15), int(more>>4), int(more&15)
	for _, n := range []int{offSize, lenSize, baseSize, indexSize} {
		if n != 0 && n != 4 && n != 8 {
			if len(c.b) > 0 {
				p.warn("%s: its item locations are broken", p.format)
			}
			return
		}
	}
	wide := 2
	if version > 1 {
		wide = 4
	}
	for n := c.uint(wide); n > 0 && !c.short; n-- {
		id := uint32(c.uint(wide))
		method := uint64(0)
		if version > 0 {
			method = c.uint(2) & 15
		}
		c.uint(2) // data reference: this file
		base := c.uint(baseSize)
		extents := int(c.uint(2))
		for i := 0; i < extents && !c.short; i++ {
			if version > 0 {
				c.uint(indexSize)
			}
			off, size := c.uint(offSize), c.uint(lenSize)
			it := items[id]
			if it == nil || c.short {
				continue
			}
			if it.pieces++; it.pieces > 1 {
				continue
			}
			at := int64(base) + int64(off)
			switch method {
			case 0:
			case 1: // within the item data box
				idat := parts["idat"]
				if idat.kind == "" {
					continue
				}
				at += idat.off
			default:
				continue
			}
			it.off, it.size, it.placed = at, int64(size), true
			if it.size == 0 {
				it.size = p.src.size - at
			}
		}
	}
}

// associate reads which properties the items have.
func (p *picture) associate(iprp box, items map[uint32]*item) {
	in, _ := boxes(p.src, iprp.off, iprp.end)
	for _, b := range in {
		if b.kind != "ipma" {
			continue
		}
		c := cursor{b: b.content(p.src)}
		version, flags := c.uint(1), c.uint(3)
		wide := 2
		if version > 0 {
			wide = 4
		}
		for n := c.uint(4); n > 0 && !c.short; n-- {
			it := items[uint32(c.uint(wide))]
			for k := c.uint(1); k > 0 && !c.short; k-- {
				var index int
				if flags&1 != 0 {
					index = int(c.uint(2) & 0x7FFF)
				} else {
					index = int(c.uint(1) & 0x7F)
				}
				if it != nil && !c.short && len(it.details) < 64 {
					it.details = append(it.details, index)
				}
			}
		}
	}
}

// heifProperties reads size, turn and colours of the picture, in the order in
// which its properties are to be applied.
func (p *picture) heifProperties(iprp box, it *item) {
	var store []box
	in, _ := boxes(p.src, iprp.off, iprp.end)
	for _, b := range in {
		if b.kind == "ipco" {
			store, _ = boxes(p.src, b.off, b.end)
			break
		}
	}
	m, turned := turns[1], false
	for _, i := range it.details {
		if i < 1 || i > len(store) {
			continue
		}
		b := store[i-1]
		c := cursor{b: p.src.upTo(b.off, min(16, b.end-b.off))}
		switch b.kind {
		case "ispe":
			c.uint(4)
			w, h := c.uint(4), c.uint(4)
			if !c.short && w > 0 && h > 0 && w <= maxSide && h <= maxSide && p.width == 0 {
				p.width, p.height = int(w), int(h)
			}
		case "irot": // anti-clockwise, in quarters
			if a := c.uint(1) & 3; !c.short {
				m, turned = turns[[4]int{1, 8, 3, 6}[a]].after(m), true
			}
		case "imir": // 0 exchanges top and bottom, 1 left and right
			if a := c.uint(1) & 1; !c.short {
				m, turned = turns[[2]int{4, 2}[a]].after(m), true
			}
		case "colr":
			switch string(c.take(4)) {
			case "nclx":
				primaries, transfer := int(c.uint(2)), int(c.uint(2))
				if transfer != transferPQ && transfer != transferHLG {
					p.nclx = primaries
				}
			case "prof", "rICC":
				p.takeProfile(b)
			}
		}
	}
	for _, b := range store { // a grid may leave its colours to its tiles
		if p.icc == nil && p.iccFault == "" && p.nclx == 0 && b.kind == "colr" {
			switch string(p.src.upTo(b.off, 4)) {
			case "prof", "rICC":
				p.takeProfile(b)
			}
		}
	}
	if turned {
		for o := 1; o <= 8; o++ {
			if turns[o] == m {
				p.turn = o
			}
		}
	}
}

// takeProfile keeps the profile of a colour box, behind its four letters.
func (p *picture) takeProfile(b box) { p.takeICC(b.off+4, b.end-b.off-4) }

// turn is the linear part of an orientation: how (x to the right, y down) of
// the stored picture goes into the displayed one, as xx xy yx yy.
type turn [4]int

// turns are those of the Exif orientations (JEITA CP-3451, tag 0112).
var turns = [9]turn{
	1: {1, 0, 0, 1}, 2: {-1, 0, 0, 1}, 3: {-1, 0, 0, -1}, 4: {1, 0, 0, -1},
	5: {0, 1, 1, 0}, 6: {0, -1, 1, 0}, 7: {0, -1, -1, 0}, 8: {0, 1, -1, 0},
}

// after is the turn that does b first and then a.
func (a turn) after(b turn) turn {
	return turn{a[0]*b[0] + a[1]*b[2], a[0]*b[1] + a[1]*b[3], a[2]*b[0] + a[3]*b[2], a[2]*b[1] + a[3]*b[3]}
}

// heifMetadata reads the Exif items and packets. The first of each counts: it
// is the camera's.
func (p *picture) heifMetadata(items map[uint32]*item) {
	var exif, packet uint32
	for id, it := range items {
		switch {
		case it.kind == "Exif" && (exif == 0 || id < exif):
			exif = id
		case it.kind == "mime" && it.mime == "application/rdf+xml" && (packet == 0 || id < packet):
			packet = id
		case it.kind == "jpeg", it.kind == "mime" && it.mime == "image/jpeg":
			if it.placed && it.pieces == 1 {
				p.addPreview("exif", it.off, it.size)
			}
		}
	}
	if it := items[exif]; it != nil {
		if why := p.readExifItem(it); why != "" {
			p.warn("Exif: %s", why)
		}
	}
	if it := items[packet]; it != nil && it.placed {
		if b := p.src.upTo(it.off, it.size); it.pieces == 1 && len(b) > 0 {
			p.xmp = append(p.xmp, b)
		} else {
			p.warn("XMP: its packet can't be read where the file says it is")
		}
	}
}

// readExifItem reads an Exif item: how far on the TIFF header stands, four
// bytes, then mostly "Exif" and two NULs, then the TIFF structure.
func (p *picture) readExifItem(it *item) string {
	switch {
	case !it.placed:
		return "the file does not say where it is"
	case it.pieces > 1:
		return fmt.Sprintf("it is stored in %d pieces, which is not supported", it.pieces)
	}
	h := p.src.upTo(it.off, min(it.size, 64))
	if len(h) < 12 {
		return "it lies outside the file"
	}
	skip := int64(4)
	if n := int64(binary.BigEndian.Uint32(h)); n <= it.size-12 {
		skip += n
	}
	for _, at := range []int64{skip, 4, 0, 10} { // as the standard says, then as writers err
		if m := p.src.upTo(it.off+at, 4); string(m) == "II*\x00" || string(m) == "MM\x00*" {
			p.readExif(it.off+at, it.size-at)
			return ""
		}
	}
	return "no TIFF header where it must stand"
}
