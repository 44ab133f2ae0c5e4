package main

import (
	"fmt"
	"maps"
	"os"
	"slices"
	"strings"

	"coverplate/audit/delivery"
	"coverplate/ingest/xmp"
)

// specFile is the name of a shoot's spec for deliveries.
const specFile = "delivery.toml"

// specKey is one key of a spec: what it means, an example, and how it is read.
type specKey[T any] struct {
	Key, Says, Example, Want string
	Required                 bool
	Read                     func(*T, any) error
}

func line(field func(*delivery.Words) *string) func(*delivery.Words, any) error {
	return func(w *delivery.Words, v any) (err error) { *field(w), err = text(v); return }
}

func lines(field func(*delivery.Words) *[]string) func(*delivery.Words, any) error {
	return func(w *delivery.Words, v any) error {
		all, ok := v.([]any)
		if !ok {
			return fmt.Errorf("%v is no list", v)
		}
		*field(w) = []string{}
		for _, x := range all {
			s, err := text(x)
			if err != nil {
				return err
			}
			*field(w) = append(*field(w), s)
		}
		return nil
	}
}

// oneOf reads a word of a few.
func oneOf[W ~string](known []W, v any) (string, error) {
	s, err := text(v)
	if err == nil && !slices.Contains(known, W(s)) {
		err = fmt.Errorf("%q is none of them", s)
	}
	return s, err
}

func quotedAll[W ~string](known []W) string {
	var out []string
	for _, k := range known {
		out = append(out, quoted(string(k)))
	}
	return strings.Join(out, ", ")
}

// deliveryKeys are the keys of a spec that are no words.
func deliveryKeys() []specKey[delivery.Spec] {
	return []specKey[delivery.Spec]{
		{"files.names", "Names of the files: {page} {pages} {recipe} {title} {chapter} {need} {book}\n{frame} {ext}; {page:03} has three figures.", quoted(delivery.DefaultNames), `a template, like "` + delivery.DefaultNames + `"`, false,
			func(s *delivery.Spec, v any) (err error) { s.Names, err = text(v); return }},
		{"files.take", `Of each frame: "all" that is there, "both" picture and raw, which must be
there, "jpeg" (or HEIC, TIFF, PNG, where there is no JPEG), or "raw".`, `"all"`, "one of " + quotedAll(delivery.Takes()), false,
			func(s *delivery.Spec, v any) error {
				t, err := oneOf(delivery.Takes(), v)
				s.Take = delivery.Take(t)
				return err
			}},
		{"files.as_shot", "true: JPEGs go out byte for byte, with the place, serial numbers and maker's\ndata that the camera wrote.", "false", "true or false", false,
			func(s *delivery.Spec, v any) error {
				var ok bool
				if s.AsShot, ok = v.(bool); !ok {
					return fmt.Errorf("%v is neither true nor false", v)
				}
				return nil
			}},
		{"print.ppi", "Least pixels an inch at the printed size with bleed. Common practice: 300.", "300", "pixels an inch from 10 to 1200, like 300", false, specNumber(10, 1200, func(s *delivery.Spec) *float64 { return &s.PPI })},
		{"print.bleed", "Bleed on each outer edge, millimetres. Common practice: 3.", "3", "millimetres from 0 to 25, like 3", false, specNumber(0, 25, func(s *delivery.Spec) *float64 { return &s.Bleed })},
		{"print.colours", "Colour spaces that pictures may have; without this line any.", `["sRGB", "Adobe RGB (1998)"]`, `a list, like ["sRGB", "Adobe RGB (1998)"]`, false,
			func(s *delivery.Spec, v any) error {
				var w delivery.Words
				err := lines(func(w *delivery.Words) *[]string { return &w.Keywords })(&w, v)
				s.Colours = w.Keywords
				return err
			}},
	}
}

func specNumber(low, high float64, field func(*delivery.Spec) *float64) func(*delivery.Spec, any) error {
	return func(s *delivery.Spec, v any) error {
		n, err := numeric(v)
		if err == nil && !(n >= low && n <= high) {
			err = fmt.Errorf("%s is out of range", number(n))
		}
		if err == nil {
			*field(s) = n
		}
		return err
	}
}

// wordKeys are the keys of [words], and of a [recipe.ID] that says them anew.
func wordKeys() []specKey[delivery.Words] {
	type W = delivery.Words
	words := "text in quotes"
	release := "one of " + quotedAll(xmp.Releases())
	said := func(field func(*W) *string) func(*W, any) error {
		return func(w *W, v any) (err error) { *field(w), err = oneOf(xmp.Releases(), v); return }
	}
	return []specKey[W]{
		{"credit", "Who is to be named beside the picture (photoshop:Credit).", `"Photograph: Ingrid Vass"`, words, true, line(func(w *W) *string { return &w.Credit })},
		{"copyright", "The notice (dc:rights).", `"© 2026 Ingrid Vass"`, words, true, line(func(w *W) *string { return &w.Copyright })},
		{"usage", "What it may be used for (xmpRights:UsageTerms).", `"Skerry Table, first edition, and its promotion"`, words, true, line(func(w *W) *string { return &w.Usage })},
		{"creator", "Who took it (dc:creator).", "", words, false, line(func(w *W) *string { return &w.Creator })},
		{"source", "Who supplies it (photoshop:Source).", "", words, false, line(func(w *W) *string { return &w.Source })},
		{"statement", "Where the terms stand, a web address (xmpRights:WebStatement).", "", words, false, line(func(w *W) *string { return &w.Statement })},
		{"caption", "What the picture shows (dc:description), with the fields of names.", `"{title}"`, words, false, line(func(w *W) *string { return &w.Caption })},
		{"headline", "(photoshop:Headline), with the fields of names.", `"{book}, page {pages}"`, words, false, line(func(w *W) *string { return &w.Headline })},
		{"keywords", "(dc:subject)", `["food"]`, "a list of texts", false, lines(func(w *W) *[]string { return &w.Keywords })},
		{"instructions", "For who handles it (photoshop:Instructions).", "", words, false, line(func(w *W) *string { return &w.Instructions })},
		{"job", "Number of the job (photoshop:TransmissionReference).", "", words, false, line(func(w *W) *string { return &w.Job })},
		{"people", "Releases of people whose faces or hands are in it (plus:ModelReleaseStatus):\n" + quotedAll(xmp.Releases()) + ".", "", release, false, said(func(w *W) *string { return &w.People })},
		{"property", "Releases for property, the same words (plus:PropertyReleaseStatus).", "", release, false, said(func(w *W) *string { return &w.Property })},
		{"people_releases", "Numbers of the papers (plus:ModelReleaseID).", "", "a list of texts", false, lines(func(w *W) *[]string { return &w.PeopleReleases })},
		{"property_releases", "(plus:PropertyReleaseID)", "", "a list of texts", false, lines(func(w *W) *[]string { return &w.PropertyReleases })},
	}
}

