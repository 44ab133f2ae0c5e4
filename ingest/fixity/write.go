package fixity

import (
	"bytes"
	"context"
	"crypto/sha256"
	"crypto/sha512"
	"encoding/hex"
	"errors"
	"fmt"
	"hash"
	"io"
	"io/fs"
	"os"
	"path"
	"path/filepath"
	"slices"
	"strings"
	"time"
)

// Item is a file that goes into a bag.
type Item struct {
	From string // on the disk
	Path string // below data/, with forward slashes
	Sum  string // SHA-256 that it must have, hexadecimal; "" not known

	Content []byte                       // instead of From, where that is ""
	Edit    func([]byte) ([]byte, error) // makes what goes in of what is there; nil: it goes in as it is
}

// Tag is a line of bag-info.txt.
type Tag struct{ Label, Value string }

// ChangedError is a file whose content is not what it is said to be.
type ChangedError struct{ Path string }

func (e *ChangedError) Error() string {
	return e.Path + " is not what it was when it was taken: its checksum is another"
}

// WriteBag makes a BagIt 1.0 bag (RFC 8493) of items at dir, which must not be
// there: payload, SHA-512 and SHA-256 manifests, tag manifests. It is made
// beside dir under a hidden name, read back whole by CheckBag, and only then gets
// its name; what a run left there that was cut off, the next throws away. Originals are only read. tags go into bag-info.txt beside
// Bagging-Date, of the day when, and Payload-Oxum. Errors: fs.ErrExist where dir
// is there, every *ChangedError, a path that leads out or is given twice, what
// the system says, the cause of ctx; nothing is left under dir then.
func WriteBag(ctx context.Context, dir string, items []Item, tags []Tag, when time.Time, read func(int)) (err error) {
	if _, err := os.Lstat(dir); err == nil {
		return fmt.Errorf("%s: %w", dir, fs.ErrExist)
	} else if !errors.Is(err, fs.ErrNotExist) {
		return err
	}
	part := filepath.Join(filepath.Dir(filepath.Clean(dir)), ".coverplate-"+filepath.Base(filepath.Clean(dir))+".part")
	if err := os.RemoveAll(part); err != nil { // of a run that was cut off
		return err
	}
	defer func() {
		if err != nil {
			os.RemoveAll(part)
		}
	}()
	if err := os.MkdirAll(filepath.Join(part, "data"), 0o755); err != nil {
		return err
	}
	w := bagWriter{ctx: ctx, dir: part, read: read, folders: map[string]bool{}}
	if err := w.payload(items); err != nil {
		return err
	}
	if err := w.tagFiles(tags, when); err != nil {
		return err
	}
	if err := w.syncFolders(); err != nil {
		return err
	}
	got, err := CheckBag(ctx, part, nil)
	if err != nil {
		return err
	}
	if len(got.Faults) > 0 {
		return fmt.Errorf("the bag was read back and found wrong, and thrown away: %s", got.Faults[0])
	}
	if err := os.Rename(part, dir); err != nil {
		return err
	}
	return syncFolder(filepath.Dir(dir))
}

type bagWriter struct {
	ctx            context.Context
	dir            string
	read           func(int)
	folders        map[string]bool // made, to be synced
	short, long    bytes.Buffer    // manifests of SHA-256 and SHA-512
	octets, number int64
}

// payload copies the items. All that are not what they were are named at once.
func (w *bagWriter) payload(items []Item) error {
	items = slices.Clone(items)
	slices.SortFunc(items, func(a, b Item) int { return strings.Compare(a.Path, b.Path) })
	var changed []error
	for i, it := range items {
		if unsafe(it.Path) {
			return fmt.Errorf("%q is no path for a bag", it.Path)
		}
		if i > 0 && items[i-1].Path == it.Path {
			return fmt.Errorf("%s is given twice", it.Path)
		}
		err := w.item(it)
		if errors.As(err, new(*ChangedError)) || errors.Is(err, fs.ErrNotExist) {
			changed = append(changed, err)
		} else if err != nil {
			return err
		}
	}
	return errors.Join(changed...)
}

func (w *bagWriter) item(it Item) error {
	in, modified, err := w.open(it)
	if err != nil {
		return err
	}
	defer in.Close()
	name := path.Join("data", it.Path)
	full := filepath.Join(w.dir, filepath.FromSlash(name))
	if err := os.MkdirAll(filepath.Dir(full), 0o755); err != nil {
		return err
	}
	for p := path.Dir(name); p != "."; p = path.Dir(p) {
		w.folders[p] = true
	}
	out, err := os.OpenFile(full, os.O_CREATE|os.O_EXCL|os.O_WRONLY, 0o644)
	if err != nil {
		return err
	}
	defer out.Close()
	short, long := sha256.New(), sha512.New()
	n, err := Copy(w.ctx, out, in, make([]byte, piece), w.read, short, long)
	if err != nil {
		return err
	}
	if err := errors.Join(out.Sync(), out.Close(), os.Chtimes(full, time.Time{}, modified)); err != nil {
		return err
	}
	sum := hex.EncodeToString(short.Sum(nil))
	if it.Sum != "" && it.Edit == nil && it.Sum != sum {
		return &ChangedError{it.Path}
	}
	w.octets += n
	w.number++
	bagLine(&w.short, sum, name)
	bagLine(&w.long, hex.EncodeToString(long.Sum(nil)), name)
	return nil
}

