package plansheet

import (
	"archive/zip"
	"bytes"
	"encoding/xml"
	"errors"
	"fmt"
	"hash/crc32"
	"maps"
	"slices"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"
	"github.com/xuri/excelize/v2"

	"coverplate/audit/plan"
)

// A worksheet is written here by hand after ECMA-376 and not with the library
// that reads it, so that both can't be wrong in the same way.
type handmade struct {
	names  []string
	sheets []string // the rows of each, and after a "|" what follows sheetData
	from04 bool
	more   map[string]string // further parts
}

// text, num, date and shown make one cell.
func text(at, v string) string {
	var b strings.Builder
	xml.EscapeText(&b, []byte(v))
	return fmt.Sprintf(`<c r="%s" t="inlineStr"><is><t xml:space="preserve">%s</t></is></c>`, at, b.String())
}
func num(at, v string) string    { return fmt.Sprintf(`<c r="%s"><v>%s</v></c>`, at, v) }
func date(at, v string) string   { return fmt.Sprintf(`<c r="%s" s="1"><v>%s</v></c>`, at, v) }
func padded(at, v string) string { return fmt.Sprintf(`<c r="%s" s="2"><v>%s</v></c>`, at, v) }
func formula(at, f, v string) string {
	return fmt.Sprintf(`<c r="%s"><f>%s</f><v>%s</v></c>`, at, f, v)
}
func row(n int, cells ...string) string {
	return fmt.Sprintf(`<row r="%d">%s</row>`, n, strings.Join(cells, ""))
}

func (h handmade) bytes(t testing.TB) []byte {
	t.Helper()
	const main = `xmlns="http://schemas.openxmlformats.org/spreadsheetml/2006/main"`
	const rels = `http://schemas.openxmlformats.org/officeDocument/2006/relationships`
	var types, sheets, links strings.Builder
	parts := map[string]string{}
	for i, s := range h.sheets {
		n := i + 1
		fmt.Fprintf(&types, `<Override PartName="/xl/worksheets/sheet%d.xml" ContentType="application/vnd.openxmlformats-officedocument.spreadsheetml.worksheet+xml"/>`, n)
		fmt.Fprintf(&sheets, `<sheet name="%s" sheetId="%d" r:id="rId%d"/>`, h.names[i], n, n)
		fmt.Fprintf(&links, `<Relationship Id="rId%d" Type="%s/worksheet" Target="worksheets/sheet%d.xml"/>`, n, rels, n)
		data, after, _ := strings.Cut(s, "|")
		parts[fmt.Sprintf("xl/worksheets/sheet%d.xml", n)] = fmt.Sprintf(`<worksheet %s><sheetData>%s</sheetData>%s</worksheet>`, main, data, after)
	}
	props := ""
	if h.from04 {
		props = `<workbookPr date1904="1"/>`
	}
	parts["[Content_Types].xml"] = `<Types xmlns="http://schemas.openxmlformats.org/package/2006/content-types"><Default Extension="rels" ContentType="application/vnd.openxmlformats-package.relationships+xml"/><Default Extension="xml" ContentType="application/xml"/><Override PartName="/xl/workbook.xml" ContentType="application/vnd.openxmlformats-officedocument.spreadsheetml.sheet.main+xml"/><Override PartName="/xl/styles.xml" ContentType="application/vnd.openxmlformats-officedocument.spreadsheetml.styles+xml"/>` + types.String() + `</Types>`
	parts["_rels/.rels"] = `<Relationships xmlns="http://schemas.openxmlformats.org/package/2006/relationships"><Relationship Id="rId1" Type="` + rels + `/officeDocument" Target="xl/workbook.xml"/></Relationships>`
	parts["xl/workbook.xml"] = `<workbook ` + main + ` xmlns:r="` + rels + `">` + props + `<sheets>` + sheets.String() + `</sheets></workbook>`
	parts["xl/_rels/workbook.xml.rels"] = `<Relationships xmlns="http://schemas.openxmlformats.org/package/2006/relationships">` + links.String() + `<Relationship Id="rId99" Type="` + rels + `/styles" Target="styles.xml"/></Relationships>`
	// Format 14 is the short date of the system, "R00" shows 7 as R07.
	parts["xl/styles.xml"] = `<styleSheet ` + main + `><numFmts count="1"><numFmt numFmtId="164" formatCode="&quot;R&quot;00"/></numFmts><fonts count="1"><font/></fonts><fills count="1"><fill/></fills><borders count="1"><border/></borders><cellStyleXfs count="1"><xf/></cellStyleXfs><cellXfs count="3"><xf numFmtId="0"/><xf numFmtId="14" applyNumberFormat="1"/><xf numFmtId="164" applyNumberFormat="1"/></cellXfs></styleSheet>`
	for name, content := range h.more {
		parts[name] = content
	}
	var b bytes.Buffer
	z := zip.NewWriter(&b)
	for _, name := range slices.Sorted(maps.Keys(parts)) { // [Content_Types].xml comes first, as the format likes it
		w, err := z.Create(name)
		if err == nil {
			_, err = w.Write([]byte(parts[name]))
		}
		if err != nil {
			t.Fatal(err)
		}
	}
	if err := z.Close(); err != nil {
		t.Fatal(err)
	}
	return b.Bytes()
}

