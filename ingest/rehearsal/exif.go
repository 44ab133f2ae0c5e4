package rehearsal

import (
	"encoding/binary"
	"fmt"
	"math"
)

// TIFF field types that the writer knows, by their numbers in TIFF 6.0.
const (
	typeByte      = 1
	typeASCII     = 2
	typeShort     = 3
	typeLong      = 4
	typeRational  = 5
	typeUndefined = 7
	typeSRational = 10
)

// field is one entry of an image file directory.
type field struct {
	tag, kind uint16
	count     uint32
	value     []byte
	sub       *directory // a LONG that points to it
	blob      []byte     // a LONG that points to these bytes
}

// directory is an image file directory with the one that follows it.
type directory struct {
	fields []field // in ascending tag order, as TIFF 6.0 asks
	next   *directory
}

// tiffWriter lays directories out in one byte order.
type tiffWriter struct {
	order binary.AppendByteOrder
	big   bool
}

func (w tiffWriter) ascii(tag uint16, s string) field {
	return field{tag: tag, kind: typeASCII, count: uint32(len(s) + 1), value: append([]byte(s), 0)}
}

func (w tiffWriter) short(tag uint16, vs ...uint16) field {
	f := field{tag: tag, kind: typeShort, count: uint32(len(vs))}
	for _, v := range vs {
		f.value = w.order.AppendUint16(f.value, v)
	}
	return f
}

func (w tiffWriter) long(tag uint16, v uint32) field {
	return field{tag: tag, kind: typeLong, count: 1, value: w.order.AppendUint32(nil, v)}
}

func (w tiffWriter) undefined(tag uint16, b ...byte) field {
	return field{tag: tag, kind: typeUndefined, count: uint32(len(b)), value: b}
}

func (w tiffWriter) bytes(tag uint16, b ...byte) field {
	return field{tag: tag, kind: typeByte, count: uint32(len(b)), value: b}
}

func (w tiffWriter) rational(tag uint16, num, den uint32) field {
	return field{tag: tag, kind: typeRational, count: 1,
		value: w.order.AppendUint32(w.order.AppendUint32(nil, num), den)}
}

// decimal writes v as a rational of the given denominator.
func (w tiffWriter) decimal(tag uint16, v float64, den uint32) field {
	return w.rational(tag, uint32(math.Round(v*float64(den))), den)
}

// signed writes v as a signed rational of the given denominator.
func (w tiffWriter) signed(tag uint16, v float64, den int32) field {
	f := w.rational(tag, uint32(int32(math.Round(v*float64(den)))), uint32(den))
	f.kind = typeSRational
	return f
}

// encode returns the whole TIFF structure, header first.
func (w tiffWriter) encode(d *directory) []byte {
	out := []byte("II")
	if w.big {
		out = []byte("MM")
	}
	out = w.order.AppendUint16(out, 42)
	out = w.order.AppendUint32(out, 8)
	for d != nil {
		var end int
		out, end = w.place(out, d)
		d = d.next
		if d != nil {
			w.patch(out, end, uint32(len(out)))
		}
	}
	return out
}

// place appends d at the end of out, with all it points to, and returns where
// its pointer to the next directory stands.
func (w tiffWriter) place(out []byte, d *directory) ([]byte, int) {
	type hole struct{ at, field int }
	var holes []hole
	out = w.order.AppendUint16(out, uint16(len(d.fields)))
	for i, f := range d.fields {
		if f.sub != nil || f.blob != nil {
			f.kind, f.count, f.value = typeLong, 1, make([]byte, 4)
			holes = append(holes, hole{len(out) + 8, i})
		} else if len(f.value) > 4 {
			holes = append(holes, hole{len(out) + 8, i})
		}
		out = w.order.AppendUint16(out, f.tag)
		out = w.order.AppendUint16(out, f.kind)
		out = w.order.AppendUint32(out, f.count)
		var four [4]byte
		if len(f.value) <= 4 {
			copy(four[:], f.value) // left-aligned, as TIFF 6.0 has it
		}
		out = append(out, four[:]...)
	}
	end := len(out)
	out = w.order.AppendUint32(out, 0)
	for _, h := range holes {
		if len(out)%2 == 1 {
			out = append(out, 0) // values begin on a word boundary
		}
		f := d.fields[h.field]
		w.patch(out, h.at, uint32(len(out)))
		switch {
		case f.sub != nil:
			out, _ = w.place(out, f.sub)
		case f.blob != nil:
			out = append(out, f.blob...)
		default:
			out = append(out, f.value...)
		}
	}
	if len(out)%2 == 1 {
		out = append(out, 0)
	}
	return out, end
}

