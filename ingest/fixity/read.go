package fixity

import (
	"bytes"
	"cmp"
	"context"
	"encoding/hex"
	"errors"
	"fmt"
	"hash"
	"io/fs"
	"maps"
	"os"
	"path"
	"path/filepath"
	"regexp"
	"slices"
	"strings"

	"golang.org/x/text/unicode/norm"
)

// Fault is one thing wrong with a bag or a folder and its list.
type Fault struct {
	Path string // below the folder; "" the folder itself
	Says string
}

func (f Fault) String() string {
	if f.Path == "" {
		return f.Says
	}
	return f.Path + ": " + f.Says
}

// Checked is what a check found.
type Checked struct {
	Files    int     // whose checksum was compared
	Bytes    int64   // read for that
	Faults   []Fault // none: complete and valid
	Warnings []Fault // sound, and worth knowing
}

// maxTag is the largest tag file that is read, bytes: a manifest of a million
// files is a tenth of it.
const maxTag = 1 << 30

// ErrNoBag: there is no bagit.txt.
var ErrNoBag = errors.New("no bagit.txt: not a BagIt bag")

// CheckBag checks the bag at dir by RFC 8493: its declaration, that all that its
// manifests list is there and all that is there is listed, and every checksum.
// Nothing outside of dir is read, whatever a manifest says. read, where it is
// not nil, is told of bytes as they are read. Errors: ErrNoBag, the cause of
// ctx, and dir itself if it can't be read; all else is a Fault.
func CheckBag(ctx context.Context, dir string, read func(int)) (Checked, error) {
	if _, err := os.Stat(dir); err != nil {
		return Checked{}, err
	}
	if _, err := os.Lstat(filepath.Join(dir, "bagit.txt")); errors.Is(err, fs.ErrNotExist) {
		return Checked{}, ErrNoBag
	}
	c := checker{ctx: ctx, dir: dir, read: read, files: map[string]int64{}}
	c.declaration()
	c.list()
	manifests := c.manifests("manifest-")
	c.payload(manifests)
	c.info()
	c.fetch()
	c.sums(manifests)
	c.sums(c.tags(manifests))
	if ctx.Err() != nil {
		return c.out, context.Cause(ctx)
	}
	order := func(a, b Fault) int {
		return cmp.Or(cmp.Compare(a.Path, b.Path), cmp.Compare(a.Says, b.Says))
	}
	slices.SortFunc(c.out.Faults, order)
	slices.SortFunc(c.out.Warnings, order)
	c.out.Faults = slices.Compact(c.out.Faults)
	c.out.Warnings = slices.Compact(c.out.Warnings)
	return c.out, nil
}

type checker struct {
	ctx   context.Context
	dir   string
	read  func(int)
	minor int              // of the version, 100 × major + minor: 97 of 0.97, 100 of 1.0
	code  string           // encoding of tag files
	files map[string]int64 // regular files below dir, with their sizes
	out   Checked
}

func (c *checker) fault(path, format string, args ...any) {
	c.out.Faults = append(c.out.Faults, Fault{path, fmt.Sprintf(format, args...)})
}

func (c *checker) warn(path, format string, args ...any) {
	c.out.Warnings = append(c.out.Warnings, Fault{path, fmt.Sprintf(format, args...)})
}

// The two lines of bagit.txt (RFC 8493, 2.1.1). Before 1.0 blanks around the
// colon were not ruled out.
var (
	versionLine = regexp.MustCompile(`^BagIt-Version: (\d{1,2})\.(\d{1,2})$`)
	codeLine    = regexp.MustCompile(`^Tag-File-Character-Encoding: (\S+)$`)
	loose       = regexp.MustCompile(`^(\S+?)[ \t]*:[ \t]*(.*?)[ \t]*$`)
)

