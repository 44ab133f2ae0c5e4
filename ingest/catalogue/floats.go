package catalogue

import (
	"encoding/base64"
	"encoding/json"
	"fmt"
	"math"
)

// Float is a small measure in two bytes: the upper half of an IEEE 754 single
// (bfloat16), rounded to the nearest, so that it is true to one part in 512.
type Float struct{ Bits uint16 } // a struct, so that no whole number is taken for one

// FloatOf is x to the nearest, ties to even. A number that would round to
// infinity becomes it.
func FloatOf(x float32) Float {
	b := math.Float32bits(x)
	if x != x {
		return Float{uint16(b>>16) | 0x40} // stays no number
	}
	return Float{uint16((b + 0x7fff + b>>16&1) >> 16)}
}

// Value is the number itself.
func (x Float) Value() float32 { return math.Float32frombits(uint32(x.Bits) << 16) }

// Floats are many small measures. They stay in two bytes each, since a season of
// frames holds some twelve million. In JSON they are one base64 text of them,
// low byte first.
type Floats []Float

// FloatsOf is v, each to the nearest.
func FloatsOf(v ...float32) Floats {
	out := make(Floats, len(v))
	for i, x := range v {
		out[i] = FloatOf(x)
	}
	return out
}

// MarshalJSON writes v as it is stored.
func (v Floats) MarshalJSON() ([]byte, error) {
	if v == nil {
		return []byte("null"), nil
	}
	raw := make([]byte, 0, 2*len(v))
	for _, x := range v {
		raw = append(raw, byte(x.Bits), byte(x.Bits>>8))
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
		out[i] = Float{uint16(raw[2*i]) | uint16(raw[2*i+1])<<8}
	}
	*v = out
	return nil
}
