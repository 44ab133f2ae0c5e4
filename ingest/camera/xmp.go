package camera

import (
	"bytes"
	"encoding/binary"
	"encoding/xml"
	"errors"
	"fmt"
	"io"
	"math"
	"slices"
	"strconv"
	"strings"
	"unicode/utf16"
	"unicode/utf8"
)

// Sidecar is what an XMP packet or sidecar says of a picture.
type Sidecar struct {
	Rating   *float64 // xmp:Rating, −1 or 0 … 5; nil not written, or out of that range
	Title    string   // dc:title, in the default language
	Headline string   // photoshop:Headline
	Subjects []string // dc:subject, in the order of the file, each once
}

// The namespaces that count, whatever prefix a file binds them to.
const (
	nsRDF       = "http://www.w3.org/1999/02/22-rdf-syntax-ns#"
	nsXMP       = "http://ns.adobe.com/xap/1.0/"
	nsDC        = "http://purl.org/dc/elements/1.1/"
	nsPhotoshop = "http://ns.adobe.com/photoshop/1.0/"
	nsXML       = "http://www.w3.org/XML/1998/namespace"
)

// Bounds of a packet.
const (
	maxXMP      = 4 << 20
	maxXMPDepth = 64
	maxXMPNodes = 200_000
)

var (
	xmpRating  = xml.Name{Space: nsXMP, Local: "Rating"}
	dcTitle    = xml.Name{Space: nsDC, Local: "title"}
	dcSubject  = xml.Name{Space: nsDC, Local: "subject"}
	psHeadline = xml.Name{Space: nsPhotoshop, Local: "Headline"}
	rdfRDF     = xml.Name{Space: nsRDF, Local: "RDF"}
	rdfLi      = xml.Name{Space: nsRDF, Local: "li"}
	rdfValue   = xml.Name{Space: nsRDF, Local: "value"}
)

// property is the values of one property and the language of each.
type property struct{ values, langs []string }

// ReadSidecar reads an XMP sidecar or packet (ISO 16684-1): properties as
// elements, attributes, bags, sequences and alternatives, under any prefix, in
// UTF-8, UTF-16 or Latin-1. A file that is no XML, holds no RDF, has a DTD, is
// larger than 4 MB or deeper than 64 elements is a *FormatError.
func ReadSidecar(b []byte) (Sidecar, error) {
	props, err := readProperties(b)
	if err != nil {
		return Sidecar{}, &FormatError{"XMP", err.Error()}
	}
	var s Sidecar
	if v := props[xmpRating].values; len(v) > 0 {
		s.Rating = rating(v[0])
	}
	s.Title = props[dcTitle].inDefaultLanguage()
	s.Headline = props[psHeadline].inDefaultLanguage()
	for _, v := range props[dcSubject].values {
		if v = words(v); v != "" && !slices.Contains(s.Subjects, v) {
			s.Subjects = append(s.Subjects, v)
		}
	}
	return s, nil
}

// rating reads a value of xmp:Rating: −1 for rejected or a decimal 0 … 5.
func rating(s string) *float64 {
	v, err := strconv.ParseFloat(strings.TrimSpace(s), 64)
	if err != nil || math.IsNaN(v) || v != -1 && (v < 0 || v > 5) {
		return nil
	}
	return &v
}

// inDefaultLanguage returns the x-default alternative, else the first.
func (p property) inDefaultLanguage() string {
	for i, l := range p.langs {
		if l == "x-default" {
			if s := words(p.values[i]); s != "" {
				return s
			}
		}
	}
	for _, v := range p.values {
		if s := words(v); s != "" {
			return s
		}
	}
	return ""
}

// readProperties collects the properties of the nodes right below rdf:RDF.
// Those of nodes further in are of other things: an ingredient, a history.
func readProperties(b []byte) (map[xml.Name]property, error) {
	if len(b) > maxXMP {
		return nil, errors.New("larger than 4 MB")
	}
	text, err := asUTF8(b)
	if err != nil {
		return nil, err
	}
	if len(bytes.TrimSpace(text)) == 0 {
		return nil, errors.New("the file is empty")
	}
	d := xml.NewDecoder(bytes.NewReader(text))
	d.CharsetReader = charset
	r := propertyReader{props: map[xml.Name]property{}}
	for n := 0; n < maxXMPNodes; n++ {
		t, err := d.Token()
		if err == io.EOF {
			if !r.seenRDF {
				return nil, errors.New("no rdf:RDF element in it")
			}
			return r.props, nil
		}
		if err != nil {
			return nil, err
		}
		switch t := t.(type) {
		case xml.Directive:
			return nil, errors.New("it has a document type declaration, which XMP never needs; refused")
		case xml.StartElement:
			if len(r.stack) >= maxXMPDepth {
				return nil, errors.New("elements nest more than 64 deep")
			}
			r.start(t)
		case xml.CharData:
			r.text.Write(t)
		case xml.EndElement:
			r.end()
		}
	}
	return nil, errors.New("too many elements")
}