func readBook(t *testing.T, h handmade) Sheet {
	t.Helper()
	s, err := Read(bytes.NewReader(h.bytes(t)), "plan.xlsx")
	if err != nil {
		t.Fatal(err)
	}
	return s
}

// Microsoft, DATE function (support.microsoft.com): 1 January 2008 is serial
// number 39448. The library's own conversion is a second opinion.
func TestSerialNumbersAreExcelsDays(t *testing.T) {
	for serial, want := range map[string]string{"39448": "2008-01-01", "39448.999": "2008-01-01", "36526": "2000-01-01", "46085": "2026-03-04", "73050": "2099-12-31"} {
		d, ok := serialDay(serial)
		if !ok || d.String() != want {
			t.Errorf("serialDay(%s) = %v, %v, want %s", serial, d, ok, want)
		}
	}
	for n := firstSerial; n < lastSerial; n += 97 {
		at, err := excelize.ExcelDateToTime(float64(n), false)
		if d, ok := serialDay(fmt.Sprint(n)); err != nil || !ok || d != plan.DayOf(at) {
			t.Fatalf("serialDay(%d) = %v, %v, the library says %v, %v", n, d, ok, at, err)
		}
	}
	for _, s := range []string{"", "24", "36525", "73051", "NaN", "+Inf", "1e300", "rye"} {
		if d, ok := serialDay(s); ok {
			t.Errorf("serialDay(%q) = %v, want none", s, d)
		}
	}
}

func TestReadWorkbook(t *testing.T) {
	head := row(3, text("A3", "Recipe ID"), text("B3", "Title"), text("C3", "Chapter"), text("D3", "Pages"), text("E3", "Size"), text("F3", "Angle"), text("G3", "Day"), text("H3", "Cook"), text("I3", "Tested"))
	s := readBook(t, handmade{
		names: []string{"Read me", "Plan", "Old plan"},
		sheets: []string{
			row(1, text("A1", "This is the plan of Skerry Table")),
			row(1, text("A1", "Skerry Table")) + head +
				row(4, padded("A4", "7"), text("B4", "Rye\nflatbread"), text("C4", "Shore"), num("D4", "24"), text("E4", "full"), text("F4", "flat lay"), date("G4", "46085"), text("H4", "=1+1"), date("I4", "46080")) +
				// 10-11, 1/2 and 3/4 typed into cells that weren't text.
				row(6, text("A6", "R08"), text("B6", "Plums"), date("D6", "46336"), date("E6", "46024"), date("F6", "46085"), text("G6", "5 March 2026")) +
				row(7, text("A7", "R09"), formula("B7", "CONCATENATE(1)", "Smoked trout"), text("D7", "30-31")) +
				row(9, num("I9", " ")) +
				`|<mergeCells count="2"><mergeCell ref="C4:C7"/><mergeCell ref="A1:I1"/></mergeCells>`,
			row(1, text("A1", "recipe"), text("B1", "title")) + row(2, text("A2", "X"), text("B2", "Old")),
		},
	})
	if s.Format != "xlsx" || s.Tab != "Plan" || s.HeaderRow != 3 || len(s.Faults) != 0 {
		t.Errorf("%s, tab %q, header in row %d, faults %v; want xlsx, Plan, 3, none", s.Format, s.Tab, s.HeaderRow, s.Faults)
	}
	need := plan.DefaultNeeds()
	want := []plan.Recipe{
		{Row: 4, ID: "R07", Title: "Rye flatbread", Chapter: "Shore", Pages: plan.Pages{First: 24, Last: 24}, Size: plan.Size{Kind: plan.FullPage}, Angle: plan.Overhead,
			Needs: need, Day: plan.Day{Year: 2026, Month: 3, Day: 4}, Extra: []plan.Field{{Name: "Cook", Value: "=1+1"}, {Name: "Tested", Value: "2026-02-27"}}},
		{Row: 6, ID: "R08", Title: "Plums", Chapter: "Shore", Pages: plan.Pages{First: 10, Last: 11}, Size: plan.Size{Kind: plan.HalfPage}, Angle: plan.ThreeQuarter,
			Needs: need, Day: plan.Day{Year: 2026, Month: 3, Day: 5}, Extra: []plan.Field{{Name: "Cook"}, {Name: "Tested"}}},
		{Row: 7, ID: "R09", Title: "Smoked trout", Chapter: "Shore", Pages: plan.Pages{First: 30, Last: 31}, Angle: plan.AnyAngle,
			Needs: need, Extra: []plan.Field{{Name: "Cook"}, {Name: "Tested"}}},
	}
	if d := cmp.Diff(want, s.Recipes); d != "" {
		t.Errorf("−want +got:\n%s", d)
	}
	var taken []string
	for _, x := range s.Taken {
		taken = append(taken, fmt.Sprintf("%d %s %s → %s", x.Row, x.Column, x.Value, x.As))
	}
	wantTaken := []string{"4 Angle flat lay → overhead", "6 Pages 2026-11-10 → 10-11", "6 Size 2026-01-02 → half", "6 Angle 2026-03-04 → three-quarter", "6 Day 5 March 2026 → 2026-03-05"}
	if d := cmp.Diff(wantTaken, taken); d != "" {
		t.Errorf("taken, −want +got:\n%s", d)
	}
}

