package slate

import (
	"bytes"
	"math/rand/v2"
	"strings"
	"testing"

	"github.com/makiuchi-d/gozxing/common/reedsolomon"
	"github.com/makiuchi-d/gozxing/qrcode/decoder"
)

// annexI are the codewords of ISO/IEC 18004's own example, "01234567" in version
// 1 at level M: 16 of data and 10 of error correction (annex I.2; from memory).
var annexI = []byte{
	0x10, 0x20, 0x0c, 0x56, 0x61, 0x80, 0xec, 0x11, 0xec, 0x11, 0xec, 0x11, 0xec, 0x11, 0xec, 0x11,
	0xa5, 0x24, 0xd4, 0xc1, 0xed, 0x36, 0xc7, 0x87, 0x2c, 0x55,
}

func TestErrorsAndErasuresAreCorrected(t *testing.T) {
	const checks = 10
	if got, ok := corrected(annexI, checks, nil); !ok || !bytes.Equal(got, annexI) {
		t.Fatalf("the standard's own codewords are %x, %v", got, ok)
	}
	r := rand.New(rand.NewPCG(9, 4))
	wrong := 0
	for range 4000 {
		word := bytes.Clone(annexI)
		places := r.Perm(len(word))
		erased := places[:r.IntN(checks+1)]
		errors := places[len(erased):][:r.IntN(checks/2+1)]
		for _, i := range erased {
			word[i] = byte(r.IntN(256)) // it may be right as well
		}
		for _, i := range errors {
			word[i] ^= byte(1 + r.IntN(255))
		}
		got, ok := corrected(word, checks, erased)
		if 2*len(errors)+len(erased) <= checks-spare {
			if !ok || !bytes.Equal(got, annexI) {
				t.Fatalf("%d errors and %d erasures: %x, %v, want the standard's", len(errors), len(erased), got, ok)
			}
		} else if ok && !bytes.Equal(got, annexI) {
			wrong++
		}
		// Errors alone: as gozxing corrects them, which keeps nothing in reserve.
		if len(erased) == 0 {
			theirs := make([]int, len(word))
			for i, v := range word {
				theirs[i] = int(v)
			}
			err := reedsolomon.NewReedSolomonDecoder(reedsolomon.GenericGF_QR_CODE_FIELD_256).Decode(theirs, checks)
			for i, v := range theirs {
				if ok && (err != nil || int(got[i]) != v) {
					t.Fatalf("%d errors: %x, gozxing %x, %v", len(errors), got, theirs, err)
				}
			}
		}
	}
	// Beyond what can be corrected a word that is taken for another is one in 256
	// for each codeword in reserve, times those within reach.
	t.Logf("%d of 4000 corrected to another word", wrong)
	if wrong > 4 {
		t.Errorf("%d of 4000 corrected to another word", wrong)
	}
}

// Where a module stands among the codewords is as gozxing reads it: one turned
// there is another bit of that codeword, and of no other.
func TestPlacesOfModules(t *testing.T) {
	for _, p := range []Payload{
		{Kind: Dish, Shoot: "K7Q2M", Recipe: "R07", Title: "ZA9"},
		{Kind: Dish, Shoot: "K7Q2M", Recipe: "leek-tart", Title: "ZA9"},
		{Kind: Dish, Shoot: "K7Q2M", Recipe: strings.Repeat("leek-", 5), Title: "ZA9"},
		{Kind: Dish, Shoot: "K7Q2M", Recipe: strings.Repeat("leek-", 7), Title: "ZA9"},
		{Kind: Dish, Shoot: strings.Repeat("Z", MaxShoot), Recipe: strings.Repeat("z", MaxRecipe), Title: "ZZZ"},
	} {
		code, err := Make(p)
		if err != nil {
			t.Fatal(err)
		}
		n := len(code) - 2*QuietZone
		modules := make([]bool, n*n)
		for i := range modules {
			modules[i] = code[QuietZone+i/n][QuietZone+i%n]
		}
		words := func() []byte {
			parser, err := decoder.NewBitMatrixParser(bitsOf(modules, n))
			if err != nil {
				t.Fatal(err)
			}
			words, err := parser.ReadCodewords()
			if err != nil {
				t.Fatal(err)
			}
			return words
		}
		want, places := words(), placesOf(n)
		if len(places)/8 != len(want) {
			t.Fatalf("%d modules a side: %d places for %d codewords", n, len(places), len(want))
		}
		for i, at := range places {
			modules[at] = !modules[at]
			got := words()
			modules[at] = !modules[at]
			for k := range want {
				turned := byte(0)
				if k == i/8 {
					turned = 0x80 >> (i % 8)
				}
				if got[k] != want[k]^turned {
					t.Fatalf("%d modules a side, place %d: codeword %d is %02x, want %02x", n, i, k, got[k], want[k]^turned)
				}
			}
		}
	}
}

// Codes of which glare takes a disc are read as long as error correction can hold
// it where it knows the place, which is about twice as much as where it doesn't.
func TestModulesInGlareAreErased(t *testing.T) {
	r := rand.New(rand.NewPCG(2, 6))
	known, unknown := 0, 0
	for range 300 {
		p := Payload{Kind: Dish, Shoot: "K7Q2M", Recipe: "R07", Title: "ZA9"}
		code, err := Make(p)
		if err != nil {
			t.Fatal(err)
		}
		const n = 21
		modules, sure := make([]bool, n*n), make([]float64, n*n)
		x, y, radius := 9+9*r.Float64(), 9+9*r.Float64(), 2+2.5*r.Float64()
		for i := range modules {
			dx, dy := float64(i%n)-x, float64(i/n)-y
			modules[i], sure[i] = code[QuietZone+i/n][QuietZone+i%n], 1
			if dx*dx+dy*dy < radius*radius {
				modules[i], sure[i] = false, 0
			}
		}
		for _, by := range []struct {
			text  string
			count *int
		}{{doubtedTextOf(modules, sure, n), &known}, {textOf(modules, n), &unknown}} {
			if by.text == p.String() {
				*by.count++
			} else if by.text != "" {
				t.Errorf("read %q, want %q", by.text, p)
			}
		}
	}
	t.Logf("of 300 read: %d by known places, %d without", known, unknown)
	if known < 285 || unknown > known-50 {
		t.Errorf("of 300 read: %d by known places, %d without", known, unknown)
	}
}
