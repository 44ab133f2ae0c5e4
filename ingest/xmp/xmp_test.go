package xmp

import (
	"bytes"
	"encoding/json"
	"encoding/xml"
	"errors"
	"io"
	"os"
	"os/exec"
	"path/filepath"
	"reflect"
	"strings"
	"testing"
	"time"
)

func tool(t *testing.T, name string) string {
	t.Helper()
	path, err := exec.LookPath(name)
	if err != nil && os.Getenv("CI") == "true" {
		t.Fatalf("%s is wanted", name)
	} else if err != nil {
		t.Skipf("%s is not here", name)
	}
	return path
}

const hostile = `<script>&"quoted"' ]]> {x-default} =1+1 Crème 日本`

var words = Words{
	Title: hostile, Description: "two\nlines", Headline: "Page 7", Keywords: []string{"rye", "a, b; c"}, Creator: "Ingrid Vass", Credit: "Photograph: Ingrid Vass",
	Source: "Skerry Studio", Rights: "© 2026 Ingrid Vass", UsageTerms: "first edition", WebStatement: "https://studio.example/terms", Instructions: "handle with care",
	Job: "J-7", Created: time.Date(2026, 3, 4, 10, 11, 12, 0, time.UTC), Offset: "+01:00", People: Unlimited, Property: Limited,
	PeopleReleases: []string{"MR-1", "MR-2"}, PropertyReleases: []string{"PR-1"}, Agent: "coverplate",
	Regions: []Region{{"print", "print box", 0.125, 0, 0.75, 1}, {"half-4x5", "half 4:5", 0, 0.25, 0.4, 0.5}},
}

