// Package paper puts a report into the words and drawings of a page, the same
// for the report that is sent, the flat plan that is printed and the desk in
// the studio: dockets, spreads, palettes, cuts. It computes nothing of its own.
package paper

import (
	"bytes"
	_ "embed"
	"fmt"
	"html/template"
	"io"
	"maps"
	"slices"

	"coverplate/audit/plan"
)

//go:embed html/book.html
var parts string

//go:embed html/report.css
var baseStyle string

//go:embed html/book.css
var bookStyle string

// Loading is an img element's loading attribute.
type Loading string

// Pictures that stand in the page itself are there at once; a desk's are
// fetched as they come into sight.
const (
	Eager Loading = "eager"
	Lazy  Loading = "lazy"
)

// Templates reads the templates of pages, by their names, with the parts that
// all share: rims, mark, meet, switch, chip, strip, matrix, change.
//
// loading tells how a browser fetches the pictures of the parts; own are
// functions of the pages.
func Templates(pages map[string]string, loading Loading, own template.FuncMap) (*template.Template, error) {
	set := template.New("pages").Funcs(template.FuncMap{"letter": Letter, "loading": func() Loading { return loading }}).Funcs(own)
	if _, err := set.New("parts").Parse(parts); err != nil {
		return nil, fmt.Errorf("read the templates: %w", err)
	}
	for _, name := range slices.Sorted(maps.Keys(pages)) { // what a page defines anew stands above the parts
		if _, err := set.New(name).Parse(pages[name]); err != nil {
			return nil, fmt.Errorf("read the template %s: %w", name, err)
		}
	}
	return set, nil
}

// Style is the style of pages whose leaves have the book's trim.
func Style(b plan.Book) string {
	w, h := b.TrimWidth, b.TrimHeight
	if !(w > 0 && h > 0) {
		w, h = 3, 4
	}
	return baseStyle + bookStyle + fmt.Sprintf(".page { aspect-ratio: %.4g / %.4g; } .page.both { aspect-ratio: %.4g / %.4g; }\n", w, h, 2*w, h)
}

// Execute renders a page whole and then writes it: half a page is none.
func Execute(w io.Writer, set *template.Template, name string, view any) error {
	var b bytes.Buffer
	if err := set.ExecuteTemplate(&b, name, view); err != nil {
		return fmt.Errorf("render the page: %w", err)
	}
	_, err := w.Write(b.Bytes())
	return err
}
