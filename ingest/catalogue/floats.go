package catalogue

import (
	"encoding/base64"
	"encoding/json"
	"fmt"
	"math"
)

// Floats are many small measures, kept in two bytes each: the upper half of an
// IEEE 754 single (bfloat16), rounded to the nearest, so that each is true to
// one part in 512. In JSON they are one base64 text of them, low byte first.
type Floats []float32

// Kept returns v as it comes back from storage.
func (v Floats) Kept() Floats {
	out := make(Floats, len(v))
	for i, x := range v {
		out[i] = math.Float32frombits(uint32(upper(x)) << 16)
	}
	return out
}

// upper is the upper half of x, to the nearest, ties to even. A number that
// would round to infinity becomes it.
func upper(x float32) uint16 {
	b := math.Float32bits(x)
	if x != x {
		return uint16(b>>16) | 0x40 // stays no number
	}
	return uint16((b + 0x7fff + b>>16&1) >> 16)
}

// MarshalJSON writes v as it is stored.
func (v Floats) MarshalJSON() ([]byte, error) {
	if v == nil {
		return []byte("null"), nil
	}
	raw := make([]byte, 0, 2*len(v))
	for _, x := range v {
		u := upper(x)
		raw = append(raw, byte(u), byte(u>>8))
	}
	out := make([]byte, base64.StdEncoding.EncodedLen(len(raw))+2)
	out[0], out[len(out)-1] = '"', '"'
	base64.StdEncoding.Encode(out[1:len(out)-1], raw)
	return out, nil
}

// UnmarshalJSON is the inverse of MarshalJSON.
func (v *Floats) UnmarshalJSON(b []byte) error {
	var raw []byte
	if err := json.Unmarshal(b, &raw); err != nil {
		return fmt.Errorf("measures of two bytes: %w", err)
	}
	if raw == nil {
		*v = nil
		return nil
	}
	if len(raw)%2 != 0 {
		return fmt.Errorf("measures of two bytes: %d bytes", len(raw))
	}
	out := make(Floats, len(raw)/2)
	for i := range out {
		out[i] = math.Float32frombits(uint32(raw[2*i])<<16 | uint32(raw[2*i+1])<<24)
	}
	*v = out
	return nil
}
