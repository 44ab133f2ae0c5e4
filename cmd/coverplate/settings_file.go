package main

import (
	"bytes"
	"errors"
	"fmt"
	"os"
	"slices"
	"sort"
	"strings"

	"github.com/pelletier/go-toml/v2"
	"github.com/pelletier/go-toml/v2/unstable"

	"coverplate/audit"
)

// settingFault is one thing wrong in a settings file.
type settingFault struct {
	Line, Column int // from 1; 0 where a key is missing
	Key          string
	Says, Want   string
}

// settingsError is all that is wrong in a settings file.
type settingsError struct {
	Path   string
	Faults []settingFault
}

func (e settingsError) Error() string {
	lines := make([]string, len(e.Faults))
	for i, f := range e.Faults {
		at := e.Path
		if f.Line > 0 {
			at = fmt.Sprintf("%s:%d:%d", e.Path, f.Line, f.Column)
		}
		line := at + ": "
		if f.Key != "" {
			line += f.Key + ": "
		}
		line += f.Says
		if f.Want != "" {
			line += "; right would be " + f.Want
		}
		lines[i] = line
	}
	return strings.Join(lines, "\n")
}

// readSettings reads the settings file at path. A file that is wrong comes
// back as a settingsError with all its faults.
func readSettings(path string) (settings, error) {
	b, err := os.ReadFile(path)
	if err != nil {
		return settings{}, fmt.Errorf("read settings: %w", err)
	}
	s, faults := parseSettings(b)
	if len(faults) > 0 {
		return settings{}, settingsError{path, faults}
	}
	return s, nil
}

// parseSettings reads settings. Each unknown key and each wrong value is a
// fault with its place.
func parseSettings(b []byte) (settings, []settingFault) {
	s := defaults()
	r, faults := newSettingsReader(b)
	if len(faults) > 0 {
		return s, faults
	}
	r.known(&s)
	r.posts(&s)
	r.unknown("", r.doc)
	if s.Book.FloorPPI > s.Book.GoodPPI {
		r.fault("book.ppi_floor", fmt.Sprintf("the floor %s is above ppi_good %s", number(s.Book.FloorPPI), number(s.Book.GoodPPI)), "a floor not above what is good")
	}
	return s, r.sorted()
}

// newSettingsReader decodes a file of settings, or says where it is no TOML.
func newSettingsReader(b []byte) (*settingsReader, []settingFault) {
	b = bytes.TrimPrefix(b, []byte("\xef\xbb\xbf"))
	var doc map[string]any
	if err := toml.Unmarshal(b, &doc); err != nil {
		f := settingFault{Says: strings.TrimPrefix(err.Error(), "toml: ")}
		var at *toml.DecodeError
		if errors.As(err, &at) {
			f.Line, f.Column = at.Position()
			f.Key = strings.Join(at.Key(), ".")
		}
		return nil, []settingFault{f}
	}
	return &settingsReader{doc: doc, places: placesOf(b)}, nil
}

// sorted are the faults in the order of the file.
func (r *settingsReader) sorted() []settingFault {
	sort.SliceStable(r.faults, func(i, j int) bool {
		a, b := r.faults[i], r.faults[j]
		if a.Line != b.Line {
			return a.Line < b.Line
		}
		return a.Column < b.Column
	})
	return r.faults
}

// settingsReader holds a decoded settings file against the known keys.
type settingsReader struct {
	doc    map[string]any
	places map[string]place
	faults []settingFault
}

// place is where a key stands in a file, from 1.
type place struct{ line, column int }

// fault notes what is wrong with a key; of a key inside an inline table the
// place is the table's.
func (r *settingsReader) fault(key, says, want string) {
	f := settingFault{Key: key, Says: says, Want: want}
	for k := key; k != ""; k = k[:max(strings.LastIndexByte(k, '.'), 0)] {
		if p, ok := r.places[k]; ok {
			f.Line, f.Column = p.line, p.column
			break
		}
	}
	r.faults = append(r.faults, f)
}

func (r *settingsReader) known(s *settings) {
	for _, k := range settingKeys() {
		section, name, _ := strings.Cut(k.Key, ".")
		v, ok := any(nil), false
		switch table := r.doc[section].(type) {
		case map[string]any:
			v, ok = table[name]
		case nil:
		default:
			continue // told once, by unknown
		}
		switch {
		case ok:
			if err := k.Read(s, v); err != nil {
				r.fault(k.Key, err.Error(), k.Want)
			}
		case k.Required:
			r.faults = append(r.faults, settingFault{Key: k.Key, Says: "is missing", Want: name + " under [" + section + "], " + k.Want})
		}
	}
}

