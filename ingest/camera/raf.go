package camera

import "encoding/binary"

// readRAF reads Fujifilm's raw: a header with the places of a whole JPEG,
// whose Exif is the raw's, and of a list with the sensor's sizes. Fields as
// ExifTool 12.57 reads them; the maker publishes none.
func (p *picture) readRAF() error {
	p.format = "RAF"
	h := p.src.upTo(84, 16)
	if len(h) < 16 {
		return &FormatError{"RAF", "the file ends within its header"}
	}
	jpegAt, jpegSize := int64(binary.BigEndian.Uint32(h)), int64(binary.BigEndian.Uint32(h[4:]))
	listAt, listSize := int64(binary.BigEndian.Uint32(h[8:])), int64(binary.BigEndian.Uint32(h[12:]))
	p.readSensor(listAt, listSize)
	if string(p.src.upTo(jpegAt, 2)) != "\xFF\xD8" || jpegSize < 4 {
		if p.width == 0 {
			return &FormatError{"RAF", "neither its JPEG nor its sizes can be read; the file is cut short or damaged"}
		}
		p.warn("RAF: its JPEG can't be read")
		return nil
	}
	if jpegSize > p.src.size-jpegAt {
		p.warn("RAF: the file ends within its JPEG")
	}
	p.addPreview("raw", jpegAt, jpegSize)
	return p.readJPEG(jpegAt, jpegSize, false)
}

// readSensor reads the size of the picture from the list of size bytes at off:
// the cropped one where it stands, else that of the whole sensor.
func (p *picture) readSensor(off, size int64) {
	const tagWhole, tagCropped = 0x0100, 0x0111
	c := cursor{b: p.src.upTo(off, min(size, maxValue))}
	for n := c.uint(4); n > 0 && !c.short; n-- {
		tag, size := c.uint(2), int(c.uint(2))
		v := c.take(size)
		if c.short || len(v) < 4 || tag != tagCropped && (tag != tagWhole || p.width != 0) {
			continue
		}
		if h, w := int(binary.BigEndian.Uint16(v)), int(binary.BigEndian.Uint16(v[2:])); w > 0 && h > 0 {
			p.width, p.height = w, h
		}
	}
}
