// Package scaled decodes baseline JPEGs to an eighth, a quarter or half of
// their size without making the whole picture first: of each block of 8 × 8 only
// the lowest frequencies are kept, the others' bits are stepped over. No memory
// but that of the small picture is taken, whatever the file's size.
//
// It reads sequential Huffman JPEGs of 8 bits (ITU-T T.81, SOF0 and SOF1), grey
// or YCbCr, in one interleaved scan: what cameras write. Anything else is
// ErrUnsupported, and image/jpeg knows it or says why not.
package scaled

import (
	"bufio"
	"encoding/binary"
	"errors"
	"fmt"
	"image"
	"io"
)

var (
	// ErrUnsupported: a JPEG that is coded otherwise, progressively for one.
	ErrUnsupported = errors.New("not a baseline JPEG in one scan")
	// ErrFormat: the file is no JPEG, or damaged before its picture begins.
	ErrFormat = errors.New("damaged JPEG")
)

// DamagedError tells that a picture was decoded in part: its data end early, or
// stretches of it can't be read. What is missing is grey.
type DamagedError struct {
	Blocks, Of int  // units of the scan that could not be read, of how many
	Cut        bool // the file ends without an end of the picture
}

func (e *DamagedError) Error() string {
	if e.Cut {
		return fmt.Sprintf("cut off: %d of %d parts of the picture are missing", e.Blocks, e.Of)
	}
	return fmt.Sprintf("%d of %d parts of the picture are damaged", e.Blocks, e.Of)
}

// MaxPixels is the largest picture that is decoded, width × height: more than
// any camera's, and at half its size, the most that is made of it, 200 MB.
const MaxPixels = 1 << 28

// Decode decodes the JPEG that r holds to 1/den of its width and height, rounded
// up; den is 8, 4 or 2. The picture is an *image.YCbCr, or an *image.Gray where
// the file is grey. At an eighth each pixel is the mean of its block; at a
// quarter and half it is the inverse transform of the lowest 2 × 2 and 4 × 4
// frequencies. Errors: ErrUnsupported, ErrFormat, those of r; a *DamagedError
// comes with the picture as far as it could be read.
func Decode(r io.Reader, den int) (image.Image, error) {
	if den != 8 && den != 4 && den != 2 {
		return nil, fmt.Errorf("decode to 1/%d: %w", den, ErrUnsupported)
	}
	d := &decoder{side: 8 / den, den: den}
	in, ok := r.(*bufio.Reader)
	if !ok {
		in = bufio.NewReaderSize(r, 64<<10)
	}
	d.bits.in = in
	if err := d.header(); err != nil {
		if errors.Is(err, io.EOF) || errors.Is(err, io.ErrUnexpectedEOF) {
			err = fmt.Errorf("its header is cut off: %w", ErrFormat)
		}
		return nil, err
	}
	return d.scan()
}

// component is one plane of the picture.
type component struct {
	id, h, v int // sampling factors
	quant    int // number of its table
	dc, ac   int // numbers of its tables
	pred     int32
	pix      []byte
	stride   int
}

type decoder struct {
	bits          bits
	side          int // samples kept along each side of a block: 1, 2, 4
	den           int
	width, height int
	restart       int // units between two restart markers; 0 none
	quants        [4]*[64]int32
	dc, ac        [4]*table
	comps         []component
	transform     int // of Adobe's marker; −1 none
}

// Markers of T.81, table B.1.
const (
	soi, eoi, sos  = 0xd8, 0xd9, 0xda
	dqt, dht, dri  = 0xdb, 0xc4, 0xdd
	sof0, sof1     = 0xc0, 0xc1
	app14          = 0xee
	rst0, rst7     = 0xd0, 0xd7
	tem            = 0x01
	dac, jpg, sof2 = 0xcc, 0xc8, 0xc2
)

