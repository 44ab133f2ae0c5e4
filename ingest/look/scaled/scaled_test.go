package scaled

import (
	"bytes"
	"errors"
	"io"
	"math"
	"testing"
	"testing/iotest"
)

func TestWhatIsNotRead(t *testing.T) {
	img := textured(64, 48, 7)
	plain := encoded(t, img, 90)
	change := func(at int, to ...byte) []byte {
		b := bytes.Clone(plain)
		copy(b[at:], to)
		return b
	}
	sof := bytes.Index(plain, []byte{0xff, sof0})
	start := bytes.Index(plain, []byte{0xff, sos})
	for name, c := range map[string]struct {
		b    []byte
		want error
	}{
		"nothing":                 {nil, ErrFormat},
		"no JPEG":                 {[]byte("GIF89a and more"), ErrFormat},
		"the header alone":        {plain[:start], ErrFormat},
		"cut in the header":       {plain[:sof+6], ErrFormat},
		"progressive":             {change(sof+1, sof2), ErrUnsupported},
		"arithmetic":              {change(sof+1, 0xc9), ErrUnsupported},
		"12 bits":                 {change(sof+4, 12), ErrUnsupported},
		"the height comes later":  {change(sof+5, 0, 0), ErrUnsupported},
		"no width":                {change(sof+7, 0, 0), ErrFormat},
		"more pixels than any":    {change(sof+5, 0xff, 0xff, 0xff, 0xff), ErrUnsupported},
		"a sampling factor of 0":  {change(sof+11, 0), ErrFormat},
		"odd sampling":            {change(sof+11, 0x31), ErrUnsupported},
		"a table that is missing": {change(start+6, 0x33), ErrFormat},
		"part of the frequencies": {change(start+12, 5), ErrUnsupported},
		"no segment after it":     {change(2, 0xff, eoi), ErrFormat},
	} {
		img, err := Decode(bytes.NewReader(c.b), 4)
		if img != nil || !errors.Is(err, c.want) {
			t.Errorf("%s: %v, want %v", name, err, c.want)
		}
	}
	if _, err := Decode(bytes.NewReader(plain), 3); !errors.Is(err, ErrUnsupported) {
		t.Errorf("1/3: %v", err)
	}
	broken := errors.New("the card was pulled")
	if _, err := Decode(io.MultiReader(bytes.NewReader(plain[:start+100]), iotest.ErrReader(broken)), 8); !errors.Is(err, broken) {
		t.Errorf("an error of the reader: %v", err)
	}
	// Three channels of Adobe's that are no YCbCr.
	adobe := append([]byte{0xff, soi, 0xff, app14, 0, 14}, "Adobe\x00\x64\x00\x00\x00\x00\x00"...)
	if _, err := Decode(bytes.NewReader(append(adobe, plain[2:]...)), 4); !errors.Is(err, ErrUnsupported) {
		t.Errorf("RGB by Adobe's marker: %v", err)
	}
	adobe[len(adobe)-1] = 1
	if _, err := Decode(bytes.NewReader(append(adobe, plain[2:]...)), 4); err != nil {
		t.Errorf("YCbCr by Adobe's marker: %v", err)
	}
}

func TestFillBytesAndOddSegments(t *testing.T) {
	plain := encoded(t, textured(64, 48, 7), 90)
	want, err := Decode(bytes.NewReader(plain), 4)
	if err != nil {
		t.Fatal(err)
	}
	odd := append([]byte{0xff, soi, 0xff, 0xff, 0xff, 0xfe, 0, 5, 'a', 'b', 'c', 0xff, tem}, plain[2:]...)
	got, err := Decode(iotest.OneByteReader(bytes.NewReader(odd)), 4)
	if err != nil || !bytes.Equal(planesOf(t, got)[0].pix, planesOf(t, want)[0].pix) {
		t.Errorf("%v, or another picture", err)
	}
}

