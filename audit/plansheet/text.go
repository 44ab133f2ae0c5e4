package plansheet

import (
	"bytes"
	"unicode/utf8"

	"golang.org/x/text/encoding/charmap"
	"golang.org/x/text/encoding/unicode"
	"golang.org/x/text/transform"
)

// The encodings that are told apart, as Sheet.Encoding names them.
const (
	utf8Text    = "UTF-8"
	utf16Little = "UTF-16LE"
	utf16Big    = "UTF-16BE"
	windows1252 = "Windows-1252"
)

// unreadable stands for bytes that are no character of their encoding: the
// replacement character U+FFFD.
const unreadable = "\uFFFD"

// decode gives the text of b, the encoding it is in and whether a byte order
// mark said so. !ok is no text at all: it holds NUL bytes that no UTF-16 has.
//
// Without a mark, UTF-16 is known by every second byte being 0, as it is
// wherever most of a text is Latin. What is not valid UTF-8 is Windows-1252,
// unless more characters than not are well-formed UTF-8: then it is UTF-8 with
// damage, and each damaged byte becomes U+FFFD.
func decode(b []byte) (text, encoding string, mark, ok bool) {
	switch {
	case bytes.HasPrefix(b, []byte{0xEF, 0xBB, 0xBF}):
		return wholeUTF8(b[3:]), utf8Text, true, !bytes.Contains(b, []byte{0})
	case bytes.HasPrefix(b, []byte{0xFF, 0xFE}):
		text, ok = wholeUTF16(b[2:], unicode.LittleEndian)
		return text, utf16Little, true, ok
	case bytes.HasPrefix(b, []byte{0xFE, 0xFF}):
		text, ok = wholeUTF16(b[2:], unicode.BigEndian)
		return text, utf16Big, true, ok
	}
	if bytes.Contains(b, []byte{0}) {
		var zeros [2]int
		for i, c := range b {
			if c == 0 {
				zeros[i%2]++
			}
		}
		half := len(b) / 2
		switch {
		case zeros[1] > half/2 && zeros[0] < half/8+1:
			text, ok = wholeUTF16(b, unicode.LittleEndian)
			return text, utf16Little, false, ok
		case zeros[0] > half/2 && zeros[1] < half/8+1:
			text, ok = wholeUTF16(b, unicode.BigEndian)
			return text, utf16Big, false, ok
		}
		return "", "", false, false
	}
	good, bad := 0, 0
	for rest := b; len(rest) > 0; {
		r, n := utf8.DecodeRune(rest)
		switch {
		case r == utf8.RuneError && n == 1:
			bad++
		case n > 1:
			good++
		}
		rest = rest[n:]
	}
	if bad == 0 || good > bad {
		return wholeUTF8(b), utf8Text, false, true
	}
	out, err := charmap.Windows1252.NewDecoder().Bytes(b)
	return string(out), windows1252, false, err == nil
}

func wholeUTF8(b []byte) string { return string(bytes.ToValidUTF8(b, []byte(unreadable))) }

// wholeUTF16 is !ok where the text holds a NUL character, which no table has.
func wholeUTF16(b []byte, order unicode.Endianness) (string, bool) {
	out, _, err := transform.Bytes(unicode.UTF16(order, unicode.IgnoreBOM).NewDecoder(), b)
	return string(out), err == nil && !bytes.Contains(out, []byte{0})
}