// declaration reads bagit.txt.
func (c *checker) declaration() {
	const name = "bagit.txt"
	c.code = "UTF-8"
	b, err := c.tag(name)
	if err != nil {
		c.fault(name, "can't be read: %v", err)
		return
	}
	if bytes.HasPrefix(b, []byte("\xef\xbb\xbf")) {
		c.fault(name, "begins with a byte order mark, which it may not")
		return
	}
	lines := tagLines(string(b))
	if len(lines) != 2 {
		c.fault(name, "has %d lines, not BagIt-Version and Tag-File-Character-Encoding alone", len(lines))
		return
	}
	strict := versionLine.FindStringSubmatch(lines[0]) != nil && codeLine.FindStringSubmatch(lines[1]) != nil
	for i, l := range lines {
		if m := loose.FindStringSubmatch(l); m != nil {
			lines[i] = m[1] + ": " + m[2]
		}
	}
	version, code := versionLine.FindStringSubmatch(lines[0]), codeLine.FindStringSubmatch(lines[1])
	if version == nil || code == nil {
		c.fault(name, `says %q and %q, not "BagIt-Version: 1.0" and "Tag-File-Character-Encoding: UTF-8"`, lines[0], lines[1])
		return
	}
	var major, minor int
	fmt.Sscan(version[1], &major)
	fmt.Sscan(version[2], &minor)
	c.minor = 100*major + minor
	if c.minor > 100 {
		c.fault(name, "is of version %s.%s; 1.0 is the latest that is known here", version[1], version[2])
	}
	if c.minor >= 100 && !strict {
		c.fault(name, "has blanks where version 1.0 allows one space only")
	}
	switch strings.ToUpper(code[1]) {
	case "UTF-8", "ISO-8859-1", "US-ASCII", "UTF-16", "UTF-16BE", "UTF-16LE":
		c.code = strings.ToUpper(code[1])
	default:
		c.fault(name, "its other tag files are in %s, which is not known here", code[1])
	}
}

// list notes what is in the bag.
func (c *checker) list() {
	err := filepath.WalkDir(c.dir, func(name string, d fs.DirEntry, err error) error {
		if c.ctx.Err() != nil {
			return fs.SkipAll
		}
		rel, relErr := filepath.Rel(c.dir, name)
		rel = filepath.ToSlash(rel)
		switch {
		case err != nil || relErr != nil:
			c.fault(rel, "can't be read: %v", WithoutPath(errors.Join(err, relErr)))
		case d.IsDir():
		case !d.Type().IsRegular():
			c.fault(rel, "neither a file nor a folder")
		default:
			info, err := d.Info()
			if err != nil {
				c.fault(rel, "can't be read: %v", WithoutPath(err))
				return nil
			}
			c.files[rel] = info.Size()
		}
		return nil
	})
	if err != nil {
		c.fault("", "can't be read: %v", err)
	}
	folds := map[string]string{}
	for _, name := range slices.Sorted(maps.Keys(c.files)) {
		fold := strings.ToLower(norm.NFC.String(name))
		if other, twice := folds[fold]; twice {
			c.warn(name, "some disks hold it for %s", other)
		}
		folds[fold] = name
	}
	if info, err := os.Lstat(filepath.Join(c.dir, "data")); err != nil || !info.IsDir() {
		c.fault("data", "is missing: it holds the payload")
	}
}

// manifest is one list of a bag.
type manifest struct {
	name string
	make func() hash.Hash
	sums map[string]string // by the path of a file that is in the bag, or as listed where none is
}

// manifests reads the lists whose names begin with prefix.
func (c *checker) manifests(prefix string) []manifest {
	var out []manifest
	var names []string
	for name := range c.files {
		if strings.HasPrefix(name, prefix) && strings.HasSuffix(name, ".txt") && !strings.Contains(name, "/") {
			names = append(names, name)
		}
	}
	slices.Sort(names)
	for _, name := range names {
		alg := strings.TrimSuffix(strings.TrimPrefix(name, prefix), ".txt")
		mk, ok := algorithm(strings.ToLower(alg))
		if !ok {
			c.fault(name, "checksums of %q are not known here: it can't be checked", alg)
			continue
		}
		out = append(out, c.manifest(name, mk))
	}
	return out
}

