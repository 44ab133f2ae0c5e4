// Package fixity tells whether files are what they were: lists of checksums as
// GNU coreutils write and read them, and BagIt bags (RFC 8493). It reads what
// it checks and changes nothing; what it writes has its final name only once it
// was read back whole.
package fixity

import (
	"bufio"
	"bytes"
	"crypto/md5"
	"crypto/sha1"
	"crypto/sha256"
	"crypto/sha512"
	"encoding/hex"
	"fmt"
	"hash"
	"io"
	"strings"
)

// Listed is a file that a list vouches for.
type Listed struct {
	Sum  string // hexadecimal, lower case
	Path string // as the list names it, below its folder, with forward slashes
}

// Line writes one line as sha256sum of GNU coreutils does: a name that holds a
// backslash, line feed or carriage return has them escaped, and the line then
// begins with a backslash. No other character is special.
func Line(w io.Writer, l Listed) error {
	escaped := strings.NewReplacer(`\`, `\\`, "\n", `\n`, "\r", `\r`).Replace(l.Path)
	mark := ""
	if escaped != l.Path {
		mark = `\`
	}
	_, err := fmt.Fprintf(w, "%s%s  %s\n", mark, l.Sum, escaped)
	return err
}

// maxLine is the longest line that is read, bytes: a path of 4096 with every
// byte escaped, and its checksum.
const maxLine = 16 << 10

// FormatError is a line of a list or a tag file that can't be understood.
type FormatError struct {
	File string
	Line int // from 1; 0 of the file as a whole
	Says string
}

func (e *FormatError) Error() string {
	if e.Line == 0 {
		return fmt.Sprintf("%s: %s", e.File, e.Says)
	}
	return fmt.Sprintf("%s:%d: %s", e.File, e.Line, e.Says)
}

// ParseList reads a list of checksums of size bytes each as coreutils 9.1 does:
// two characters between sum and name, of which the second may be an asterisk,
// an escaped line begins with a backslash, lines that begin with # are
// comments. Lines that can't be understood are faults and the others go on. name
// is what faults call the list.
func ParseList(r io.Reader, name string, size int) (all []Listed, faults []error) {
	in := bufio.NewScanner(r)
	in.Buffer(nil, maxLine)
	n := 0
	for in.Scan() {
		n++
		line := bytes.TrimSuffix(in.Bytes(), []byte("\r"))
		if len(line) == 0 || line[0] == '#' {
			continue
		}
		l, err := parseLine(string(line), size)
		if err != nil {
			faults = append(faults, &FormatError{name, n, err.Error()})
			continue
		}
		all = append(all, l)
	}
	if err := in.Err(); err != nil {
		faults = append(faults, &FormatError{name, n + 1, "the line is too long or can't be read: " + err.Error()})
	}
	return all, faults
}

func parseLine(line string, size int) (Listed, error) {
	rest, escaped := strings.CutPrefix(line, `\`)
	if len(rest) < 2*size+3 {
		return Listed{}, fmt.Errorf("no checksum of %d hexadecimal digits, two spaces and a name", 2*size)
	}
	sum, err := hex.DecodeString(rest[:2*size])
	if err != nil {
		return Listed{}, fmt.Errorf("no checksum of %d hexadecimal digits", 2*size)
	}
	gap, path := rest[2*size:2*size+2], rest[2*size+2:]
	if gap != "  " && gap != " *" {
		return Listed{}, fmt.Errorf("no two spaces behind the checksum")
	}
	if escaped {
		if path, err = unescape(path); err != nil {
			return Listed{}, err
		}
	}
	return Listed{hex.EncodeToString(sum), path}, nil
}

// unescape undoes what Line does to a name.
func unescape(s string) (string, error) {
	var b strings.Builder
	for i := 0; i < len(s); i++ {
		if s[i] != '\\' {
			b.WriteByte(s[i])
			continue
		}
		i++
		switch {
		case i < len(s) && s[i] == '\\':
			b.WriteByte('\\')
		case i < len(s) && s[i] == 'n':
			b.WriteByte('\n')
		case i < len(s) && s[i] == 'r':
			b.WriteByte('\r')
		default:
			return "", fmt.Errorf("a backslash in the name that stands for nothing")
		}
	}
	return b.String(), nil
}

// algorithms are those that a manifest may be of, by the name in its file name
// (RFC 8493, 2.4), and how to make each.
func algorithm(name string) (func() hash.Hash, bool) {
	switch name {
	case "md5":
		return md5.New, true
	case "sha1":
		return sha1.New, true
	case "sha224":
		return sha256.New224, true
	case "sha256":
		return sha256.New, true
	case "sha384":
		return sha512.New384, true
	case "sha512":
		return sha512.New, true
	}
	return nil, false
}