func (w tiffWriter) patch(b []byte, at int, v uint32) {
	copy(b[at:at+4], w.order.AppendUint32(nil, v))
}

// writerFor is the byte order of a body: the first writes Motorola's, the
// second Intel's, since a reader must know both.
func writerFor(cam body) tiffWriter {
	if cam.card == cardNames[0] {
		return tiffWriter{binary.BigEndian, true}
	}
	return tiffWriter{binary.LittleEndian, false}
}

// exifOf returns the TIFF structure of the Exif segment of e's JPEG. Tags are
// those of CIPA DC-008 (Exif), types and counts as in ExifTool's tag table.
// width and height are those stored.
func exifOf(e exposure, width, height int, thumb []byte) []byte {
	w := writerFor(e.cam)
	orientation := uint16(1)
	if e.hold == turned {
		orientation = 6
	}
	num, den := e.shutter()
	stamp := e.told().Format("2006:01:02 15:04:05")
	sub := fmt.Sprintf("%03d", e.told().Nanosecond()/1e6)[:e.cam.subSecDigits]
	interop := &directory{fields: []field{
		w.ascii(0x0001, "R98"),
		w.undefined(0x0002, []byte("0100")...),
	}}
	exif := &directory{fields: []field{
		w.rational(0x829A, num, den),           // ExposureTime, s
		w.decimal(0x829D, e.fnum, 10),          // FNumber
		w.short(0x8827, e.iso()),               // ISO
		w.undefined(0x9000, []byte("0232")...), // ExifVersion
		w.ascii(0x9003, stamp),                 // DateTimeOriginal
		w.ascii(0x9004, stamp),                 // DateTimeDigitized
		w.ascii(0x9010, e.offset),              // OffsetTime
		w.ascii(0x9011, e.offset),              // OffsetTimeOriginal
		w.undefined(0x9101, 1, 2, 3, 0),        // ComponentsConfiguration: Y Cb Cr
		w.decimal(0x9206, e.dist/1000, 1000),   // SubjectDistance, m
		w.decimal(0x920A, e.focal, 10),         // FocalLength, mm
		w.ascii(0x9291, sub),                   // SubSecTimeOriginal
		w.undefined(0xA000, []byte("0100")...), // FlashpixVersion
		w.short(0xA001, 1),                     // ColorSpace: sRGB
		w.long(0xA002, uint32(width)),          // PixelXDimension
		w.long(0xA003, uint32(height)),         // PixelYDimension
		{tag: 0xA005, sub: interop},            // Interoperability
		w.short(0xA405, uint16(e.focal)),       // FocalLengthIn35mmFilm
		w.ascii(0xA431, e.cam.serial),          // BodySerialNumber
		w.ascii(0xA434, lenses[e.focal]),       // LensModel
	}}
	if e.tagged() {
		// CameraElevationAngle, degrees of the optical axis, negative looking down
		tag := w.signed(0x9405, -e.elevation, 10)
		for i, f := range exif.fields {
			if f.tag > tag.tag {
				exif.fields = append(exif.fields[:i], append([]field{tag}, exif.fields[i:]...)...)
				break
			}
		}
	}
	first := &directory{fields: []field{
		w.ascii(0x010F, e.cam.maker),
		w.ascii(0x0110, e.cam.model),
		w.short(0x0112, orientation),
		w.rational(0x011A, 72, 1),
		w.rational(0x011B, 72, 1),
		w.short(0x0128, 2), // inches
		w.ascii(0x0132, stamp),
		w.short(0x0213, 2), // YCbCrPositioning: co-sited
		{tag: 0x8769, sub: exif},
	}}
	first.next = &directory{fields: []field{
		w.short(0x0103, 6), // JPEG, as Exif writes it
		w.short(0x0112, orientation),
		w.rational(0x011A, 72, 1),
		w.rational(0x011B, 72, 1),
		w.short(0x0128, 2),
		{tag: 0x0201, blob: thumb},
		w.long(0x0202, uint32(len(thumb))),
	}}
	return w.encode(first)
}

// shutter is the exposure time as a fraction of a second: a third-stop value
// that an ordinary window asks for at e's aperture.
func (e exposure) shutter() (num, den uint32) {
	want := math.Log2(100) - 2*math.Log2(e.fnum/4) - e.stops
	best := uint32(0)
	for _, den := range []uint32{8, 10, 13, 15, 20, 25, 30, 40, 50, 60, 80, 100, 125, 160, 200, 250, 320, 400} {
		if best == 0 || math.Abs(math.Log2(float64(den))-want) < math.Abs(math.Log2(float64(best))-want) {
			best = den
		}
	}
	return 1, best
}

func (e exposure) iso() uint16 {
	if e.cam.card == cardNames[0] {
		return 400
	}
	return 320
}
