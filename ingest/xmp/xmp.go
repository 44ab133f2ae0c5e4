// Package xmp writes what people say of a picture as an XMP packet (ISO
// 16684-1): the properties of IPTC Core and Extension that travel with it, and
// PLUS's for releases. It writes alone; reading is package camera's.
package xmp

import (
	"bytes"
	"encoding/xml"
	"fmt"
	"math"
	"strings"
	"time"
)

// Release tells what is signed by the people, or for the things, in a picture.
type Release string

// What may be said of releases. The words of PLUS for them, from memory.
const (
	NotSaid       Release = ""
	NoRelease     Release = "none"           // nothing is signed
	NotApplicable Release = "not applicable" // nobody, or nothing, that would sign
	Limited       Release = "limited"        // some, or with limits
	Unlimited     Release = "unlimited"      // all of them
)

// Releases are those that can be said.
func Releases() []Release { return []Release{NoRelease, NotApplicable, Limited, Unlimited} }

// code is the release in the vocabulary of PLUS whose values begin with prefix,
// "MR" of people and "PR" of property; "" nothing is said.
func (r Release) code(prefix string) string {
	switch r {
	case NoRelease:
		return prefix + "-NON"
	case NotApplicable:
		return prefix + "-NAP"
	case Limited:
		return prefix + "-L" + prefix
	case Unlimited:
		return prefix + "-U" + prefix
	}
	return ""
}

// Region is a part of the upright picture, as shares of its width and height.
type Region struct {
	ID                  string
	Name                string
	X, Y, Width, Height float64 // 0 … 1, from the top left
}

// Words are what a packet says. Empty fields are left out.
type Words struct {
	Title, Description, Headline     string
	Keywords                         []string
	Creator, Credit, Source, Rights  string
	UsageTerms, WebStatement         string
	Instructions, Job                string
	Created                          time.Time // the camera's wall clock
	Offset                           string    // of it from UTC, "+01:00"; "" not known
	People, Property                 Release
	PeopleReleases, PropertyReleases []string // their numbers or names
	Regions                          []Region
	Agent                            string // the program that wrote it
}

// Namespaces, as the standards name them: ISO 16684-1, IPTC Photo Metadata
// Standard, PLUS LDF.
var namespaces = [][2]string{
	{"dc", "http://purl.org/dc/elements/1.1/"},
	{"xmp", "http://ns.adobe.com/xap/1.0/"},
	{"xmpRights", "http://ns.adobe.com/xap/1.0/rights/"},
	{"photoshop", "http://ns.adobe.com/photoshop/1.0/"},
	{"Iptc4xmpExt", "http://iptc.org/std/Iptc4xmpExt/2008-02-29/"},
	{"plus", "http://ns.useplus.org/ldf/xmp/1.0/"},
}

// plusVocabulary is where the values of PLUS stand.
const plusVocabulary = "http://ns.useplus.org/ldf/vocab/"

// cropRole is the role of a region in IPTC's vocabulary of image region roles:
// a recommended way to crop. From memory.
const cropRole = "http://cv.iptc.org/newscodes/imageregionrole/recomCropping"

// Packet is the words as a packet in UTF-8 that can stand alone as a sidecar or
// in a file. The same words give the same bytes.
func Packet(w Words) []byte {
	p := &packet{}
	p.line("<?xpacket begin=\"\uFEFF\" id=\"W5M0MpCehiHzreSzNTczkc9d\"?>")
	p.line(`<x:xmpmeta xmlns:x="adobe:ns:meta/">`)
	p.line(`<rdf:RDF xmlns:rdf="http://www.w3.org/1999/02/22-rdf-syntax-ns#">`)
	p.line(`<rdf:Description rdf:about=""`)
	for i, n := range namespaces {
		end := ""
		if i == len(namespaces)-1 {
			end = ">"
		}
		p.line(fmt.Sprintf(` xmlns:%s="%s"%s`, n[0], n[1], end))
	}
	p.alt("dc:title", w.Title)
	p.alt("dc:description", w.Description)
	p.list("dc:subject", "Bag", w.Keywords)
	p.list("dc:creator", "Seq", some(w.Creator))
	p.alt("dc:rights", w.Rights)
	p.one("photoshop:Headline", w.Headline)
	p.one("photoshop:Credit", w.Credit)
	p.one("photoshop:Source", w.Source)
	p.one("photoshop:Instructions", w.Instructions)
	p.one("photoshop:TransmissionReference", w.Job)
	if !w.Created.IsZero() {
		p.one("photoshop:DateCreated", w.Created.Format("2006-01-02T15:04:05")+w.Offset)
	}
	if w.Rights != "" {
		p.one("xmpRights:Marked", "True")
	}
	p.alt("xmpRights:UsageTerms", w.UsageTerms)
	p.one("xmpRights:WebStatement", w.WebStatement)
	p.release("plus:ModelRelease", "MR", w.People, w.PeopleReleases)
	p.release("plus:PropertyRelease", "PR", w.Property, w.PropertyReleases)
	p.one("xmp:CreatorTool", w.Agent)
	p.regions(w.Regions)
	p.line("</rdf:Description>")
	p.line("</rdf:RDF>")
	p.line("</x:xmpmeta>")
	p.b.WriteString(`<?xpacket end="w"?>`)
	return p.b.Bytes()
}

