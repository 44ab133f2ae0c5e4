package main

import (
	"bytes"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path"
	"path/filepath"
	"strings"

	"coverplate/audit/crop"
	"coverplate/audit/delivery"
	"coverplate/audit/plansheet"
	"coverplate/ingest"
	"coverplate/ingest/xmp"
)

// What stands in a delivery's folder of data.
const (
	deliveredPictures = "pictures"
	deliveredList     = "list.csv"
	deliveredBook     = "list.xlsx"
	deliveredFirst    = "READ-FIRST.txt"
)

// rememberedIn is the shoot's folder of the lists of its deliveries.
const rememberedIn = "deliveries"

// earlierList is the list of an earlier delivery.
type earlierList struct {
	Name string // "" there is none
	Rows [][]string
}

// earlier finds the delivery that changes are told from: the one in the folder
// since, else the last that the shoot remembers.
func (s shoot) earlier(since string) (earlierList, error) {
	name, file := since, ""
	if since != "" {
		file = filepath.Join(since, "data", deliveredList)
	} else {
		all, err := s.remembered()
		if err != nil || len(all) == 0 {
			return earlierList{}, err
		}
		last := all[len(all)-1]
		name, file = strings.TrimSuffix(last, ".csv"), filepath.Join(s.Dir, rememberedIn, last)
	}
	f, err := os.Open(file)
	if err != nil {
		return earlierList{}, misused("give the folder of a delivery that coverplate made, or leave --since out", "the list of the earlier delivery can't be read: %w", err)
	}
	defer f.Close()
	head, rows, err := plansheet.ReadList(f)
	if err == nil && strings.Join(head, ",") != strings.Join(delivery.Columns(), ",") {
		err = errors.New("its columns are others")
	}
	if err != nil {
		return earlierList{}, misused("name another with --since, or move that list away", "%s is no list of a delivery: %w", file, err)
	}
	return earlierList{filepath.ToSlash(name), rows}, nil
}

// remembered are the names of the lists of earlier deliveries, the first first.
func (s shoot) remembered() ([]string, error) {
	entries, err := os.ReadDir(filepath.Join(s.Dir, rememberedIn))
	if errors.Is(err, fs.ErrNotExist) {
		return nil, nil
	}
	var all []string
	for _, e := range entries { // they come by name
		if ok, _ := filepath.Match("[0-9][0-9][0-9]*-*.csv", e.Name()); ok {
			all = append(all, e.Name())
		}
	}
	return all, err
}

// remember keeps the list of a delivery with the shoot, under a new number.
func (s shoot) remember(dir string, h handover) error {
	list, err := h.list()
	if err != nil {
		return err
	}
	all, err := s.remembered()
	if err != nil {
		return err
	}
	n := 0
	if len(all) > 0 {
		if _, err := fmt.Sscanf(all[len(all)-1], "%d-", &n); err != nil {
			return err
		}
	}
	folder := filepath.Join(s.Dir, rememberedIn)
	if err := os.MkdirAll(folder, 0o777); err != nil {
		return err
	}
	f, err := os.CreateTemp(folder, ".coverplate-*")
	if err != nil {
		return err
	}
	defer os.Remove(f.Name()) // gone already where all went well
	_, err = f.Write(list)
	if err = errors.Join(err, f.Sync(), f.Chmod(0o644), f.Close()); err != nil {
		return err
	}
	return os.Rename(f.Name(), filepath.Join(folder, ingest.SafeName(fmt.Sprintf("%03d-%s", n+1, filepath.Base(dir)), ".csv")))
}

// parcels are all files of a delivery.
func (h handover) parcels() ([]ingest.Parcel, error) {
	list, err := h.list()
	if err != nil {
		return nil, err
	}
	workbook, err := h.workbook()
	if err != nil {
		return nil, err
	}
	out := []ingest.Parcel{{Name: deliveredFirst, Content: h.first()}, {Name: deliveredList, Content: list}, {Name: deliveredBook, Content: workbook}}
	sidecars := map[string]bool{}
	for _, p := range h.Delivery.Pieces {
		words := xmp.Packet(wordsOf(p))
		out = append(out, ingest.Parcel{Name: path.Join(deliveredPictures, p.Name), File: p.File, Bare: !p.AsIs, Words: words})
		if !sidecars[p.Sidecar] {
			sidecars[p.Sidecar] = true
			out = append(out, ingest.Parcel{Name: path.Join(deliveredPictures, p.Sidecar), Content: words})
		}
	}
	return out, nil
}

