package camera

// readTIFF walks a TIFF or a raw built like one: the chain of its directories,
// those below them, the Exif directory, packets, and embedded JPEGs. Most raws
// begin like any TIFF, so named tells whether the file is called a raw.
func (p *picture) readTIFF(named bool) error {
	p.format = "TIFF"
	from := "exif"
	if named || p.rawByItsHead() {
		p.format, from = "raw", "raw"
	}
	b, err := openBlock(p.src, 0, p.src.size)
	if err != nil {
		return &FormatError{p.format, err.Error()}
	}
	p.readMain(b)
	if p.main.places == nil {
		return &FormatError{p.format, "no readable directory in it"}
	}
	p.takePicture(from, b, p.main, 0)
	if x, ok := p.main.places[tagXMP]; ok && x.off > 0 {
		if packet := p.src.upTo(x.off, x.size); len(packet) > 0 {
			p.xmp = append(p.xmp, packet)
		}
	}
	if x, ok := p.main.places[tagICC]; ok && x.off > 0 {
		p.takeICC(x.off, x.size)
	}
	if x, ok := p.main.places[tagJpgFromRaw]; ok && x.off > 0 && hasAt(p.src.head, 0, "IIU\x00") {
		p.addPreview("raw", x.off, x.size)
	}
	for next, n := p.main.next, 0; next != 0 && n < 16; n++ {
		d, err := b.directory(next, wanted)
		if err != nil {
			p.warn("%s: %v", p.format, err)
			break
		}
		p.takePicture(from, b, d, 0)
		next = d.next
	}
	p.sizeOfTIFF()
	if from == "raw" {
		p.sizeOfRaw()
	}
	return nil
}

// Panasonic's tags, by ExifTool 12.57's table: the borders of the picture on
// its sensor, in pixels, and a whole JPEG.
const (
	tagSensorTop    = 0x0004
	tagSensorLeft   = 0x0005
	tagSensorBottom = 0x0006
	tagSensorRight  = 0x0007
	tagJpgFromRaw   = 0x002E
)

// rawByItsHead tells a raw from a studio's TIFF by what only raws begin with.
func (p *picture) rawByItsHead() bool {
	h := p.src.head
	return !hasAt(h, 0, "II*\x00") && !hasAt(h, 0, "MM\x00*") || hasAt(h, 8, "CR")
}

// sizeOfRaw mends the size where a raw's directories describe its previews
// alone: by Panasonic's borders, or by the size of the finished picture that
// Exif gives.
func (p *picture) sizeOfRaw() {
	left, _ := p.main.int(tagSensorLeft)
	right, _ := p.main.int(tagSensorRight)
	top, _ := p.main.int(tagSensorTop)
	bottom, ok := p.main.int(tagSensorBottom)
	if hasAt(p.src.head, 0, "IIU\x00") && ok && right > left && bottom > top {
		p.width, p.height = int(right-left), int(bottom-top)
		return
	}
	w, _ := p.exif.int(tagPixelX)
	h, _ := p.exif.int(tagPixelY)
	if w > 0 && h > 0 && w <= maxSide && h <= maxSide && int(w)*int(h) > p.width*p.height {
		p.width, p.height = int(w), int(h)
	}
}

// takePicture notes a directory that describes a picture, its embedded JPEG
// and the directories below it.
func (p *picture) takePicture(from string, b *block, d directory, depth int) {
	p.pictures = append(p.pictures, d)
	p.addInterchange(from, b, d)
	offs, counts := d.ints(tagStripOffsets), d.ints(tagStripCounts)
	if len(offs) == 1 && len(counts) == 1 {
		p.addPreview(from, b.base+offs[0], counts[0])
	}
	if depth >= 2 {
		return
	}
	for i, off := range d.ints(tagSubIFDs) {
		if i >= 16 || off <= 0 || off > 0xFFFFFFFF {
			break
		}
		sub, err := b.directory(uint32(off), wanted)
		if err != nil {
			p.warn("%s: %v", p.format, err)
			continue
		}
		p.takePicture(from, b, sub, depth+1)
	}
}

// sizeOfTIFF finds the size of the main picture: the largest of those that are
// not marked as reduced.
func (p *picture) sizeOfTIFF() {
	for _, reduced := range []bool{false, true} {
		for _, d := range p.pictures {
			kind, _ := d.int(tagSubfileType)
			if (kind&1 == 1) != reduced {
				continue
			}
			w, _ := d.int(tagImageWidth)
			h, _ := d.int(tagImageLength)
			if w > 0 && h > 0 && w <= maxSide && h <= maxSide && int(w)*int(h) > p.width*p.height {
				p.width, p.height = int(w), int(h)
			}
		}
		if p.width > 0 {
			return
		}
	}
}
