package plansheet

import (
	"archive/zip"
	"bytes"
	"encoding/xml"
	"io"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"

	"coverplate/audit/plan"
)

func TestTemplateXLSXSaysWhatTheCSVSays(t *testing.T) {
	day := func(d int) plan.Day { return plan.Day{Year: 2026, Month: 3, Day: d} }
	for _, b := range []plan.Book{{}, {TrimWidth: 189, TrimHeight: 246, Bleed: 3, FirstDay: day(2), LastDay: day(11)}} {
		var x, c bytes.Buffer
		if err := TemplateXLSX(&x, b); err != nil {
			t.Fatal(err)
		}
		if err := Template(&c, b); err != nil {
			t.Fatal(err)
		}
		xlsx, err := Read(&x, "plan.xlsx")
		if err != nil {
			t.Fatal(err)
		}
		csv, err := Read(&c, "plan.csv")
		if err != nil {
			t.Fatal(err)
		}
		if d := cmp.Diff(csv.Recipes, xlsx.Recipes); d != "" {
			t.Errorf("−csv +xlsx:\n%s", d)
		}
		if faults := xlsx.Check(b); len(faults)+len(xlsx.Missing)+len(xlsx.Taken) > 0 {
			t.Errorf("faults %v, missing %v, taken %v", faults, xlsx.Missing, xlsx.Taken)
		}
	}
}

// The drop-downs as ECMA-376-1, 18.3.1.32 has them, read without the library
// that wrote them.
func TestTemplateXLSXHasDropDownsAndNotes(t *testing.T) {
	var x bytes.Buffer
	if err := TemplateXLSX(&x, plan.Book{FirstDay: plan.Day{Year: 2026, Month: 3, Day: 2}, LastDay: plan.Day{Year: 2026, Month: 3, Day: 11}}); err != nil {
		t.Fatal(err)
	}
	part := func(name string) []byte {
		z, err := zip.NewReader(bytes.NewReader(x.Bytes()), int64(x.Len()))
		if err != nil {
			t.Fatal(err)
		}
		f, err := z.Open(name)
		if err != nil {
			t.Fatal(err)
		}
		defer f.Close()
		b, err := io.ReadAll(f)
		if err != nil {
			t.Fatal(err)
		}
		return b
	}
	var sheet struct {
		Validations []struct {
			Type     string `xml:"type,attr"`
			Sqref    string `xml:"sqref,attr"`
			Style    string `xml:"errorStyle,attr"`
			Formula1 string `xml:"formula1"`
			Formula2 string `xml:"formula2"`
		} `xml:"dataValidations>dataValidation"`
	}
	if err := xml.Unmarshal(part("xl/worksheets/sheet1.xml"), &sheet); err != nil {
		t.Fatal(err)
	}
	got := map[string]string{}
	for _, v := range sheet.Validations {
		got[v.Sqref] = strings.Join([]string{v.Type, v.Style, v.Formula1, v.Formula2}, "|")
	}
	want := map[string]string{
		"E2:E501": `list|warning|"full,double,half,quarter"|`,
		"F2:F501": `list|warning|"portrait,landscape,square"|`,
		"G2:G501": `list|warning|"overhead,high,three-quarter,low,any"|`,
		"K2:K501": `date|warning|46083|46092`, // 2026-03-02 is 46083 days after 1899-12-30
		"L2:L501": `list|warning|"top,bottom,left,right,any"|`,
	}
	if d := cmp.Diff(want, got); d != "" {
		t.Errorf("−want +got:\n%s", d)
	}
	if n := bytes.Count(part("xl/comments1.xml"), []byte("<comment ")); n != len(plan.Columns()) {
		t.Errorf("%d notes, want one a column", n)
	}
	for i, c := range templateColumns(plan.Book{}) {
		if c.field != plan.Columns()[i] {
			t.Errorf("column %d is %s, want %s", i, c.field, plan.Columns()[i])
		}
		for _, w := range c.choose {
			var err error
			switch c.field {
			case plan.ColumnSize:
				_, err = plan.ParseSize(w)
			case plan.ColumnAngle:
				_, err = plan.ParseAngle(w)
			case plan.ColumnOrientation:
				_, err = plan.ParseOrientation(w)
			case plan.ColumnLettering:
				_, err = plan.ParseLettering(w)
			}
			if err != nil {
				t.Errorf("the list of %s offers what is not read: %v", c.field, err)
			}
		}
	}
}