func TestWorkbooksThatCountFrom1904(t *testing.T) {
	// 44623 days after 1904-01-01 is 46085 − 1462: 2026-03-04.
	s := readBook(t, handmade{names: []string{"Plan"}, from04: true, sheets: []string{
		row(1, text("A1", "recipe"), text("B1", "title"), text("C1", "day"), text("D1", "pages")) +
			row(2, text("A2", "R01"), text("B2", "Rye"), date("C2", "44623"), num("D2", "24"))}})
	if r := s.Recipes[0]; r.Day != (plan.Day{Year: 2026, Month: 3, Day: 4}) || r.Pages.First != 24 {
		t.Errorf("day %v, pages %v, want 2026-03-04 and 24", r.Day, r.Pages)
	}
}

func TestAnUnreadableDateInAWorkbookIsNamedAsItIsShown(t *testing.T) {
	s := readBook(t, handmade{names: []string{"Plan"}, sheets: []string{
		row(1, text("A1", "recipe"), text("B1", "title"), text("C1", "day"), text("D1", "pages")) +
			row(2, text("A2", "R01"), text("B2", "Rye"), num("C2", "12"), date("D2", "46034"))}}) // 12 January
	if len(s.Faults) != 2 || s.Faults[0].Value != "12" || s.Faults[1].Value != "2026-01-12" || !strings.Contains(s.Faults[1].Says, "is a date") {
		t.Errorf("faults %v, want day 12 and pages 2026-01-12", s.Faults)
	}
}

func TestAWrongCellForTextInAWorkbookIsNamed(t *testing.T) {
	s := readBook(t, handmade{names: []string{"Plan"}, sheets: []string{
		row(1, text("A1", "recipe"), text("B1", "title"), text("C1", "Room for text"), text("D1", "pages")) +
			row(2, text("A2", "R01"), text("B2", "Rye"), text("C2", "Top"), text("D2", "13")) +
			row(3, text("A3", "R02"), text("B3", "Broth"), text("C3", "the middle"), text("D3", "15"))}})
	if len(s.Faults) != 1 || s.Faults[0].Row != 3 || s.Faults[0].Column != "Room for text" || s.Faults[0].Value != "the middle" || s.Recipes[0].Lettering != plan.LetteringTop {
		t.Errorf("faults %v, recipes %+v", s.Faults, s.Recipes)
	}
}

func TestPicturesInAWorkbookAreLeftAlone(t *testing.T) {
	b := handmade{names: []string{"Plan"}, sheets: []string{row(1, text("A1", "recipe"), text("B1", "title")) + row(2, text("A2", "R01"), text("B2", "Rye"))},
		more: map[string]string{"xl/media/image1.jpeg": strings.Repeat("\x00", mostUnpacked+1), "xl/drawings/drawing1.xml": "not XML <"}}.bytes(t)
	s, err := Read(bytes.NewReader(b), "plan.xlsx")
	if err != nil || len(s.Recipes) != 1 {
		t.Errorf("%d recipes, error %v, want the one", len(s.Recipes), err)
	}
}

