package scaled

import "fmt"

// window is how many bits of the data are looked up at once. Codes of more are
// rare, and found bit by bit.
const window = 12

// Of the 56 bits that more makes ready two steps can be taken, each of a window
// and the bits of a value, of which there are 15 at most.
var _ [56 - 2*(window+15)]struct{}

// table is a Huffman table (T.81, annex C and F.2.2.3), laid out for lookups by
// the next window bits.
type table struct {
	// one is the code that the bits begin with, with the value behind it; 0
	// where the code is longer than the window.
	one [1 << window]code

	// step is what can be stepped over at once, of the table of AC: how many
	// bits | how far the index of the coefficient moves << 5, and ended more
	// where a block ends in it. Where not even one code fits it moves by
	// unknown, over no bits.
	step [1 << window]uint16

	// The longer codes: the first code beyond those of each length, aligned to
	// 16 bits on the left, and what must be added to a code for the place of its
	// symbol.
	beyond  [17]int32
	offset  [17]int32
	symbols []byte
}

// How far step moves, which is 63 at most, beside.
const (
	ended   = 128  // a block that ends before its last coefficient
	unknown = 1024 // a code that is longer than the window
)

// code is a code with its value: how many bits they take | the bits of the
// value << 8 | how many coefficients are left out before it << 16. The end of a
// block leaves out endOfBlock.
type code uint32

const endOfBlock = 64

// codeOf is the code of length bits for a symbol of DC or AC (F.1.2).
func codeOf(symbol byte, length uint, ac bool) code {
	run, size := uint(symbol>>4), uint(symbol&15)
	if ac && size == 0 && run != 15 {
		run = endOfBlock
	}
	return code(length + size | size<<8 | run<<16)
}

func (c code) bits() uint { return uint(c & 0xff) }
func (c code) size() uint { return uint(c >> 8 & 0xff) }
func (c code) run() int   { return int(c >> 16) }

// value is what c stands for where it is next in acc: its last bits, extended
// (F.2.2.1, figure F.12). 0 where it has none.
func (c code) value(acc uint64) int32 {
	acc <<= (c.bits() - c.size()) & 63
	negative := ^int64(acc) >> 63 // all ones where the first bit is 0
	return int32(acc>>1>>(63-c.size()&63)) + int32(negative)&(1-int32(1)<<(c.size()&31))
}

// newTable makes the table of counts[i] codes of length i+1 for symbols in
// order. AC tables get their steps.
func newTable(counts, symbols []byte, ac bool) (*table, error) {
	t := &table{symbols: append([]byte(nil), symbols...)}
	first, place := int32(0), int32(0)
	for length := int32(1); length <= 16; length++ {
		t.offset[length] = place - first
		n := int32(counts[length-1])
		if first+n > 1<<length {
			return nil, fmt.Errorf("DHT: more codes than there are: %w", ErrFormat)
		}
		for range n {
			if !ac && symbols[place] > 15 {
				return nil, fmt.Errorf("DHT: a difference of %d bits: %w", symbols[place], ErrFormat)
			}
			if length <= window {
				c := codeOf(symbols[place], uint(length), ac)
				from := first << (window - length)
				for i := from; i < from+1<<(window-length); i++ {
					t.one[i] = c
				}
			}
			first++
			place++
		}
		t.beyond[length] = first << (16 - length)
		first <<= 1
	}
	if ac {
		for i := range t.step {
			t.step[i] = t.steps(uint(i))
		}
	}
	return t, nil
}

// steps finds how much of the bits i can be stepped over: whole codes with the
// bits of their values, as long as the window holds the codes. The value's own
// bits may lie beyond it: they are not looked at.
func (t *table) steps(i uint) uint16 {
	used, moved := uint(0), 0
	for used < window {
		c := t.one[i<<used&(1<<window-1)]
		if c == 0 || used+c.bits()-c.size() > window {
			break
		}
		if c.run() == endOfBlock {
			return uint16(used+c.bits()) | uint16(moved+ended)<<5
		}
		if moved+c.run()+1 > 63 {
			break
		}
		used += c.bits()
		moved += c.run() + 1
	}
	if used == 0 {
		return unknown << 5
	}
	return uint16(used) | uint16(moved)<<5
}

// long finds a code that is longer than the window, next in acc; 0 where there
// is none.
func (t *table) long(acc uint64, ac bool) code {
	next := int32(acc >> 48)
	for n := window + 1; n <= 16; n++ {
		if next < t.beyond[n] {
			at := next>>(16-n) + t.offset[n]
			if at < 0 || int(at) >= len(t.symbols) {
				return 0
			}
			return codeOf(t.symbols[at], uint(n), ac)
		}
	}
	return 0
}
