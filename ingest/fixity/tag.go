package fixity

import (
	"errors"
	"os"
	"path/filepath"
	"strings"
	"unicode/utf16"
)

// tag is the content of a tag file.
func (c *checker) tag(name string) ([]byte, error) {
	full := filepath.Join(c.dir, filepath.FromSlash(name))
	info, err := os.Lstat(full)
	if err != nil {
		return nil, WithoutPath(err)
	}
	if !info.Mode().IsRegular() || info.Size() > maxTag {
		return nil, errors.New("not a file of a sensible size")
	}
	b, err := os.ReadFile(full)
	return b, WithoutPath(err)
}

// text is a tag file in the encoding that the bag declares.
func (c *checker) text(name string) (string, error) {
	b, err := c.tag(name)
	if err != nil {
		return "", err
	}
	switch c.code {
	case "ISO-8859-1":
		runes := make([]rune, len(b))
		for i, x := range b {
			runes[i] = rune(x)
		}
		return string(runes), nil
	case "UTF-16", "UTF-16BE", "UTF-16LE":
		little := c.code == "UTF-16LE"
		if len(b) >= 2 && b[0] == 0xff && b[1] == 0xfe {
			little, b = true, b[2:]
		} else if len(b) >= 2 && b[0] == 0xfe && b[1] == 0xff {
			little, b = false, b[2:]
		}
		units := make([]uint16, len(b)/2)
		for i := range units {
			hi, lo := b[2*i], b[2*i+1]
			if little {
				hi, lo = lo, hi
			}
			units[i] = uint16(hi)<<8 | uint16(lo)
		}
		return string(utf16.Decode(units)), nil
	}
	return string(b), nil
}

// tagLines are the lines of a tag file, ended by LF, CR or CRLF.
func tagLines(s string) []string {
	s = strings.NewReplacer("\r\n", "\n", "\r", "\n").Replace(s)
	return strings.Split(strings.TrimSuffix(s, "\n"), "\n")
}

// optional is the lines of a tag file that need not be there; none where it is
// not, or can't be read, which is a fault.
func (c *checker) optional(name string) []string {
	if _, ok := c.files[name]; !ok {
		return nil
	}
	s, err := c.text(name)
	if err != nil {
		c.fault(name, "can't be read: %v", err)
		return nil
	}
	return tagLines(s)
}
