package camera

import (
	"bytes"
	"encoding/binary"
	"errors"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"unicode/utf16"

	"coverplate/ingest/catalogue"

	"github.com/google/go-cmp/cmp"
)

func rated(v float64) *float64 { return &v }

// inRDF puts properties into a packet with the usual prefixes bound.
func inRDF(attributes, elements string) string {
	return `<?xml version="1.0" encoding="UTF-8"?><x:xmpmeta xmlns:x="adobe:ns:meta/"><rdf:RDF xmlns:rdf="` + nsRDF + `">` +
		`<rdf:Description rdf:about="" xmlns:xmp="` + nsXMP + `" xmlns:dc="` + nsDC + `" xmlns:photoshop="` + nsPhotoshop + `" ` + attributes + `>` +
		elements + `</rdf:Description></rdf:RDF></x:xmpmeta>`
}

// The forms are those that ISO 16684-1 section 7 allows. Ratings and subjects
// of the first five are shared/reference/07_xmp, as exiftool 12.57 reads them.
func TestSidecarForms(t *testing.T) {
	for _, c := range []struct {
		name, xmp string
		want      Sidecar
	}{
		{"attributes.xmp", inRDF(`xmlns:xap="`+nsXMP+`" xap:Rating="5" xap:Label="Winner"`, ""), Sidecar{Rating: rated(5)}},
		{"elements.xmp", inRDF("", `<xmp:Rating>-1</xmp:Rating><xmp:Label>Red</xmp:Label><dc:subject><rdf:Bag><rdf:li>hero</rdf:li><rdf:li>Crème brûlée</rdf:li></rdf:Bag></dc:subject>`),
			Sidecar{Rating: rated(-1), Subjects: []string{"hero", "Crème brûlée"}}},
		{"rating_real.xmp", inRDF("", `<xmp:Rating>3.5</xmp:Rating>`), Sidecar{Rating: rated(3.5)}},
		{"no_rating.xmp", inRDF("", ``), Sidecar{}},
		{"rating_out_of_range.xmp", inRDF("", `<xmp:Rating>6</xmp:Rating>`), Sidecar{}},
		{"rating −2", inRDF(`xmp:Rating="-2"`, ""), Sidecar{}},
		{"rating −0.5", inRDF(`xmp:Rating="-0.5"`, ""), Sidecar{}},
		{"rating 0 is unrated but written", inRDF(`xmp:Rating="0"`, ""), Sidecar{Rating: rated(0)}},
		{"rating 5.01", inRDF(`xmp:Rating="5.01"`, ""), Sidecar{}},
		{"rating NaN", inRDF(`xmp:Rating="NaN"`, ""), Sidecar{}},
		{"rating infinite", inRDF(`xmp:Rating="Inf"`, ""), Sidecar{}},
		{"rating in words", inRDF(`xmp:Rating="five"`, ""), Sidecar{}},
		{"rating qualified", inRDF("", `<xmp:Rating rdf:parseType="Resource"><rdf:value>4</rdf:value></xmp:Rating>`), Sidecar{Rating: rated(4)}},
		{"title by language", inRDF("", `<dc:title><rdf:Alt><rdf:li xml:lang="nb">Rug</rdf:li><rdf:li xml:lang="x-default">Rye</rdf:li></rdf:Alt></dc:title>`), Sidecar{Title: "Rye"}},
		{"title without default", inRDF("", `<dc:title><rdf:Alt><rdf:li xml:lang="nb">Rug</rdf:li></rdf:Alt></dc:title>`), Sidecar{Title: "Rug"}},
		{"title as plain text", inRDF(`dc:title="Rye"`, ""), Sidecar{Title: "Rye"}},
		{"headline", inRDF("", "<photoshop:Headline>\n Smoked  trout\n</photoshop:Headline>"), Sidecar{Headline: "Smoked trout"}},
		{"subjects in a sequence, one twice, one empty", inRDF("", `<dc:subject><rdf:Seq><rdf:li>R07</rdf:li><rdf:li/><rdf:li>R07</rdf:li><rdf:li>plums &amp; rye</rdf:li></rdf:Seq></dc:subject>`),
			Sidecar{Subjects: []string{"R07", "plums & rye"}}},
		{"a title of something else", inRDF("", `<xmp:Pantry><rdf:Bag><rdf:li><rdf:Description><dc:title>No</dc:title><xmp:Rating>1</xmp:Rating></rdf:Description></rdf:li></rdf:Bag></xmp:Pantry>`), Sidecar{}},
		{"any prefix", `<q:RDF xmlns:q="` + nsRDF + `"><q:Description xmlns:a="` + nsXMP + `" xmlns:b="` + nsDC + `" a:Rating="2"><b:subject><q:Bag><q:li>barley</q:li></q:Bag></b:subject></q:Description></q:RDF>`,
			Sidecar{Rating: rated(2), Subjects: []string{"barley"}}},
		{"a prefix bound to another namespace", strings.ReplaceAll(inRDF(`xmp:Rating="2"`, ""), nsXMP, "http://example.invalid/"), Sidecar{}},
		{"two descriptions", strings.Replace(inRDF(`xmp:Rating="2"`, ""), "</rdf:RDF>", `<rdf:Description xmlns:dc="`+nsDC+`" dc:title="Rye"/></rdf:RDF>`, 1), Sidecar{Rating: rated(2), Title: "Rye"}},
		{"control characters in text", inRDF(`dc:title="a&#x9b;b"`, ""), Sidecar{Title: "a b"}},
	} {
		got, err := ReadSidecar([]byte(c.xmp))
		if d := cmp.Diff(c.want, got); err != nil || d != "" {
			t.Errorf("%s: %v (-want +got):\n%s", c.name, err, d)
		}
	}
}

