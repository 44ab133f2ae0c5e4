package plansheet

import (
	"bytes"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"
	"github.com/xuri/excelize/v2"
)

// Titles that a spreadsheet program would compute (OWASP, "CSV Injection")
// come back as they are and are text in both files.
func TestListsComputeNothing(t *testing.T) {
	table := Table{Name: "files", Head: []string{"title", "says"}, Rows: [][]string{
		{"=HYPERLINK(\"http://host.example\")", "+1"}, {"@SUM(A1)", "-2+3"}, {"\tx", "plain, \"quoted\"\nand folded"}, {"'=1", "＝1"}, {"Crème brûlée 日本", ""}}}
	var b bytes.Buffer
	if err := WriteList(&b, table); err != nil {
		t.Fatal(err)
	}
	for _, cell := range []string{"=HYPERLINK", "+1", "@SUM", "-2+3"} {
		if !strings.Contains(b.String(), "'"+cell) {
			t.Errorf("%s stands unguarded in\n%s", cell, b.String())
		}
	}
	head, rows, err := ReadList(&b)
	if err != nil || !cmp.Equal(head, table.Head) || !cmp.Equal(rows, table.Rows) {
		t.Errorf("%v: %s", err, cmp.Diff(table.Rows, rows))
	}
	var x bytes.Buffer
	if err := WriteWorkbook(&x, []Table{{Name: "empty", Head: []string{"a"}}, table}); err != nil {
		t.Fatal(err)
	}
	f, err := excelize.OpenReader(&x)
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	for y, row := range table.Rows {
		for i, want := range row {
			at, _ := excelize.CoordinatesToCellName(i+1, y+2)
			got, err1 := f.GetCellValue("files", at)
			formula, err2 := f.GetCellFormula("files", at)
			kind, err3 := f.GetCellType("files", at)
			if got != want || formula != "" || err1 != nil || err2 != nil || err3 != nil || want != "" && kind != excelize.CellTypeSharedString {
				t.Errorf("%s is %q, formula %q, type %v, want %q", at, got, formula, kind, want)
			}
		}
	}
}