// exiftool 12.57 and exiv2 0.27 of Debian read every word back.
func TestIndependentReaders(t *testing.T) {
	exiftool, exiv2 := tool(t, "exiftool"), tool(t, "exiv2")
	file := filepath.Join(t.TempDir(), "a.xmp")
	if err := os.WriteFile(file, Packet(words), 0o644); err != nil {
		t.Fatal(err)
	}
	if out, err := exec.Command(exiftool, "-validate", "-warning", "-error", "-a", "-s3", file).CombinedOutput(); err != nil || strings.TrimSpace(string(out)) != "OK" {
		t.Errorf("exiftool -validate: %v: %s", err, out)
	}
	out, err := exec.Command(exiftool, "-json", "-struct", "-G1", "-XMP:all", file).Output()
	if err != nil {
		t.Fatal(err)
	}
	var got []map[string]any
	if err := json.Unmarshal(out, &got); err != nil || len(got) != 1 {
		t.Fatalf("%v: %s", err, out)
	}
	region := func(id, name string, x, y, w, h string) map[string]any {
		return map[string]any{"RId": id, "Name": name, "RRole": []any{map[string]any{"Identifier": []any{cropRole}}},
			"RegionBoundary": map[string]any{"RbShape": "Rectangle", "RbUnit": "Relative", "RbX": x, "RbY": y, "RbW": w, "RbH": h}}
	}
	for key, want := range map[string]any{
		"XMP-dc:Title": hostile, "XMP-dc:Description": "two\nlines", "XMP-photoshop:Headline": "Page 7", "XMP-dc:Subject": []any{"rye", "a, b; c"},
		"XMP-dc:Creator": []any{"Ingrid Vass"}, "XMP-photoshop:Credit": words.Credit, "XMP-photoshop:Source": words.Source, "XMP-dc:Rights": words.Rights,
		"XMP-xmpRights:Marked": true, "XMP-xmpRights:UsageTerms": "first edition", "XMP-xmpRights:WebStatement": words.WebStatement,
		"XMP-photoshop:Instructions": words.Instructions, "XMP-photoshop:TransmissionReference": "J-7", "XMP-photoshop:DateCreated": "2026:03:04 10:11:12+01:00",
		"XMP-plus:ModelReleaseStatus": "Unlimited Model Releases", "XMP-plus:PropertyReleaseStatus": "Limited or Incomplete Property Releases",
		"XMP-plus:ModelReleaseID": []any{"MR-1", "MR-2"}, "XMP-plus:PropertyReleaseID": []any{"PR-1"}, "XMP-xmp:CreatorTool": "coverplate",
	} {
		if !reflect.DeepEqual(got[0][key], want) {
			t.Errorf("exiftool reads %s as %#v, want %#v", key, got[0][key], want)
		}
	}
	regions, _ := got[0]["XMP-iptcExt:ImageRegion"].([]any)
	if len(regions) != 2 {
		t.Fatalf("exiftool reads %d regions", len(regions))
	}
	number := func(m map[string]any) { // exiftool writes numbers as it finds them, with or without quotes
		b := m["RegionBoundary"].(map[string]any)
		for k, v := range b {
			if raw, err := json.Marshal(v); err == nil {
				b[k] = strings.TrimRight(strings.TrimRight(strings.Trim(string(raw), `"`), "0"), ".")
			}
		}
	}
	for i, want := range []map[string]any{region("print", "print box", "0.125", "", "0.75", "1"), region("half-4x5", "half 4:5", "", "0.25", "0.4", "0.5")} {
		r := regions[i].(map[string]any)
		number(r)
		for k, v := range want["RegionBoundary"].(map[string]any) {
			if g := r["RegionBoundary"].(map[string]any)[k]; strings.TrimPrefix(g.(string), "0") != strings.TrimPrefix(v.(string), "0") {
				t.Errorf("region %d: %s is %v, want %v", i, k, g, v)
			}
		}
		delete(r, "RegionBoundary")
		delete(want, "RegionBoundary")
		if !reflect.DeepEqual(r, want) {
			t.Errorf("region %d: %v, want %v", i, r, want)
		}
	}
	out, err = exec.Command(exiv2, "-PXkv", file).CombinedOutput()
	if err != nil {
		t.Fatalf("exiv2: %v: %s", err, out)
	}
	values := map[string]string{}
	for _, l := range strings.Split(string(out), "\n") {
		if k, v, ok := strings.Cut(l, " "); ok {
			values[k] = strings.TrimSpace(v)
		}
	}
	for key, want := range map[string]string{
		"Xmp.dc.title": `lang="x-default" ` + hostile, "Xmp.dc.rights": `lang="x-default" ` + words.Rights, "Xmp.photoshop.Credit": words.Credit,
		"Xmp.xmpRights.UsageTerms": `lang="x-default" first edition`, "Xmp.plus.ModelReleaseStatus": "http://ns.useplus.org/ldf/vocab/MR-UMR",
		"Xmp.plus.PropertyReleaseStatus": "http://ns.useplus.org/ldf/vocab/PR-LPR", "Xmp.plus.ModelReleaseID": "MR-1, MR-2",
		"Xmp.iptcExt.ImageRegion[1]/Iptc4xmpExt:RegionBoundary/Iptc4xmpExt:rbX": "0.125000",
		"Xmp.iptcExt.ImageRegion[2]/Iptc4xmpExt:RegionBoundary/Iptc4xmpExt:rbH": "0.500000",
		"Xmp.iptcExt.ImageRegion[2]/Iptc4xmpExt:rId":                            "half-4x5",
	} {
		if values[key] != want {
			t.Errorf("exiv2 reads %s as %q, want %q", key, values[key], want)
		}
	}
}

func TestEmptyWordsAreLeftOut(t *testing.T) {
	got := string(Packet(Words{Title: "x", Credit: "  "}))
	for _, never := range []string{"Credit", "ModelRelease", "ImageRegion", "rdf:Seq", "DateCreated", "Marked"} {
		if strings.Contains(got, "<photoshop:"+never) || strings.Contains(got, "<plus:"+never) || strings.Contains(got, "<Iptc4xmpExt:"+never) || strings.Contains(got, "<xmpRights:"+never) {
			t.Errorf("%s stands in\n%s", never, got)
		}
	}
	if !strings.Contains(got, "<dc:title>") {
		t.Error(got)
	}
}

// Whatever stands in the words, the packet is well formed.
func FuzzPacket(f *testing.F) {
	f.Add(hostile, "\x00\x1b\xff")
	f.Fuzz(func(t *testing.T, a, b string) {
		d := xml.NewDecoder(bytes.NewReader(Packet(Words{Title: a, Keywords: []string{b}, Credit: b, Regions: []Region{{ID: a, Name: b}}})))
		for {
			_, err := d.Token()
			if errors.Is(err, io.EOF) {
				return
			}
			if err != nil {
				t.Fatal(err)
			}
		}
	})
}
