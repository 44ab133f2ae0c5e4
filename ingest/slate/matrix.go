package slate

import (
	"fmt"

	"github.com/makiuchi-d/gozxing"
	"github.com/makiuchi-d/gozxing/qrcode/decoder"
	"github.com/makiuchi-d/gozxing/qrcode/encoder"
)

// QuietZone is how many light modules ISO/IEC 18004 asks for around a code.
const QuietZone = 4

// Make draws the payload as a QR code: rows of modules from the top, true dark,
// QuietZone light modules around it included. It has the smallest version that
// holds the text at level M, and level Q where that version holds it too.
// The error says what of p can't be written.
func Make(p Payload) ([][]bool, error) {
	if err := p.Check(); err != nil {
		return nil, err
	}
	text := p.String()
	code, err := encoder.Encoder_encode(text, decoder.ErrorCorrectionLevel_M, nil)
	if err != nil {
		return nil, fmt.Errorf("code of %q: %w", text, err)
	}
	if better, err := encoder.Encoder_encode(text, decoder.ErrorCorrectionLevel_Q, nil); err == nil && better.GetMatrix().GetWidth() == code.GetMatrix().GetWidth() {
		code = better
	}
	return framed(code.GetMatrix()), nil
}

// framed are a code's modules with the quiet zone around them.
func framed(m *encoder.ByteMatrix) [][]bool {
	n := m.GetWidth()
	rows := make([][]bool, n+2*QuietZone)
	for y := range rows {
		rows[y] = make([]bool, n+2*QuietZone)
		for x := range n {
			if y >= QuietZone && y < QuietZone+n {
				rows[y][QuietZone+x] = m.Get(x, y-QuietZone) == 1
			}
		}
	}
	return rows
}

// textOf is what n × n modules say, true dark, row by row without a quiet zone;
// "" where their error correction says that they say nothing.
func textOf(modules []bool, n int) (text string) {
	defer func() { // its panic on some odd code must not end the run
		if recover() != nil {
			text = ""
		}
	}()
	bits := bitsOf(modules, n)
	if bits == nil {
		return ""
	}
	got, err := decoder.NewDecoder().Decode(bits, nil)
	if err != nil {
		return ""
	}
	return got.GetText()
}

// bitsOf are modules as gozxing has them; nil of a size that no code has.
func bitsOf(modules []bool, n int) *gozxing.BitMatrix {
	bits, err := gozxing.NewSquareBitMatrix(n)
	if err != nil {
		return nil
	}
	for i, dark := range modules {
		if dark {
			bits.Set(i%n, i/n)
		}
	}
	return bits
}