// posts reads the [[post]] tables; where there is none the default shapes stay.
func (r *settingsReader) posts(s *settings) {
	list, ok := r.doc["post"].([]any)
	if !ok {
		return
	}
	s.Rules.Shapes = nil
	for i, entry := range list {
		at := fmt.Sprintf("post[%d]", i)
		table, ok := entry.(map[string]any)
		if !ok {
			r.fault("post", "is no table", "[[post]] with name, width, height and as_of")
			continue
		}
		var shape audit.Shape
		for _, k := range shapeKeys() {
			v, ok := table[k.Key]
			if !ok {
				r.fault(at+"."+k.Key, "is missing", k.Want)
			} else if err := k.Read(&shape, v); err != nil {
				r.fault(at+"."+k.Key, err.Error(), k.Want)
			}
			delete(table, k.Key)
		}
		r.unknown(at+".", table)
		s.Rules.Shapes = append(s.Rules.Shapes, shape)
	}
}

// unknown names every key below table that nothing reads.
func (r *settingsReader) unknown(prefix string, table map[string]any) {
	var known []string
	sections := map[string]bool{}
	if prefix == "" {
		for _, k := range settingKeys() {
			known = append(known, k.Key)
			section, _, _ := strings.Cut(k.Key, ".")
			sections[section] = true
		}
	} else {
		for _, k := range shapeKeys() {
			known = append(known, prefix+k.Key)
		}
	}
	for name, v := range table {
		below, isTable := v.(map[string]any)
		switch {
		case prefix == "" && name == "post":
			if _, ok := v.([]any); !ok {
				r.fault(name, "is no list of tables", "[[post]] with name, width, height and as_of")
			}
		case prefix == "" && sections[name] && isTable:
			for key := range below {
				if path := name + "." + key; !slices.Contains(known, path) {
					r.fault(path, "is not a key of the settings", nearestKey(path, known))
				}
			}
		case prefix == "" && sections[name]:
			r.fault(name, "is no table", "["+name+"] with its keys below")
		default:
			r.fault(prefix+name, "is not a key of the settings", nearestKey(prefix+name, known))
		}
	}
}

func nearestKey(key string, known []string) string {
	if near := nearest(key, known); near != "" {
		return near + ", or no such line"
	}
	return "no such line; the keys are " + strings.Join(known, ", ")
}

// placesOf finds where each key and table of a well-formed file stands.
func placesOf(b []byte) map[string]place {
	places := map[string]place{}
	counts := map[string]int{}
	prefix := ""
	p := unstable.Parser{}
	p.Reset(b)
	for p.NextExpression() {
		e := p.Expression()
		var names []string
		var at place
		for it := e.Key(); it.Next(); {
			n := it.Node()
			if len(names) == 0 {
				start := p.Shape(n.Raw).Start
				at = place{start.Line, start.Column}
			}
			names = append(names, string(n.Data))
		}
		path := strings.Join(names, ".")
		switch e.Kind {
		case unstable.Table:
			prefix = path + "."
		case unstable.ArrayTable:
			indexed := fmt.Sprintf("%s[%d]", path, counts[path])
			counts[path]++
			places[indexed] = at
			prefix = indexed + "."
		default:
			path = prefix + path
		}
		if _, ok := places[path]; !ok {
			places[path] = at
		}
	}
	return places
}

// writeSettings writes a settings file with every key commented.
func writeSettings(s settings) []byte {
	var b strings.Builder
	b.WriteString("# Settings of this shoot. Every key is read; an unknown one is an error that\n# names its line.\n")
	section := ""
	for _, k := range settingKeys() {
		in, name, _ := strings.Cut(k.Key, ".")
		if in != section {
			section = in
			b.WriteString("\n[" + section + "]\n")
		} else {
			b.WriteString("\n")
		}
		for _, line := range strings.Split(k.Says, "\n") {
			b.WriteString("# " + line + "\n")
		}
		b.WriteString(name + " = " + k.Write(s) + "\n")
	}
	b.WriteString(`
# Shapes of the social posts that a half of a photograph must fill, one
# [[post]] each: its name, the pixels that the platform shows, which a half must
# reach without upscaling, and the month of that fact. Platforms change them:
# look again before the shoot, and put the month of your look.
`)
	for _, p := range s.Rules.Shapes {
		fmt.Fprintf(&b, "\n[[post]]\nname = %s\nwidth = %d\nheight = %d\nas_of = %s\n", quoted(p.Name), p.Width, p.Height, quoted(p.AsOf))
	}
	return []byte(b.String())
}

// quoted writes a TOML basic string.
func quoted(s string) string {
	var b strings.Builder
	b.WriteByte('"')
	for _, r := range strings.ToValidUTF8(s, "\uFFFD") {
		switch {
		case r == '"' || r == '\\':
			b.WriteByte('\\')
			b.WriteRune(r)
		case r < 0x20 || r == 0x7f:
			fmt.Fprintf(&b, `\u%04X`, r)
		default:
			b.WriteRune(r)
		}
	}
	b.WriteByte('"')
	return b.String()
}