// readSpec reads a spec; what it does not say is as the shoot's settings have
// it. What is wrong comes back as a settingsError with all its faults.
func readSpec(path string, s settings) (delivery.Spec, error) {
	b, err := os.ReadFile(path)
	if err != nil {
		return delivery.Spec{}, err
	}
	spec, faults := parseSpec(b, s)
	if len(faults) > 0 {
		return spec, settingsError{path, faults}
	}
	return spec, nil
}

func parseSpec(b []byte, s settings) (delivery.Spec, []settingFault) {
	spec := delivery.Spec{Names: delivery.DefaultNames, Take: delivery.All, PPI: s.Book.GoodPPI, Bleed: s.Book.Bleed, Own: map[string]delivery.Words{}}
	r, faults := newSettingsReader(b)
	if len(faults) > 0 {
		return spec, faults
	}
	tables := map[string]map[string]any{}
	for name, v := range r.doc {
		table, ok := v.(map[string]any)
		switch {
		case !slices.Contains([]string{"files", "print", "words", "recipe"}, name):
			r.fault(name, "is not a key of a spec", "[files], [print], [words] or [recipe.ID] with their keys below")
		case !ok:
			r.fault(name, "is no table", "["+name+"] with its keys below")
		default:
			tables[name] = table
		}
	}
	for _, section := range []string{"files", "print"} {
		var keys []specKey[delivery.Spec]
		for _, k := range deliveryKeys() {
			if in, name, _ := strings.Cut(k.Key, "."); in == section {
				k.Key = name
				keys = append(keys, k)
			}
		}
		readTable(r, section, tables[section], keys, &spec, true)
	}
	readTable(r, "words", tables["words"], wordKeys(), &spec.Words, true)
	for _, id := range slices.Sorted(maps.Keys(tables["recipe"])) {
		at := "recipe." + id
		table, ok := tables["recipe"][id].(map[string]any)
		if !ok {
			r.fault(at, "is no table", "["+at+"] with words below")
			continue
		}
		var w delivery.Words
		readTable(r, at, table, wordKeys(), &w, false)
		if _, twice := spec.Own[strings.ToLower(id)]; twice {
			r.fault(at, "is there already in other letters", "one table a recipe")
		}
		spec.Own[strings.ToLower(id)] = w
	}
	return spec, r.sorted()
}

// readTable reads the keys of one table of a spec and names those that nothing
// reads.
func readTable[T any](r *settingsReader, at string, table map[string]any, keys []specKey[T], to *T, all bool) {
	var known []string
	for _, k := range keys {
		path := at + "." + k.Key
		known = append(known, path)
		v, ok := table[k.Key]
		if ok {
			if err := k.Read(to, v); err != nil {
				r.fault(path, err.Error(), k.Want)
			}
		} else if k.Required && all {
			r.faults = append(r.faults, settingFault{Key: path, Says: "is missing", Want: k.Key + " under [" + at + "], " + k.Want})
		}
	}
	for name := range table {
		if path := at + "." + name; !slices.Contains(known, path) {
			r.fault(path, "is not a key of a spec", nearestKey(path, known))
		}
	}
}

// specExample is a spec with every key and what it means.
func specExample() string {
	var b strings.Builder
	b.WriteString("# What a publisher asks of a delivery; coverplate deliver reads it as\n# " + specFile + " in the shoot's folder, or from --spec. An unknown key is an error.\n")
	section := ""
	for _, k := range deliveryKeys() {
		in, name, _ := strings.Cut(k.Key, ".")
		if in != section {
			section = in
			b.WriteString("\n[" + section + "]\n")
		}
		example(&b, name, k.Says, k.Example)
	}
	b.WriteString("\n[words]\n")
	for _, k := range wordKeys() {
		if k.Required { // nobody is credited by an example that was left as it is
			example(&b, k.Key, k.Says+"\nFor example "+k.Example, quoted(""))
		} else {
			example(&b, k.Key, k.Says, k.Example)
		}
	}
	b.WriteString("\n# Other words of one recipe: any keys of [words].\n# [recipe.R07]\n# caption = \"Ingrid Vass's hands, folding the dough\"\n# people = \"unlimited\"\n# people_releases = [\"MR-014\"]\n")
	return b.String()
}

// example is one key of specExample; without an example it is commented out.
func example(b *strings.Builder, name, says, value string) {
	for _, l := range strings.Split(says, "\n") {
		b.WriteString("# " + l + "\n")
	}
	if value == "" {
		b.WriteString("# " + name + " =\n")
		return
	}
	b.WriteString(name + " = " + value + "\n")
}
