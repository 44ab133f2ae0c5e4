package camera

import (
	"cmp"
	"slices"
)

// maxPreviews is more than any raw carries.
const maxPreviews = 32

// addPreview notes the JPEG of size bytes at off if it is whole and its header
// can be read.
func (p *picture) addPreview(from string, off, size int64) {
	if len(p.previews) >= maxPreviews || off <= 0 || size < 4 || off >= p.src.size || size > p.src.size-off {
		return
	}
	w, h, ok := embeddedSize(p.src, off, size)
	if !ok {
		return
	}
	p.previews = append(p.previews, Preview{From: from, Offset: off, Size: size, Width: w, Height: h})
}

// addInterchange notes the JPEG that a directory points to with the pair of
// tags that Exif uses for its thumbnail.
func (p *picture) addInterchange(from string, b *block, d directory) {
	off, ok1 := d.offset(tagJPEGOffset)
	n, ok2 := d.offset(tagJPEGLength)
	if ok1 && ok2 {
		p.addPreview(from, b.base+int64(off), int64(n))
	}
}

// wholePreviews returns the previews, the largest first, each once.
func (p *picture) wholePreviews() []Preview {
	out := slices.Clone(p.previews)
	slices.SortStableFunc(out, func(a, b Preview) int {
		return cmp.Or(cmp.Compare(b.Width*b.Height, a.Width*a.Height), cmp.Compare(a.Offset, b.Offset))
	})
	return slices.CompactFunc(out, func(a, b Preview) bool { return a.Offset == b.Offset })
}