// propertyReader follows the XML with the path of open elements.
type propertyReader struct {
	props   map[xml.Name]property
	stack   []xml.Name
	langs   []string // xml:lang of each open element
	rdf     int      // depth of the open rdf:RDF, counted from 1; 0 none
	text    strings.Builder
	seenRDF bool
}

func (r *propertyReader) start(t xml.StartElement) {
	lang := ""
	for _, a := range t.Attr {
		if a.Name.Local == "lang" && (a.Name.Space == nsXML || a.Name.Space == "xml") {
			lang = a.Value
		}
	}
	r.stack, r.langs = append(r.stack, t.Name), append(r.langs, lang)
	r.text.Reset()
	if t.Name == rdfRDF && r.rdf == 0 {
		r.rdf, r.seenRDF = len(r.stack), true
		return
	}
	if r.rdf > 0 && len(r.stack) == r.rdf+1 { // a node: its attributes are properties
		for _, a := range t.Attr {
			if counts(a.Name) {
				r.add(a.Name, a.Value, "")
			}
		}
	}
}

func (r *propertyReader) end() {
	n := len(r.stack)
	below := n - r.rdf // 1 the node, 2 a property, 3 bag or qualified value, 4 item
	name, lang := r.stack[n-1], r.langs[n-1]
	if r.rdf > 0 && below >= 2 && counts(r.stack[r.rdf+1]) {
		property := r.stack[r.rdf+1]
		text := r.text.String()
		switch {
		case below == 2 && strings.TrimSpace(text) != "":
			r.add(property, text, lang)
		case below == 4 && name == rdfLi && strings.TrimSpace(text) != "":
			r.add(property, text, lang)
		case name == rdfValue && (below == 3 || below == 4 || below == 5 || below == 6):
			r.add(property, text, "")
		}
	}
	if n == r.rdf {
		r.rdf = 0
	}
	r.stack, r.langs = r.stack[:n-1], r.langs[:n-1]
	r.text.Reset()
}

func (r *propertyReader) add(name xml.Name, value, lang string) {
	p := r.props[name]
	if len(p.values) >= 1000 { // more subjects than any person types
		return
	}
	r.props[name] = property{append(p.values, value), append(p.langs, lang)}
}

// counts tells whether a property is one of those that are kept.
func counts(n xml.Name) bool {
	return n == xmpRating || n == dcTitle || n == dcSubject || n == psHeadline
}

// asUTF8 turns UTF-16, with or without a byte order mark, into UTF-8.
func asUTF8(b []byte) ([]byte, error) {
	var order binary.ByteOrder
	switch {
	case bytes.HasPrefix(b, []byte("\xEF\xBB\xBF")):
		return b[3:], nil
	case bytes.HasPrefix(b, []byte("\xFF\xFE\x00\x00")), bytes.HasPrefix(b, []byte("\x00\x00\xFE\xFF")):
		return nil, errors.New("it is in UTF-32; save it as UTF-8")
	case bytes.HasPrefix(b, []byte("\xFF\xFE")):
		order, b = binary.LittleEndian, b[2:]
	case bytes.HasPrefix(b, []byte("\xFE\xFF")):
		order, b = binary.BigEndian, b[2:]
	case bytes.HasPrefix(b, []byte("<\x00")):
		order = binary.LittleEndian
	case bytes.HasPrefix(b, []byte("\x00<")):
		order = binary.BigEndian
	default:
		return b, nil
	}
	u := make([]uint16, len(b)/2)
	for i := range u {
		u[i] = order.Uint16(b[2*i:])
	}
	return []byte(string(utf16.Decode(u))), nil
}

// charset serves the encodings that a declaration may name.
func charset(name string, r io.Reader) (io.Reader, error) {
	switch strings.ToLower(name) {
	case "utf-16", "utf-16le", "utf-16be", "us-ascii", "ascii": // transcoded already, or a part of UTF-8
		return r, nil
	case "iso-8859-1", "latin1", "windows-1252":
		b, err := io.ReadAll(io.LimitReader(r, maxXMP))
		if err != nil {
			return nil, err
		}
		out := make([]byte, 0, len(b)+len(b)/8)
		for _, c := range b {
			out = utf8.AppendRune(out, rune(c))
		}
		return bytes.NewReader(out), nil
	}
	return nil, fmt.Errorf("it is in %q; save it as UTF-8", words(name))
}