// header reads up to the data of the scan.
func (d *decoder) header() error {
	in := d.bits.in
	d.transform = -1
	var two [2]byte
	if _, err := io.ReadFull(in, two[:]); err != nil {
		return err
	}
	if two != [2]byte{0xff, soi} {
		return fmt.Errorf("it does not begin as a JPEG: %w", ErrFormat)
	}
	for {
		b, err := in.ReadByte()
		if err != nil {
			return err
		}
		if b != 0xff {
			return fmt.Errorf("no marker where one must be: %w", ErrFormat)
		}
		m := byte(0xff)
		for m == 0xff { // fill bytes
			if m, err = in.ReadByte(); err != nil {
				return err
			}
		}
		if m == tem || m >= rst0 && m <= rst7 {
			continue
		}
		if m == soi || m == eoi || m == 0 {
			return fmt.Errorf("its header ends before its picture begins: %w", ErrFormat)
		}
		if _, err := io.ReadFull(in, two[:]); err != nil {
			return err
		}
		n := int(binary.BigEndian.Uint16(two[:])) - 2
		if n < 0 {
			return fmt.Errorf("a segment of no length: %w", ErrFormat)
		}
		wanted := m == dqt || m == dht || m == dri || m == sos || m == app14 || m >= sof0 && m <= 0xcf
		if !wanted {
			if _, err := in.Discard(n); err != nil {
				return err
			}
			continue
		}
		seg := make([]byte, n)
		if _, err := io.ReadFull(in, seg); err != nil {
			return err
		}
		switch {
		case m == dqt:
			err = d.quantisers(seg)
		case m == dht:
			err = d.tables(seg)
		case m == dri:
			if len(seg) < 2 {
				return fmt.Errorf("DRI: %w", ErrFormat)
			}
			d.restart = int(binary.BigEndian.Uint16(seg))
		case m == app14:
			if len(seg) >= 12 && string(seg[:5]) == "Adobe" {
				d.transform = int(seg[11])
			}
		case m == sof0 || m == sof1:
			err = d.frame(seg)
		case m == sos:
			return d.begin(seg)
		default: // sof2 …, arithmetic coding, lossless
			return ErrUnsupported
		}
		if err != nil {
			return err
		}
	}
}

// quantisers reads DQT (B.2.4.1).
func (d *decoder) quantisers(s []byte) error {
	for len(s) > 0 {
		wide, n := s[0]>>4, s[0]&15
		size := 64 * (1 + int(wide))
		if wide > 1 || n > 3 || len(s) < 1+size {
			return fmt.Errorf("DQT: %w", ErrFormat)
		}
		t := new([64]int32)
		for k := range t {
			if wide == 1 {
				t[k] = int32(binary.BigEndian.Uint16(s[1+2*k:]))
			} else {
				t[k] = int32(s[1+k])
			}
		}
		d.quants[n] = t
		s = s[1+size:]
	}
	return nil
}

// tables reads DHT (B.2.4.2).
func (d *decoder) tables(s []byte) error {
	for len(s) > 0 {
		if len(s) < 17 {
			return fmt.Errorf("DHT: %w", ErrFormat)
		}
		class, n, total := s[0]>>4, s[0]&15, 0
		for _, c := range s[1:17] {
			total += int(c)
		}
		if class > 1 || n > 3 || total > 256 || len(s) < 17+total {
			return fmt.Errorf("DHT: %w", ErrFormat)
		}
		t, err := newTable(s[1:17], s[17:17+total], class == 1)
		if err != nil {
			return err
		}
		if class == 0 {
			d.dc[n] = t
		} else {
			d.ac[n] = t
		}
		s = s[17+total:]
	}
	return nil
}