func (c *checker) manifest(name string, mk func() hash.Hash) manifest {
	m := manifest{name, mk, map[string]string{}}
	s, err := c.text(name)
	if err != nil {
		c.fault(name, "can't be read: %v", err)
		return m
	}
	size := mk().Size()
	tag := strings.HasPrefix(name, "tagmanifest-")
	for n, line := range tagLines(s) {
		if line == "" {
			continue
		}
		i := strings.IndexAny(line, " \t")
		if i < 0 {
			c.fault(name, "line %d: no checksum and path", n+1)
			continue
		}
		sum, err := hex.DecodeString(line[:i])
		if err != nil || len(sum) != size {
			c.fault(name, "line %d: no checksum of %d hexadecimal digits", n+1, 2*size)
			continue
		}
		listed := c.listedPath(name, n+1, strings.TrimLeft(line[i:], " \t"))
		if listed == "" {
			continue
		}
		if in := strings.HasPrefix(listed, "data/"); in == tag {
			c.fault(name, "line %d: %s has no place in this list", n+1, listed)
			continue
		}
		at := c.present(listed)
		if old, twice := m.sums[at]; twice {
			if c.minor >= 100 || old != hex.EncodeToString(sum) {
				c.fault(name, "line %d: %s is listed twice", n+1, listed)
			} else {
				c.warn(name, "line %d: %s is listed twice", n+1, listed)
			}
			continue
		}
		m.sums[at] = hex.EncodeToString(sum)
	}
	return m
}

var percent = regexp.MustCompile(`(?i)%(0A|0D|25)`)

// listedPath is a path of a list, decoded and cleaned; "" where it leads out of
// the bag, which is a fault.
func (c *checker) listedPath(list string, line int, raw string) string {
	p := percent.ReplaceAllStringFunc(raw, func(s string) string {
		b, _ := hex.DecodeString(s[1:])
		return string(b)
	})
	if rest, ok := strings.CutPrefix(p, "*"); ok && !c.there(p) {
		if c.there(rest) {
			c.warn(list, "line %d: an asterisk before the path, as checksum tools write it", line)
			p = rest
		}
	}
	if rest, ok := strings.CutPrefix(p, "./"); ok {
		c.warn(list, "line %d: %q begins with a dot and a slash", line, raw)
		p = rest
	}
	if unsafe(p) {
		c.fault(list, "line %d: %q leads out of the bag: not looked at", line, raw)
		return ""
	}
	return p
}

var drive = regexp.MustCompile(`^[A-Za-z]:`)

