package scaled

import (
	"bufio"
	"bytes"
	"encoding/binary"
	"errors"
	"io"
)

// maxBlocks is how many blocks a unit may have (T.81, B.2.3).
const maxBlocks = 10

// ahead is how many bytes of the scan lie ready before a unit is decoded, where
// there are as many: no less than its blocks may take, of 64 codes of 16 bits
// with values of 16.
const ahead = 4 << 10

var _ [ahead - maxBlocks*64*4]struct{} // begin refuses units of more blocks

// bits reads the bits of a scan. What comes is freed of its stuffed zeros up to
// the next marker.
type bits struct {
	in     *bufio.Reader
	buf    []byte // data ready, with room for a read of eight bytes behind end
	pos    int    // of the next byte that is not in acc
	end    int    // of the data ready
	acc    uint64 // the next n bits, from the top
	n      uint
	marker byte // that the data end at; 0 none was met yet
	ended  bool // the file ends
	err    error
}

// slack is how many zeros lie behind the last data: as much as a damaged unit
// may read beyond them.
const slack = ahead

// reset begins a stretch of data after a marker.
func (b *bits) reset() {
	if b.buf == nil {
		b.buf = make([]byte, 16*ahead+slack)
	}
	b.pos, b.end, b.acc, b.n, b.marker = 0, 0, 0, 0, 0
	b.fill()
}

// fill makes at least ahead bytes ready, or all that come before the next
// marker; behind those are zeros.
func (b *bits) fill() {
	if b.end-b.pos >= ahead || b.marker != 0 || b.ended {
		return
	}
	copy(b.buf, b.buf[b.pos:b.end])
	b.end -= b.pos
	b.pos = 0
	limit := len(b.buf) - slack
	for b.end < limit {
		// What the reader has ready is taken at once; a lone byte at its end
		// may be half of a marker.
		part, err := b.in.Peek(max(2, min(b.in.Buffered(), limit-b.end)))
		if len(part) < 2 {
			if len(part) == 1 && part[0] != 0xff {
				b.buf[b.end] = part[0]
				b.end++
			}
			b.ended = true
			if err != nil && !errors.Is(err, io.EOF) {
				b.err = err
			}
			break
		}
		part = part[:min(len(part), limit-b.end)]
		i := bytes.IndexByte(part, 0xff)
		switch {
		case i < 0:
			b.end += copy(b.buf[b.end:], part)
			b.in.Discard(len(part))
			continue
		case i > 0:
			b.end += copy(b.buf[b.end:], part[:i])
			b.in.Discard(i)
			continue
		case len(part) < 2: // 0xff is the last that fits: next time
			limit = b.end
			continue
		}
		switch m := part[1]; m {
		case 0:
			b.buf[b.end] = 0xff
			b.end++
			b.in.Discard(2)
		case 0xff: // fill bytes
			b.in.Discard(1)
		default:
			b.marker = m
			b.in.Discard(2)
			limit = b.end
		}
	}
	if b.marker != 0 || b.ended {
		clear(b.buf[b.end : b.end+slack])
	}
}

// more makes at least 56 bits ready. Behind the end of the data they are zeros:
// fill has left a unit's worth of them.
func (b *bits) more() {
	b.acc |= binary.BigEndian.Uint64(b.buf[b.pos:]) >> (b.n & 63)
	b.pos += int((63 - b.n) >> 3)
	b.n |= 56
}

// beyond reports whether more bits were used than there were.
func (b *bits) beyond() bool {
	return b.pos-int(b.n)/8 > b.end
}

// skipTo looks for the next restart marker or the end of the picture, and
// returns it; 0 where the file ends first. Any other marker within a scan is
// damage, and passed over.
func (b *bits) skipTo() byte {
	for {
		for b.marker == 0 && !b.ended {
			b.pos = b.end
			b.fill()
		}
		if b.marker == 0 || b.marker == eoi || b.marker >= rst0 && b.marker <= rst7 {
			return b.marker
		}
		b.marker = 0
	}
}