func some(s string) []string {
	if strings.TrimSpace(s) == "" {
		return nil
	}
	return []string{s}
}

type packet struct{ b bytes.Buffer }

func (p *packet) line(s string) { p.b.WriteString(s + "\n") }

// text is s as XML holds it; what XML can't hold becomes U+FFFD.
func text(s string) string {
	var b strings.Builder
	_ = xml.EscapeText(&b, []byte(s)) // a Builder never fails
	return b.String()
}

func (p *packet) one(name, value string) {
	if strings.TrimSpace(value) != "" {
		p.line("<" + name + ">" + text(value) + "</" + name + ">")
	}
}

// alt is a text in the default language.
func (p *packet) alt(name, value string) {
	if strings.TrimSpace(value) != "" {
		p.line("<" + name + `><rdf:Alt><rdf:li xml:lang="x-default">` + text(value) + "</rdf:li></rdf:Alt></" + name + ">")
	}
}

func (p *packet) list(name, kind string, values []string) {
	var items strings.Builder
	for _, v := range values {
		if strings.TrimSpace(v) != "" {
			items.WriteString("<rdf:li>" + text(v) + "</rdf:li>")
		}
	}
	if items.Len() > 0 {
		p.line("<" + name + "><rdf:" + kind + ">" + items.String() + "</rdf:" + kind + "></" + name + ">")
	}
}

// release is a status and its papers.
func (p *packet) release(name, prefix string, r Release, papers []string) {
	if code := r.code(prefix); code != "" {
		p.one(name+"Status", plusVocabulary+code)
	}
	p.list(name+"ID", "Bag", papers)
}

// regions are rectangles as the IPTC Photo Metadata Standard has them since
// 2019.1: relative units, from the top left.
func (p *packet) regions(all []Region) {
	if len(all) == 0 {
		return
	}
	p.line("<Iptc4xmpExt:ImageRegion><rdf:Bag>")
	for _, r := range all {
		p.line(`<rdf:li rdf:parseType="Resource">`)
		p.line(`<Iptc4xmpExt:RegionBoundary rdf:parseType="Resource">`)
		p.one("Iptc4xmpExt:rbShape", "rectangle")
		p.one("Iptc4xmpExt:rbUnit", "relative")
		p.one("Iptc4xmpExt:rbX", share(r.X))
		p.one("Iptc4xmpExt:rbY", share(r.Y))
		p.one("Iptc4xmpExt:rbW", share(r.Width))
		p.one("Iptc4xmpExt:rbH", share(r.Height))
		p.line("</Iptc4xmpExt:RegionBoundary>")
		p.one("Iptc4xmpExt:rId", r.ID)
		p.alt("Iptc4xmpExt:Name", r.Name)
		p.line(`<Iptc4xmpExt:rRole><rdf:Bag><rdf:li rdf:parseType="Resource">`)
		p.list("xmp:Identifier", "Bag", []string{cropRole})
		p.line("</rdf:li></rdf:Bag></Iptc4xmpExt:rRole>")
		p.line("</rdf:li>")
	}
	p.line("</rdf:Bag></Iptc4xmpExt:ImageRegion>")
}

// share is a number of 0 … 1 to six decimals: a tenth of a pixel of any camera.
func share(x float64) string {
	if math.IsNaN(x) {
		x = 0
	}
	return fmt.Sprintf("%.6f", min(max(x, 0), 1))
}
