package scaled

import (
	"math/rand/v2"
	"testing"
)

// drawn is a table of random codes of every length, as DHT has it: how many
// there are of each, and what they stand for. The code of ones alone stays free
// (T.81, C.2).
func drawn(random *rand.Rand) (counts, symbols []byte) {
	counts = make([]byte, 16)
	free := 1
	for i := range counts {
		free *= 2
		n := random.IntN(min(free, 40))
		if random.IntN(3) == 0 {
			n = 0
		}
		n = min(n, 256-len(symbols))
		for range n {
			symbol := byte(random.IntN(256))
			if random.IntN(4) == 0 {
				symbol = []byte{0x00, 0xf0, 0x01, 0x11}[random.IntN(4)]
			}
			symbols = append(symbols, symbol)
		}
		counts[i] = byte(n)
		free -= n
	}
	return counts, symbols
}

// byBits steps over a block as T.81 says it, a bit at a time (F.2.2.2, F.2.2.3):
// how many bits it took, and whether it was one.
func byBits(counts, symbols, data []byte, k int) (used int, ok bool) {
	bit := func() int {
		b := int(data[used/8] >> (7 - used%8) & 1)
		used++
		return b
	}
	for k < 64 {
		code, first, place, found := 0, 0, 0, false
		for length := range 16 {
			code = code<<1 | bit()
			n := int(counts[length])
			if code-first < n {
				place, found = place+code-first, true
				break
			}
			place, first = place+n, (first+n)<<1
		}
		if !found {
			return used, false
		}
		run, size := int(symbols[place]>>4), int(symbols[place]&15)
		if size == 0 && run != 15 {
			return used, true
		}
		used += size
		k += run + 1
	}
	return used, k == 64
}

// However many codes are stepped over at once, a block ends where the standard
// ends it.
func TestStepsOverCodes(t *testing.T) {
	random := rand.New(rand.NewPCG(6, 28))
	whole, none := 0, 0
	buf := new(buffer)
	for range 300 {
		counts, symbols := drawn(random)
		table, err := newTable(counts, symbols, true)
		if err != nil {
			t.Fatal(err)
		}
		for range 300 {
			for i := range 512 {
				buf[i] = byte(random.Uint32())
				if random.IntN(3) == 0 {
					buf[i] = 0 // short codes
				}
			}
			k := 1 + random.IntN(63)
			want, wantOK := byBits(counts, symbols, buf[:], k)
			p, ok := table.skip(place{}, buf, k)
			if ok != wantOK || ok && 8*p.pos-int(p.n) != want {
				t.Fatalf("counts %v, symbols %v, from %d: %d bits, %v; want %d, %v", counts, symbols, k, 8*p.pos-int(p.n), ok, want, wantOK)
			}
			if ok {
				whole++
			} else {
				none++
			}
		}
	}
	if whole < 10000 || none < 1000 {
		t.Errorf("only %d blocks that end and %d that don't", whole, none)
	}
}
