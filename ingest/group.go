package ingest

import (
	"cmp"
	"path"
	"slices"

	"coverplate/ingest/camera"
	"coverplate/ingest/catalogue"
)

// group is the files of one stem in one folder: a frame, or files without a
// picture. Those of a frame are in the order of rank, the leading one first.
type group struct {
	files   []entry
	picture bool // the first is a picture
}

// kindOf tells by its name what a file is.
func kindOf(name string) catalogue.FileKind {
	if path.Ext(catalogue.Fold(name)) == ".amr" { // what some bodies write voice memos as
		return catalogue.Memo
	}
	return camera.KindOf(name)
}

// pictorial reports whether a file of that kind makes a frame.
func pictorial(k catalogue.FileKind) bool { return rank(k) <= rank(catalogue.Picture) }

// rank orders the files of a frame: what people can look at first leads.
func rank(k catalogue.FileKind) int {
	order := [...]catalogue.FileKind{catalogue.JPEG, catalogue.HEIC, catalogue.Raw, catalogue.Picture,
		catalogue.Thumb, catalogue.Sidecar, catalogue.Memo}
	for i, o := range order {
		if k == o {
			return i
		}
	}
	return len(order)
}

// stemOf is the name that the files of one frame share: without extension, and
// for a sidecar such as DSC_0412.NEF.xmp without that of its picture.
func stemOf(name string) string {
	ext := path.Ext(name)
	stem := name[:len(name)-len(ext)]
	if kindOf(name) == catalogue.Sidecar && pictorial(kindOf(stem)) {
		stem = stem[:len(stem)-len(path.Ext(stem))]
	}
	return stem
}

// groups puts the files of one folder and stem together, case ignored, in the
// order in which they were found. A file whose whole name another has but for
// its case is another exposure: then the case of the stem counts too. A picture
// without a byte can't lead a frame, and goes with it as an Other.
func groups(entries []entry) []group {
	type place struct {
		card         *card
		folder, stem string
	}
	gather := func(in []entry, stem func(entry) string) [][]entry {
		at := map[place]int{}
		var out [][]entry
		for _, e := range in {
			p := place{e.card, path.Dir(e.source), stem(e)}
			i, ok := at[p]
			if !ok {
				i = len(out)
				at[p] = i
				out = append(out, nil)
			}
			out[i] = append(out[i], e)
		}
		return out
	}
	var all []group
	for _, loose := range gather(entries, func(e entry) string { return catalogue.Fold(stemOf(e.name())) }) {
		if !twins(loose) {
			all = append(all, newGroup(loose))
			continue
		}
		for _, strict := range gather(loose, func(e entry) string { return stemOf(e.name()) }) {
			// What still clashes differs in the case of its extension.
			for len(strict) > 0 {
				var now, later []entry
				have := map[string]bool{}
				for _, e := range strict {
					if fold := catalogue.Fold(e.name()); have[fold] {
						later = append(later, e)
					} else {
						have[fold] = true
						now = append(now, e)
					}
				}
				all = append(all, newGroup(now))
				strict = later
			}
		}
	}
	return all
}

func twins(all []entry) bool {
	have := map[string]bool{}
	for _, e := range all {
		fold := catalogue.Fold(e.name())
		if have[fold] {
			return true
		}
		have[fold] = true
	}
	return false
}

func newGroup(files []entry) group {
	for i, e := range files {
		if pictorial(e.kind) && e.size == 0 {
			files[i].kind = catalogue.Other
		}
	}
	slices.SortStableFunc(files, func(a, b entry) int { return cmp.Compare(rank(a.kind), rank(b.kind)) })
	return group{files, pictorial(files[0].kind)}
}
