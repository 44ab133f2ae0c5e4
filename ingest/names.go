package ingest

import (
	"path"
	"strings"
	"time"
	"unicode/utf8"

	"coverplate/ingest/catalogue"
)

// Folders of a shoot.
const (
	originals = "originals"
	previews  = "previews"
	incoming  = ".incoming" // in each: what is not yet whole; emptied by the next run
)

// folderOf is the folder of a frame's files below the shoot's:
// originals/2026-03-04/MODEL-SERIAL. A day ends so long after midnight.
func folderOf(f catalogue.Frame, dayEnds time.Duration) string {
	day := "undated"
	if !f.Taken.IsZero() {
		day = f.Taken.Add(-dayEnds).Format("2006-01-02")
	}
	body := f.Camera.Model
	if body == "" {
		body = f.Camera.Make
	}
	if body == "" {
		body = "camera"
	}
	if f.Camera.Serial != "" {
		body += "-" + f.Camera.Serial
	}
	body = strings.ReplaceAll(strings.TrimSpace(body), " ", "_")
	return path.Join(originals, day, safeName(cut(body, 100)))
}

// otherPath is where a file of no frame is kept below the shoot's folder: the
// folders of the card stay, since clips need those around them.
func otherPath(e entry) string {
	parts := []string{originals, "other", safeName(strings.ReplaceAll(e.card.name, "/", "-"))}
	for _, p := range strings.Split(e.source, "/") {
		parts = append(parts, safeName(p))
	}
	return path.Join(parts...)
}

// maxName is the length in bytes of the longest file name of the usual disks.
const maxName = 255

// safeName is name as every usual system can hold it: what is no UTF-8, a
// control character, reserved, or a separator somewhere becomes "_". The
// catalogue keeps the true name. The reserved names are those of Microsoft's
// "Naming Files, Paths, and Namespaces", from memory.
func safeName(name string) string {
	var b strings.Builder
	for i := 0; i < len(name); {
		r, n := utf8.DecodeRuneInString(name[i:])
		bad := r == utf8.RuneError && n == 1 || r < 0x20 || 0x7f <= r && r < 0xa0 || r == 0x2028 || r == 0x2029 ||
			strings.ContainsRune(`<>:"/\|?*`, r)
		if bad {
			b.WriteByte('_')
		} else {
			b.WriteString(name[i : i+n])
		}
		i += n
	}
	s := b.String()
	if s == "" {
		return "_"
	}
	if s[0] == '.' { // would be hidden, and passed over as litter
		s = "_" + s[1:]
	}
	if stem, _, _ := strings.Cut(strings.ToUpper(s), "."); reserved(stem) {
		s = "_" + s
	}
	s = cut(s, maxName)
	trimmed := strings.TrimRight(s, ". ") // after the cut, which may end on one
	return trimmed + strings.Repeat("_", len(s)-len(trimmed))
}

func reserved(stem string) bool {
	stem = strings.TrimRight(stem, " ")
	switch stem {
	case "CON", "PRN", "AUX", "NUL", "CONIN$", "CONOUT$":
		return true
	}
	number, ok := strings.CutPrefix(stem, "COM")
	if !ok {
		number, ok = strings.CutPrefix(stem, "LPT")
	}
	return ok && utf8.RuneCountInString(number) == 1 && strings.Contains("0123456789¹²³", number)
}

// suffixed is the safe name of stem+rest with "-suffix" after the stem; the
// stem gives way where the whole would be too long.
func suffixed(stem, rest, suffix string) string {
	if suffix != "" {
		rest = "-" + suffix + rest
	}
	return safeName(shorten(stem, rest, maxName))
}

// shorten is stem+rest with the stem cut so that at most limit bytes are left;
// of a rest that leaves no room for a stem, the end stays.
func shorten(stem, rest string, limit int) string {
	if len(stem)+len(rest) <= limit {
		return stem + rest
	}
	if len(rest) >= limit {
		rest = rest[len(rest)-limit+1:]
		for len(rest) > 0 && !utf8.RuneStart(rest[0]) {
			rest = rest[1:]
		}
	}
	return cut(stem, limit-len(rest)) + rest
}

// cut is the longest beginning of s of at most n bytes that splits no rune.
func cut(s string, n int) string {
	if len(s) <= n {
		return s
	}
	for n > 0 && !utf8.RuneStart(s[n]) {
		n--
	}
	return s[:n]
}