// wordsOf is what a sidecar says of a piece.
func wordsOf(p delivery.Piece) xmp.Words {
	w := p.Words
	out := xmp.Words{Title: p.Recipe.Title, Description: w.Caption, Headline: w.Headline, Keywords: w.Keywords, Creator: w.Creator, Credit: w.Credit,
		Source: w.Source, Rights: w.Copyright, UsageTerms: w.Usage, WebStatement: w.Statement, Instructions: w.Instructions, Job: w.Job,
		Created: p.Frame.Taken, Offset: p.Frame.Offset, People: xmp.Release(w.People), Property: xmp.Release(w.Property),
		PeopleReleases: w.PeopleReleases, PropertyReleases: w.PropertyReleases, Agent: "coverplate"}
	wide, high := float64(p.Frame.Look.Width), float64(p.Frame.Look.Height)
	for _, c := range p.Cuts {
		if wide <= 0 || high <= 0 || c.Rect.Width <= 0 || c.For != "print" && c.Works == crop.No {
			continue
		}
		r := xmp.Region{ID: "print", Name: "print box with bleed", X: float64(c.Rect.X) / wide, Y: float64(c.Rect.Y) / high,
			Width: float64(c.Rect.Width) / wide, Height: float64(c.Rect.Height) / high}
		if c.For != "print" {
			r.ID, r.Name = strings.TrimSuffix("half-"+strings.ReplaceAll(c.For, ":", "x"), "-"), strings.TrimSpace("half "+c.For)
		}
		out.Regions = append(out.Regions, r)
	}
	return out
}

// list is list.csv.
func (h handover) list() ([]byte, error) {
	var b bytes.Buffer
	err := plansheet.WriteList(&b, plansheet.Table{Head: delivery.Columns(), Rows: h.Delivery.Rows()})
	return b.Bytes(), err
}

// workbook is list.xlsx: what is wanting, the files, what changed.
func (h handover) workbook() ([]byte, error) {
	tables := []plansheet.Table{{Name: "wanting and waived", Head: []string{"state", "recipe", "title", "pages", "need", "says"}}, {Name: "files", Head: delivery.Columns()}}
	for _, g := range h.Delivery.Gaps {
		tables[0].Rows = append(tables[0].Rows, []string{g.State, g.Recipe, g.Title, g.Pages, g.Need, g.Says})
	}
	for _, r := range h.Delivery.Rows() {
		if r[0] == delivery.Delivered {
			tables[1].Rows = append(tables[1].Rows, r)
		}
	}
	if h.Earlier.Name != "" {
		changed := plansheet.Table{Name: "changed", Head: []string{"what", "says"}}
		for _, c := range h.changes() {
			changed.Rows = append(changed.Rows, []string{c.Kind, c.Says})
		}
		tables = append(tables, changed)
	}
	var b bytes.Buffer
	err := plansheet.WriteWorkbook(&b, tables)
	return b.Bytes(), err
}

// first is READ-FIRST.txt.
func (h handover) first() []byte {
	var b bytes.Buffer
	t := newSetter(&b, termOptions{Width: 80})
	frames, recipes := h.count()
	t.put(0, 2, fmt.Sprintf("%s: %s of %s for %s, delivered on %s.", h.Book, counted(len(h.Delivery.Pieces), "file", "files"), counted(frames, "frame", "frames"),
		counted(recipes, "recipe", "recipes"), h.When.Format("2006-01-02")))
	if h.Delivery.Open() == 0 {
		t.put(0, 2, "Everything that the plan asks for is settled or waived.")
	}
	sayGaps(t, h.Delivery)
	if h.Earlier.Name != "" {
		t.head("changed", "since "+lastName(h.Earlier.Name))
		all := h.changes()
		for _, c := range all {
			t.put(0, 4, c.Kind+": "+c.Says)
		}
		if len(all) == 0 {
			t.put(0, 4, "Nothing.")
		}
	}
	t.head("to know", "")
	for _, c := range h.cautions() {
		t.put(0, 2, c)
	}
	t.head("what lies here", "")
	for _, l := range []string{
		deliveredPictures + "/: the files, and beside each an XMP sidecar with its words; regions in it are shares of the upright picture",
		deliveredList + " and " + deliveredBook + ": every file with its words, the original's name and checksum, print box and halves in pixels of the upright original",
		"the folder above is a BagIt bag (RFC 8493): its manifests hold the checksum of every file; sha256sum -c manifest-sha256.txt there reads them",
	} {
		t.put(0, 2, l)
	}
	return b.Bytes()
}