// unsafe reports whether a path could lead out of the bag on any system.
func unsafe(p string) bool {
	return p == "" || strings.HasPrefix(p, "/") || strings.HasPrefix(p, "~") || strings.HasPrefix(p, `\`) || drive.MatchString(p) ||
		strings.HasPrefix(p, "%") || strings.ContainsRune(p, 0) || slices.Contains(strings.Split(p, "/"), "..") || path.Clean(p) != p
}

// there reports whether p is a file in the bag.
func (c *checker) there(p string) bool {
	_, ok := c.files[c.present(p)]
	return ok
}

// present is the path of the file in the bag that p names: some disks write
// composed letters apart (RFC 8493, 2.2 and 6.1: compare after normalisation).
func (c *checker) present(p string) string {
	if _, ok := c.files[p]; ok {
		return p
	}
	for _, form := range []norm.Form{norm.NFC, norm.NFD} {
		if other := form.String(p); other != p {
			if _, ok := c.files[other]; ok {
				return other
			}
		}
	}
	return p
}

// payload holds the lists against what is there.
func (c *checker) payload(all []manifest) {
	if len(all) == 0 {
		c.fault("", "no payload manifest that can be read")
		return
	}
	for name := range c.files {
		if !strings.HasPrefix(name, "data/") {
			continue
		}
		in := 0
		for _, m := range all {
			if _, ok := m.sums[name]; ok {
				in++
			} else if c.minor >= 100 {
				c.fault(name, "is not in %s", m.name)
			}
		}
		if in == 0 && c.minor < 100 {
			c.fault(name, "is in no manifest")
		}
	}
}

// info checks Payload-Oxum of bag-info.txt.
func (c *checker) info() {
	const name = "bag-info.txt"
	var octets, streams int64
	for p, size := range c.files {
		if strings.HasPrefix(p, "data/") {
			octets += size
			streams++
		}
	}
	found := 0
	for _, line := range c.optional(name) {
		label, value, ok := strings.Cut(line, ":")
		if !ok || !strings.EqualFold(strings.TrimSpace(label), "Payload-Oxum") {
			continue
		}
		found++
		if want := fmt.Sprintf("%d.%d", octets, streams); strings.TrimSpace(value) != want {
			c.fault(name, "Payload-Oxum says %s, the payload is %s", strings.TrimSpace(value), want)
		}
	}
	if found > 1 {
		c.fault(name, "Payload-Oxum stands there %d times", found)
	}
}

// fetch names what must be fetched first; nothing is fetched here.
func (c *checker) fetch() {
	const name = "fetch.txt"
	for n, line := range c.optional(name) {
		parts := strings.Fields(line)
		if len(parts) < 3 {
			if line != "" {
				c.fault(name, "line %d: no address, length and path", n+1)
			}
			continue
		}
		p := c.listedPath(name, n+1, strings.TrimSpace(line[strings.Index(line, parts[1])+len(parts[1]):]))
		if p == "" {
			continue
		}
		if !c.there(p) {
			c.fault(p, "must be fetched from %s first", parts[0])
		}
	}
}

// tags reads the tag manifests and holds them against the payload manifests.
func (c *checker) tags(payload []manifest) []manifest {
	all := c.manifests("tagmanifest-")
	for _, t := range all {
		for p := range t.sums {
			if strings.HasPrefix(p, "tagmanifest-") {
				c.fault(t.name, "lists %s, and tag manifests are not to be listed", p)
			}
		}
		for _, m := range payload {
			if _, ok := t.sums[m.name]; !ok && c.minor >= 100 {
				c.fault(t.name, "does not list %s", m.name)
			}
		}
	}
	return all
}

// sums reads each listed file once and compares all its checksums.
func (c *checker) sums(all []manifest) {
	paths := map[string]bool{}
	for _, m := range all {
		for p := range m.sums {
			paths[p] = true
		}
	}
	order := make([]string, 0, len(paths))
	for p := range paths {
		order = append(order, p)
	}
	slices.Sort(order)
	for _, p := range order {
		if c.ctx.Err() != nil {
			return
		}
		if _, there := c.files[p]; !there {
			c.fault(p, "is listed and missing")
			continue
		}
		hashes := make([]hash.Hash, 0, len(all))
		var want []string
		for _, m := range all {
			if sum, ok := m.sums[p]; ok {
				hashes, want = append(hashes, m.make()), append(want, sum)
			}
		}
		n, err := hashFile(c.ctx, filepath.Join(c.dir, filepath.FromSlash(p)), hashes, c.read)
		if err != nil {
			c.fault(p, "can't be read: %v", WithoutPath(err))
			continue
		}
		c.out.Files++
		c.out.Bytes += n
		for i, h := range hashes {
			if hex.EncodeToString(h.Sum(nil)) != want[i] {
				c.fault(p, "was changed: its checksum is another")
				break
			}
		}
	}
}

// hashFile reads the file at name whole into all hashes.
func hashFile(ctx context.Context, name string, hashes []hash.Hash, read func(int)) (int64, error) {
	f, err := os.Open(name)
	if err != nil {
		return 0, err
	}
	defer f.Close()
	return Copy(ctx, nil, f, make([]byte, piece), read, hashes...)
}

// WithoutPath is what the system says of a file, without its name.
func WithoutPath(err error) error {
	var at *fs.PathError
	if errors.As(err, &at) {
		return at.Err
	}
	return err
}