// frame reads SOF (B.2.2).
func (d *decoder) frame(s []byte) error {
	if len(d.comps) > 0 || len(s) < 6 {
		return fmt.Errorf("SOF: %w", ErrFormat)
	}
	n := int(s[5])
	if s[0] != 8 || n != 1 && n != 3 {
		return ErrUnsupported
	}
	d.height, d.width = int(binary.BigEndian.Uint16(s[1:])), int(binary.BigEndian.Uint16(s[3:]))
	if len(s) < 6+3*n || d.width == 0 {
		return fmt.Errorf("SOF: %w", ErrFormat)
	}
	if d.height == 0 || d.width*d.height > MaxPixels { // a height that comes after the scan (DNL)
		return ErrUnsupported
	}
	for k := range n {
		c := component{id: int(s[6+3*k]), h: int(s[7+3*k] >> 4), v: int(s[7+3*k] & 15), quant: int(s[8+3*k])}
		if c.h < 1 || c.h > 4 || c.v < 1 || c.v > 4 || c.quant > 3 {
			return fmt.Errorf("SOF: %w", ErrFormat)
		}
		d.comps = append(d.comps, c)
	}
	if n == 1 { // the factors of a single plane mean nothing (A.2.2)
		d.comps[0].h, d.comps[0].v = 1, 1
	}
	return nil
}

// begin reads SOS (B.2.3): the only scan, of all components.
func (d *decoder) begin(s []byte) error {
	n := len(d.comps)
	if n == 0 || len(s) < 1 || len(s) < 4+2*int(s[0]) {
		return fmt.Errorf("SOS: %w", ErrFormat)
	}
	if int(s[0]) != n {
		return ErrUnsupported // a scan a component
	}
	for k := range d.comps {
		c := &d.comps[k]
		if int(s[1+2*k]) != c.id {
			return ErrUnsupported
		}
		c.dc, c.ac = int(s[2+2*k]>>4), int(s[2+2*k]&15)
		if c.dc > 3 || c.ac > 3 || d.dc[c.dc] == nil || d.ac[c.ac] == nil || d.quants[c.quant] == nil {
			return fmt.Errorf("a table is missing: %w", ErrFormat)
		}
	}
	blocks := 0
	for _, c := range d.comps {
		blocks += c.h * c.v
	}
	if blocks > maxBlocks {
		return ErrUnsupported
	}
	tail := s[1+2*n:]
	if tail[0] != 0 || tail[1] != 63 || tail[2] != 0 {
		return ErrUnsupported
	}
	if n == 3 {
		rgb := d.comps[0].id == 'R' && d.comps[1].id == 'G' && d.comps[2].id == 'B'
		if d.transform == 0 || d.transform < 0 && rgb {
			return ErrUnsupported // three channels that are no YCbCr
		}
	}
	_, err := d.ratio()
	return err
}

// ratio is how the colour planes are sampled.
func (d *decoder) ratio() (image.YCbCrSubsampleRatio, error) {
	if len(d.comps) == 1 {
		return 0, nil
	}
	y, b, r := d.comps[0], d.comps[1], d.comps[2]
	if b.h != r.h || b.v != r.v || y.h%b.h != 0 || y.v%b.v != 0 {
		return 0, ErrUnsupported
	}
	switch [2]int{y.h / b.h, y.v / b.v} {
	case [2]int{1, 1}:
		return image.YCbCrSubsampleRatio444, nil
	case [2]int{2, 1}:
		return image.YCbCrSubsampleRatio422, nil
	case [2]int{2, 2}:
		return image.YCbCrSubsampleRatio420, nil
	case [2]int{1, 2}:
		return image.YCbCrSubsampleRatio440, nil
	case [2]int{4, 1}:
		return image.YCbCrSubsampleRatio411, nil
	case [2]int{4, 2}:
		return image.YCbCrSubsampleRatio410, nil
	}
	return 0, ErrUnsupported
}

// picture is what was decoded.
func (d *decoder) picture() image.Image {
	rect := image.Rect(0, 0, (d.width+d.den-1)/d.den, (d.height+d.den-1)/d.den)
	y := d.comps[0]
	if len(d.comps) == 1 {
		return &image.Gray{Pix: y.pix, Stride: y.stride, Rect: rect}
	}
	ratio, _ := d.ratio() // held in begin
	return &image.YCbCr{Y: y.pix, Cb: d.comps[1].pix, Cr: d.comps[2].pix, YStride: y.stride, CStride: d.comps[1].stride, SubsampleRatio: ratio, Rect: rect}
}