// open gives what goes into the bag, and when that was written; zero now. What
// is edited is held against its sum first.
func (w *bagWriter) open(it Item) (io.ReadCloser, time.Time, error) {
	if it.From == "" {
		return io.NopCloser(bytes.NewReader(it.Content)), time.Time{}, nil
	}
	in, err := os.Open(it.From)
	if err != nil {
		return nil, time.Time{}, err
	}
	info, err := in.Stat()
	if err == nil && it.Edit == nil {
		return in, info.ModTime(), nil
	}
	defer in.Close()
	if err != nil {
		return nil, time.Time{}, err
	}
	var whole bytes.Buffer
	h := sha256.New()
	if _, err := Copy(w.ctx, &whole, in, make([]byte, piece), nil, h); err != nil {
		return nil, time.Time{}, err
	}
	if it.Sum != "" && it.Sum != hex.EncodeToString(h.Sum(nil)) {
		return nil, time.Time{}, &ChangedError{it.Path}
	}
	b, err := it.Edit(whole.Bytes())
	if err != nil {
		return nil, time.Time{}, fmt.Errorf("%s: %w", it.Path, err)
	}
	return io.NopCloser(bytes.NewReader(b)), info.ModTime(), nil
}

// bagLine writes a line of a manifest (RFC 8493, 2.1.3): two spaces, and only
// what the standard names is encoded.
func bagLine(b *bytes.Buffer, sum, name string) {
	fmt.Fprintf(b, "%s  %s\n", sum, strings.NewReplacer("%", "%25", "\n", "%0A", "\r", "%0D").Replace(name))
}

func (w *bagWriter) tagFiles(tags []Tag, when time.Time) error {
	var info bytes.Buffer
	for _, t := range append(slices.Clone(tags), Tag{"Bagging-Date", when.Format("2006-01-02")}, Tag{"Payload-Oxum", fmt.Sprintf("%d.%d", w.octets, w.number)}) {
		// A line that goes on begins with a blank (2.2.2).
		value := strings.NewReplacer("\r\n", "\n ", "\n", "\n ", "\r", "\n ").Replace(t.Value)
		fmt.Fprintf(&info, "%s: %s\n", t.Label, value)
	}
	var short, long bytes.Buffer
	for _, f := range []struct {
		name    string
		content []byte
	}{
		{"bag-info.txt", info.Bytes()},
		{"bagit.txt", []byte("BagIt-Version: 1.0\nTag-File-Character-Encoding: UTF-8\n")},
		{"manifest-sha256.txt", w.short.Bytes()},
		{"manifest-sha512.txt", w.long.Bytes()},
	} {
		if err := w.file(f.name, f.content); err != nil {
			return err
		}
		a, b := sha256.Sum256(f.content), sha512.Sum512(f.content)
		bagLine(&short, hex.EncodeToString(a[:]), f.name)
		bagLine(&long, hex.EncodeToString(b[:]), f.name)
	}
	return errors.Join(w.file("tagmanifest-sha256.txt", short.Bytes()), w.file("tagmanifest-sha512.txt", long.Bytes()))
}

func (w *bagWriter) file(name string, content []byte) error {
	f, err := os.OpenFile(filepath.Join(w.dir, name), os.O_CREATE|os.O_EXCL|os.O_WRONLY, 0o644)
	if err != nil {
		return err
	}
	_, err = f.Write(content)
	return errors.Join(err, f.Sync(), f.Close())
}

func (w *bagWriter) syncFolders() error {
	errs := []error{syncFolder(w.dir)}
	for p := range w.folders {
		errs = append(errs, syncFolder(filepath.Join(w.dir, filepath.FromSlash(p))))
	}
	return errors.Join(errs...)
}

// piece is how much is read at a time, bytes: a stop is heard that often.
const piece = 1 << 20

// Copy copies in to out, where out is not nil, and into all hashes, through
// buf, and returns how many bytes that were; read, where it is not nil, is told
// of each piece. Errors: those of in and out, and the cause of ctx, which is
// heard between two pieces.
func Copy(ctx context.Context, out io.Writer, in io.Reader, buf []byte, read func(n int), hashes ...hash.Hash) (int64, error) {
	var sum int64
	for {
		if ctx.Err() != nil {
			return sum, context.Cause(ctx)
		}
		n, err := in.Read(buf)
		for _, h := range hashes {
			h.Write(buf[:n])
		}
		if out != nil && n > 0 {
			if _, err := out.Write(buf[:n]); err != nil {
				return sum, err
			}
		}
		sum += int64(n)
		if read != nil {
			read(n)
		}
		if errors.Is(err, io.EOF) {
			return sum, nil
		}
		if err != nil {
			return sum, err
		}
	}
}

func syncFolder(dir string) error {
	f, err := os.Open(dir)
	if err != nil {
		return err
	}
	return errors.Join(f.Sync(), f.Close())
}
