package colour

import (
	"encoding/json"
	"flag"
	"os"
	"testing"
)

var update = flag.Bool("update", false, "write the golden files anew")

// The file was written on amd64 and is the same on arm64, whose compiler fuses
// multiplications with additions: go test -exec qemu-aarch64 with GOARCH=arm64.
func TestTheSameBytesOnEveryMachine(t *testing.T) {
	var out struct {
		Palette  []Swatch `json:"palette"`
		Surface  Swatch   `json:"surface"`
		Distance float64  `json:"distance"`
	}
	out.Palette, out.Surface = extract(t, texture(160, 120))
	plain, _ := extract(t, raster(draw(plate, 97, 61), 97, 61))
	out.Distance = PaletteDistance(out.Palette, plain)
	got, err := json.MarshalIndent(out, "", "\t")
	if err != nil {
		t.Fatal(err)
	}
	const name = "testdata/palette.golden.json"
	if *update {
		if err := os.WriteFile(name, got, 0o666); err != nil {
			t.Fatal(err)
		}
	}
	want, err := os.ReadFile(name)
	if err != nil {
		t.Fatal(err)
	}
	if string(got) != string(want) {
		t.Errorf("got\n%s\nwant\n%s", got, want)
	}
}
