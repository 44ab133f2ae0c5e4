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

// bufSize is how many bytes of the scan are held, and slack how many zeros lie
// behind the last of them: as much as a damaged unit may read beyond the end.
const (
	bufSize = 1 << 16
	slack   = ahead
)

// buffer holds the data of a scan, with room for a read of eight bytes at any
// place.
type buffer [bufSize + 8]byte

// bits reads the bits of a scan. What comes is freed of its stuffed zeros up to
// the next marker.
type bits struct {
	in     *bufio.Reader
	buf    *buffer
	end    int  // of the data ready
	marker byte // that the data end at; 0 none was met yet
	ended  bool // the file ends
	err    error
}

// place is how far a scan was read. It is handed on by value, so that it stays
// in registers.
type place struct {
	acc uint64 // the next n bits, from the top
	n   uint
	pos int // in the buffer, of the next byte that is not in acc
}

// reset begins a stretch of data after a marker.
func (b *bits) reset() place {
	if b.buf == nil {
		b.buf = new(buffer)
	}
	b.end, b.marker = 0, 0
	return b.fill(place{})
}

// wants reports whether less than ahead may be ready behind p, and more to come.
func (b *bits) wants(p place) bool {
	return b.end-p.pos < ahead && b.marker == 0 && !b.ended
}

// fill makes at least ahead bytes ready, or all that come before the next
// marker; behind those are zeros. p is moved along with the data.
func (b *bits) fill(p place) place {
	b.end = copy(b.buf[:], b.buf[p.pos:b.end])
	p.pos = 0
	const limit = bufSize - slack
	for b.end < limit && b.marker == 0 && !b.ended {
		// What the reader has ready is taken at once; a lone byte at its end
		// may be half of a marker.
		part, err := b.in.Peek(max(2, b.in.Buffered()))
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
		b.in.Discard(b.unstuff(part[:min(len(part), limit-b.end+1)]))
	}
	if b.marker != 0 || b.ended {
		clear(b.buf[b.end : b.end+slack])
	}
	return p
}

// unstuff takes data from part up to a marker, and returns how many bytes of it
// are done with: all but an 0xff at its end.
func (b *bits) unstuff(part []byte) int {
	used := 0
	for used < len(part) {
		rest := part[used:]
		i := bytes.IndexByte(rest, 0xff)
		if i < 0 {
			i = len(rest)
		}
		b.end += copy(b.buf[b.end:], rest[:i])
		used += i
		if i+1 >= len(rest) {
			break
		}
		switch m := rest[i+1]; m {
		case 0:
			b.buf[b.end] = 0xff
			b.end++
			used += 2
		case 0xff: // fill bytes
			used++
		default:
			b.marker = m
			return used + 2
		}
	}
	return used
}

// more makes at least 56 bits ready. Behind the end of the data they are zeros:
// fill has left a unit's worth of them.
func (p place) more(buf *buffer) place {
	at := p.pos & (bufSize - 1)
	p.acc |= binary.BigEndian.Uint64(buf[at:at+8]) >> (p.n & 63)
	p.pos += int((63 - p.n) >> 3)
	p.n |= 56
	return p
}

// drop takes n bits off, n at most 31.
func (p place) drop(n uint) place {
	p.acc <<= n & 63
	p.n -= n
	return p
}

// beyond reports whether more bits were used than there were.
func (b *bits) beyond(p place) bool {
	return p.pos-int(p.n)/8 > b.end
}

// skipTo looks for the next restart marker or the end of the picture, and
// returns it; 0 where the file ends first. Any other marker within a scan is
// damage, and passed over.
func (b *bits) skipTo() byte {
	for {
		for b.marker == 0 && !b.ended {
			b.end = 0
			b.fill(place{})
		}
		if b.marker == 0 || b.marker == eoi || b.marker >= rst0 && b.marker <= rst7 {
			return b.marker
		}
		b.marker = 0
	}
}
