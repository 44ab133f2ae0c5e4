package scaled

import "fmt"

// window is how many bits of the data are looked up at once. Codes of more are
// rare, and found bit by bit.
const window = 12

// table is a Huffman table (T.81, annex C and F.2.2.3), laid out for lookups by
// the next window bits.
type table struct {
	// one is the code that the bits begin with: symbol << 5 | length in bits;
	// 0 where the code is longer than the window.
	one [1 << window]uint16

	// step is what can be stepped over at once, of the table of AC: how many
	// bits | how far the index of the coefficient moves << 5, with endOfBlock
	// where a block ends in it. 0 where not even one whole code with its value
	// fits.
	step [1 << window]uint16

	// The longer codes: the first code beyond those of each length, aligned to
	// 16 bits on the left, and what must be added to a code for the place of its
	// symbol.
	beyond  [17]int32
	offset  [17]int32
	symbols []byte
}

const endOfBlock = 64 // in the moves of step

// newTable makes the table of counts[i] codes of length i+1 for symbols in
// order. AC tables get their steps.
func newTable(counts, symbols []byte, ac bool) (*table, error) {
	t := &table{symbols: append([]byte(nil), symbols...)}
	code, place := int32(0), int32(0)
	for length := int32(1); length <= 16; length++ {
		t.offset[length] = place - code
		n := int32(counts[length-1])
		if code+n > 1<<length {
			return nil, fmt.Errorf("DHT: more codes than there are: %w", ErrFormat)
		}
		for range n {
			if length <= window {
				from := code << (window - length)
				for i := from; i < from+1<<(window-length); i++ {
					t.one[i] = uint16(symbols[place])<<5 | uint16(length)
				}
			}
			code++
			place++
		}
		t.beyond[length] = code << (16 - length)
		code <<= 1
	}
	if ac {
		for i := range t.step {
			t.step[i] = t.steps(i)
		}
	}
	return t, nil
}

// steps finds how much of the bits i can be stepped over: whole codes with the
// bits of their values, as long as the window holds them.
func (t *table) steps(i int) uint16 {
	used, moved := 0, 0
	for used < window {
		e := t.one[i<<used&(1<<window-1)]
		length, run, size := int(e&31), int(e>>9), int(e>>5&15)
		if e == 0 || used+length > window {
			break
		}
		if size == 0 && run != 15 {
			return uint16(used+length) | uint16(moved+endOfBlock)<<5
		}
		if moved+run+1 >= endOfBlock || used+length+size > 31 {
			break
		}
		// The value's own bits may lie beyond the window: they are not looked at.
		used += length + size
		moved += run + 1
	}
	return uint16(used) | uint16(moved)<<5
}

// long finds a code that is longer than the window in the 16 bits next; its
// length is 0 where there is none.
func (t *table) long(next int32) (symbol byte, length uint) {
	for n := window + 1; n <= 16; n++ {
		if next < t.beyond[n] {
			at := next>>(16-n) + t.offset[n]
			if at < 0 || int(at) >= len(t.symbols) {
				return 0, 0
			}
			return t.symbols[at], uint(n)
		}
	}
	return 0, 0
}