func TestCutOffAndDamaged(t *testing.T) {
	img := textured(256, 256, 9)
	plain := encoded(t, img, 90)
	whole, err := Decode(bytes.NewReader(plain), 4)
	if err != nil {
		t.Fatal(err)
	}
	w := planesOf(t, whole)[0]
	for _, share := range []float64{0.3, 0.6, 0.95} {
		got, err := Decode(bytes.NewReader(plain[:int(share*float64(len(plain)))]), 4)
		var damaged *DamagedError
		if !errors.As(err, &damaged) || !damaged.Cut || damaged.Of != 256 {
			t.Fatalf("cut at %.2f: %v", share, err)
		}
		if missing := float64(damaged.Blocks) / 256; math.Abs(missing-(1-share)) > 0.15 {
			t.Errorf("cut at %.2f: %.2f of it is missing", share, missing)
		}
		p := planesOf(t, got)[0]
		top := p.stride * (256 - damaged.Blocks) / 16 * 4 // whole rows of units of 16 × 16
		top -= top % (4 * p.stride)
		if !bytes.Equal(p.pix[:top], w.pix[:top]) {
			t.Errorf("cut at %.2f: what is there is not what the whole file shows", share)
		}
		if last := p.pix[(p.h-1)*p.stride+p.w-1]; last != 128 {
			t.Errorf("cut at %.2f: what is missing is %d, not grey", share, last)
		}
	}
	// No end marker, and nothing missing but that.
	if _, err := Decode(bytes.NewReader(plain[:len(plain)-2]), 4); err != nil {
		t.Errorf("without its end marker: %v", err)
	}
	// Damage is told from an end that is missing, wherever in the file it is.
	hurt := bytes.Clone(plain)
	half := len(hurt) / 2
	copy(hurt[half:], []byte{0xff, 0xfe, 0, 2}) // a segment, which no scan holds
	for _, c := range []struct {
		name string
		b    []byte
		cut  bool
	}{{"damaged", hurt, false}, {"damaged and cut", hurt[:len(hurt)-half/2], true}} {
		_, err := Decode(iotest.HalfReader(bytes.NewReader(c.b)), 4)
		var damaged *DamagedError
		if !errors.As(err, &damaged) || damaged.Cut != c.cut {
			t.Errorf("%s: %v", c.name, err)
		}
	}
	// With restart markers one bad stretch costs itself alone.
	withRestarts := cjpeg(t, img, "-quality", "90", "-restart", "1")
	clean, err := Decode(bytes.NewReader(withRestarts), 4)
	if err != nil {
		t.Fatal(err)
	}
	at := bytes.Index(withRestarts, []byte{0xff, rst0 + 4}) + 40
	hurt = bytes.Clone(withRestarts)
	for i := range 30 {
		hurt[at+i] = 0xff // fill bytes to the next marker's eye
	}
	got, err := Decode(bytes.NewReader(hurt), 4)
	if err != nil && !errors.As(err, new(*DamagedError)) {
		t.Fatal(err)
	}
	c, g := planesOf(t, clean)[0], planesOf(t, got)[0]
	same := 0
	for y := 0; y < c.h; y++ {
		if bytes.Equal(c.pix[y*c.stride:][:c.w], g.pix[y*g.stride:][:g.w]) {
			same++
		}
	}
	if same < c.h*7/8 {
		t.Errorf("only %d of %d rows are as they were", same, c.h)
	}
	// A stretch that is gone with its marker: the ones after it lie in their place.
	from, to := bytes.Index(withRestarts, []byte{0xff, rst0 + 2}), bytes.Index(withRestarts, []byte{0xff, rst0 + 3})
	short := append(bytes.Clone(withRestarts[:from]), withRestarts[to:]...)
	got, err = Decode(bytes.NewReader(short), 4)
	var damaged *DamagedError
	if !errors.As(err, &damaged) || damaged.Cut || damaged.Blocks == 0 || damaged.Blocks > 32 {
		t.Errorf("a stretch is gone: %v", err)
	}
	g = planesOf(t, got)[0]
	if y := c.h - 1; !bytes.Equal(c.pix[y*c.stride:][:c.w], g.pix[y*g.stride:][:g.w]) {
		t.Error("what comes after the stretch that is gone is not in its place")
	}
}