func TestSidecarEncodings(t *testing.T) {
	want := Sidecar{Title: "Crème brûlée"}
	text := inRDF(`dc:title="Crème brûlée"`, "")
	wide := func(o binary.AppendByteOrder, mark bool) []byte {
		var b []byte
		if mark {
			b = o.AppendUint16(b, 0xFEFF)
		}
		for _, u := range utf16.Encode([]rune(strings.Replace(text, "UTF-8", "UTF-16", 1))) {
			b = o.AppendUint16(b, u)
		}
		return b
	}
	var latin []byte
	for _, r := range strings.Replace(text, "UTF-8", "ISO-8859-1", 1) {
		latin = append(latin, byte(r))
	}
	for name, b := range map[string][]byte{
		"UTF-8": []byte(text), "UTF-8 with a mark": append([]byte("\xEF\xBB\xBF"), text...), "Latin-1": latin,
		"UTF-16 little": wide(binary.LittleEndian, true), "UTF-16 big": wide(binary.BigEndian, true),
		"UTF-16 little without a mark": wide(binary.LittleEndian, false), "UTF-16 big without a mark": wide(binary.BigEndian, false),
	} {
		got, err := ReadSidecar(b)
		if d := cmp.Diff(want, got); err != nil || d != "" {
			t.Errorf("%s: %v (-want +got):\n%s", name, err, d)
		}
	}
}

func TestSidecarsThatAreRefused(t *testing.T) {
	for name, x := range map[string]string{
		"empty":             "",
		"blank":             "  \n",
		"not XML":           "rating: 5",
		"cut short":         inRDF("", "<dc:title>")[:200],
		"no RDF":            "<settings><rating>5</rating></settings>",
		"a DTD":             `<!DOCTYPE x [<!ENTITY a "aaaaaaaaaa"><!ENTITY b "&a;&a;&a;">]>` + inRDF("", "<dc:title>&b;</dc:title>"),
		"an outside entity": `<!DOCTYPE x [<!ENTITY a SYSTEM "file:///etc/passwd">]>` + inRDF("", "<dc:title>&a;</dc:title>"),
		"too deep":          inRDF("", strings.Repeat("<dc:title>", 100)+strings.Repeat("</dc:title>", 100)),
		"too large":         inRDF("", "<dc:title>"+strings.Repeat("x", maxXMP)+"</dc:title>"),
		"unknown encoding":  strings.Replace(inRDF("", ""), "UTF-8", "EBCDIC", 1),
	} {
		var want *FormatError
		if s, err := ReadSidecar([]byte(x)); !errors.As(err, &want) {
			t.Errorf("%s: %+v, %v; want a FormatError", name, s, err)
		}
	}
}

func TestThePacketInAJPEGIsReadAndABrokenOneTold(t *testing.T) {
	packet := inRDF(`xmp:Rating="4" photoshop:Headline="Trout"`, `<dc:subject><rdf:Bag><rdf:li>R03</rdf:li></rdf:Bag></dc:subject>`) + strings.Repeat(" ", 100) + "\x00"
	b := jpegOf(24, 16, seg(0xE1, xmpMark, packet), seg(0xE1, "Exif\x00\x00", string(fullBlock(big)))) // XMP first: goexif alone fails here
	s := read(t, b, catalogue.JPEG)
	if s.Rating == nil || *s.Rating != 4 || s.Headline != "Trout" || len(s.Subjects) != 1 || s.Camera.Model != "Islet Two" || s.Warnings != nil {
		t.Errorf("%+v", s)
	}
	s = read(t, jpegOf(24, 16, seg(0xE1, xmpMark, "<x:xmpmeta"), seg(0xE1, "Exif\x00\x00", string(fullBlock(big)))), catalogue.JPEG)
	if s.Rating != nil || len(s.Warnings) != 1 || s.Camera.Model != "Islet Two" {
		t.Errorf("broken packet: %+v, want the Exif and one warning", s)
	}
}

// shared/reference/07_xmp as exiftool 12.57 reads it (07_xmp_mpf_notes.md).
func TestReferenceSidecars(t *testing.T) {
	dir := shared(t, "reference", "07_xmp")
	for file, want := range map[string]*float64{"attributes": rated(5), "elements": rated(-1), "rating_real": rated(3.5), "no_rating": nil, "rating_out_of_range": nil} {
		b, err := os.ReadFile(filepath.Join(dir, file+".xmp"))
		if err != nil {
			t.Fatal(err)
		}
		s, err := ReadSidecar(b)
		if d := cmp.Diff(want, s.Rating); err != nil || d != "" {
			t.Errorf("%s: %v %s", file, err, d)
		}
	}
}

func FuzzReadSidecar(f *testing.F) {
	f.Add([]byte(inRDF(`xmp:Rating="4"`, `<dc:subject><rdf:Bag><rdf:li>R03</rdf:li></rdf:Bag></dc:subject>`)))
	f.Add([]byte("\xFF\xFE<\x00a\x00/\x00>\x00"))
	f.Add([]byte(`<?xml version="1.0" encoding="latin1"?><a/>`))
	f.Fuzz(func(t *testing.T, b []byte) {
		s, err := ReadSidecar(b)
		var want *FormatError
		if err != nil && !errors.As(err, &want) {
			t.Errorf("%T", err)
		}
		plain(t, "fuzzed", Shot{Rating: s.Rating, Title: s.Title, Headline: s.Headline, Subjects: s.Subjects})
		again, _ := ReadSidecar(bytes.Clone(b))
		if d := cmp.Diff(s, again); d != "" {
			t.Error(d)
		}
	})
}
