package slate

import (
	"cmp"
	"slices"

	"github.com/makiuchi-d/gozxing/common/reedsolomon"
	"github.com/makiuchi-d/gozxing/qrcode/decoder"
)

// Error correction that is told where not to trust what was seen: a codeword in
// glare costs half of what one costs that is wrong unseen. Modules are ranked by
// how sure they are, and the least sure codewords are given up one after the
// other (Forney's generalised minimum distance decoding, IEEE Transactions on
// Information Theory 12 (1966) 125–131).

// spare is how many codewords of error correction are left to tell a wrong
// correction: 2 of 256 values each, and then the check of ours.
const spare = 2

// doubtedTextOf is textOf where it is known how sure each module is, 0 not at
// all. It reads our payloads alone, whose check tells a wrong correction.
func doubtedTextOf(modules []bool, sure []float64, n int) (text string) {
	defer func() { // gozxing's panic on some odd code must not end the run
		if recover() != nil {
			text = ""
		}
	}()
	bits := bitsOf(modules, n)
	if bits == nil || n > mostRestored {
		return ""
	}
	parser, err := decoder.NewBitMatrixParser(bits)
	if err != nil {
		return ""
	}
	version, err := parser.ReadVersion()
	if err != nil {
		return ""
	}
	format, err := parser.ReadFormatInformation()
	if err != nil {
		return ""
	}
	words, err := parser.ReadCodewords()
	if err != nil {
		return ""
	}
	// By the same way numbers tell which codeword stands where.
	level := format.GetErrorCorrectionLevel()
	numbers := make([]byte, len(words))
	for i := range numbers {
		numbers[i] = byte(i)
	}
	blocks, err := decoder.DataBlock_GetDataBlocks(words, version, level)
	if err != nil {
		return ""
	}
	numbered, err := decoder.DataBlock_GetDataBlocks(numbers, version, level)
	if err != nil {
		return ""
	}
	surest := surenessOf(sure, n, len(words))
	var data []byte
	for b, block := range blocks {
		word := block.GetCodewords()
		order := make([]int, len(word))
		for i := range order {
			order[i] = i
		}
		at := numbered[b].GetCodewords()
		slices.SortStableFunc(order, func(i, j int) int { return cmp.Compare(surest[at[i]], surest[at[j]]) })
		checks := len(word) - block.GetNumDataCodewords()
		right := false
		for given := 0; given <= checks-spare && !right; given++ {
			var fixed []byte
			if fixed, right = corrected(word, checks, order[:given]); right {
				data = append(data, fixed[:block.GetNumDataCodewords()]...)
			}
		}
		if !right {
			return ""
		}
	}
	got, err := decoder.DecodedBitStreamParser_Decode(data, version, level, nil)
	if err != nil {
		return ""
	}
	if _, err := Parse(got.GetText()); err != nil {
		return ""
	}
	return got.GetText()
}

// surenessOf is how sure each of so many codewords is: as its least sure module.
func surenessOf(sure []float64, n, words int) []float64 {
	out := make([]float64, words)
	for i, at := range placesOf(n) {
		if word := i / 8; word < words && (i%8 == 0 || sure[at] < out[word]) {
			out[word] = sure[at]
		}
	}
	return out
}

// placesOf are the modules of an n × n code that hold data, bit by bit of one
// codeword after the other (ISO/IEC 18004 section 7.7.3): in columns two wide from
// the right, up and down by turns, but for the column of the timing pattern. It
// holds for versions 1 to 6, which have no information of their version.
func placesOf(n int) []int {
	known, edge := fixed(n), n+2
	var places []int
	up := true
	for right := n - 1; right > 0; right -= 2 {
		if right == 6 {
			right--
		}
		for k := range n {
			y := k
			if up {
				y = n - 1 - k
			}
			for x := right; x > right-2; x-- {
				format := y == 8 && (x <= 8 || x >= n-8) || x == 8 && (y <= 8 || y >= n-8)
				if known[(y+1)*edge+x+1] == 0 && !format {
					places = append(places, y*n+x)
				}
			}
		}
		up = !up
	}
	return places
}

// corrected is a word of Reed and Solomon's code whose last checks bytes are of
// error correction, with errors anywhere and erasures at the places given put
// right; ok where 2 · errors + erasures ≤ checks − spare, or where nothing is
// wrong. The code is ISO/IEC 18004's: over GF(2⁸) by x⁸ + x⁴ + x³ + x² + 1, its
// generator's roots α⁰ … (annex A). Berlekamp and Massey's iteration begins at the
// erasures' locator (Blahut, Theory and Practice of Error Control Codes, 1983,
// section 9.2; from memory).
func corrected(word []byte, checks int, erased []int) (out []byte, ok bool) {
	f := reedsolomon.GenericGF_QR_CODE_FIELD_256
	at := func(poly []int, x int) int { // the lowest power first
		sum := 0
		for i := len(poly) - 1; i >= 0; i-- {
			sum = f.Multiply(sum, x) ^ poly[i]
		}
		return sum
	}
	syndromes := func(word []byte) (s []int, clean bool) {
		s, clean = make([]int, checks), true
		for j := range s {
			for _, v := range word {
				s[j] = f.Multiply(s[j], f.Exp(j)) ^ int(v)
			}
			clean = clean && s[j] == 0
		}
		return s, clean
	}
	s, clean := syndromes(word)
	if clean {
		return word, true
	}
	locatorOf := func(i int) int { return f.Exp(len(word) - 1 - i) }
	locator := make([]int, checks+2)
	locator[0] = 1
	for _, i := range erased {
		for k := len(locator) - 1; k > 0; k-- {
			locator[k] ^= f.Multiply(locator[k-1], locatorOf(i))
		}
	}
	last := slices.Clone(locator) // Massey's B(x)
	errors := 0                   // his L, less the erasures
	for r := len(erased); r < checks; r++ {
		off := 0
		for k := 0; k <= r; k++ {
			off ^= f.Multiply(locator[k], s[r-k])
		}
		copy(last[1:], last[:len(last)-1])
		last[0] = 0
		if off == 0 {
			continue
		}
		next := slices.Clone(locator)
		for k := range next {
			next[k] ^= f.Multiply(off, last[k])
		}
		if 2*errors <= r-len(erased) {
			errors = r - len(erased) + 1 - errors
			by, _ := f.Inverse(off)
			for k := range last {
				last[k] = f.Multiply(by, locator[k])
			}
		}
		locator = next
	}
	if 2*errors+len(erased) > checks-spare {
		return nil, false
	}
	// Forney's formula: of the evaluator S(x)Λ(x) mod x^checks and of Λ's slope.
	evaluator := make([]int, checks)
	for i := range evaluator {
		for k := 0; k <= i; k++ {
			evaluator[i] ^= f.Multiply(locator[k], s[i-k])
		}
	}
	out = slices.Clone(word)
	found := 0
	for i := range out {
		x := locatorOf(i)
		back, _ := f.Inverse(x)
		if at(locator, back) != 0 {
			continue
		}
		found++
		slope := 0
		for k := 1; k < len(locator); k += 2 {
			power := 1
			for range k - 1 {
				power = f.Multiply(power, back)
			}
			slope ^= f.Multiply(locator[k], power)
		}
		under, err := f.Inverse(slope)
		if err != nil {
			return nil, false
		}
		out[i] ^= byte(f.Multiply(x, f.Multiply(at(evaluator, back), under)))
	}
	if _, clean := syndromes(out); !clean || found != errors+len(erased) {
		return nil, false
	}
	return out, true
}