func TestWorkbooksThatCantBeReadGiveOneClearError(t *testing.T) {
	plain := handmade{names: []string{"Plan"}, sheets: []string{row(1, text("A1", "recipe"), text("B1", "title"))}}
	bomb := handmade{names: []string{"Plan"}, sheets: []string{row(1, text("A1", "recipe"), text("B1", "title")+strings.Repeat(" ", mostUnpacked))}}
	var archive, liar bytes.Buffer
	z := zip.NewWriter(&archive)
	w, _ := z.Create("notes.txt")
	w.Write([]byte("Rye"))
	z.Close()
	// An archive that states one byte and holds more.
	z = zip.NewWriter(&liar)
	content := []byte("<workbook>" + strings.Repeat(" ", 1000))
	w, err := z.CreateRaw(&zip.FileHeader{Name: "xl/workbook.xml", Method: zip.Store, CRC32: crc32.ChecksumIEEE(content),
		CompressedSize64: uint64(len(content)), UncompressedSize64: 1})
	if err != nil {
		t.Fatal(err)
	}
	w.Write(content)
	z.Close()
	cut := plain.bytes(t)
	for _, c := range []struct {
		name        string
		in          []byte
		unsupported bool
		says        string
	}{
		{"no header", handmade{names: []string{"Plan"}, sheets: []string{row(1, text("A1", "Rye"))}}.bytes(t), false, "no worksheet names the columns"},
		{"no rows", handmade{names: []string{"Plan"}, sheets: []string{""}}.bytes(t), false, "no worksheet names the columns"},
		{"another archive", archive.Bytes(), true, "no XLSX workbook"},
		{"a cut file", cut[:len(cut)/2], false, "can't be unpacked"},
		{"more than a plan can need", bomb.bytes(t), false, "unpacks to more"},
		{"an archive that lies about sizes", liar.Bytes(), false, "can't be unpacked"},
		{"too many rows", handmade{names: []string{"Plan"}, sheets: []string{row(1, text("A1", "recipe"), text("B1", "title")) +
			strings.Repeat(`<row><c><v>1</v></c></row>`, mostRows)}}.bytes(t), false, "more than 20000 rows"},
		{"a row that no spreadsheet has", handmade{names: []string{"Plan"}, sheets: []string{row(9999999, text("A1", "recipe"))}}.bytes(t), false, ""},
		{"a workbook without its parts", handmade{more: map[string]string{"xl/workbook.xml": "<"}}.bytes(t), false, ""},
	} {
		t.Run(c.name, func(t *testing.T) {
			s, err := Read(bytes.NewReader(c.in), "plan.xlsx")
			var format *FormatError
			var unsupported *UnsupportedError
			if errors.As(err, &unsupported) != c.unsupported || errors.As(err, &format) == c.unsupported {
				t.Fatalf("error %T %v, sheet %+v, want unsupported %v", err, err, s, c.unsupported)
			}
			if !strings.HasPrefix(err.Error(), "plan.xlsx: ") || !strings.Contains(err.Error(), c.says) {
				t.Errorf("error %q, want the file and %q", err, c.says)
			}
		})
	}
}

func TestAFarAwayCellDoesNoHarm(t *testing.T) {
	s := readBook(t, handmade{names: []string{"Plan"}, sheets: []string{
		row(1, text("A1", "recipe"), text("B1", "title")) + row(2, text("A2", "R01"), text("B2", "Rye")) + row(1048576, text("XFD1048576", "x"))}})
	if len(s.Recipes) != 2 || s.Recipes[1].Row != 1048576 {
		t.Fatalf("recipes %v", s.Recipes)
	}
	if f := s.Faults[0]; f.Row != 1048576 || !strings.Contains(f.Says, "more than 500 columns") {
		t.Errorf("fault %v, want the width of row 1048576", f)
	}
}

func TestAWorkbookOfTheLibraryIsReadToo(t *testing.T) {
	f := excelize.NewFile()
	for i, r := range [][]any{{"recipe", "title", "pages", "day"}, {"R01", "Rye", 24, plan.Day{Year: 2026, Month: 3, Day: 4}.String()}} {
		if err := f.SetSheetRow("Sheet1", fmt.Sprintf("A%d", i+1), &r); err != nil {
			t.Fatal(err)
		}
	}
	var b bytes.Buffer
	if err := f.Write(&b); err != nil {
		t.Fatal(err)
	}
	s, err := Read(&b, "plan.xlsx")
	if err != nil || len(s.Recipes) != 1 || s.Recipes[0].Pages.First != 24 || s.Recipes[0].Day.Day != 4 {
		t.Errorf("%+v, %v", s.Recipes, err)
	}
}
