package main

import (
	"context"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"path/filepath"
	"strings"
	"syscall"
	"time"

	"github.com/spf13/cobra"

	"coverplate/audit/delivery"
	"coverplate/ingest"
	"coverplate/ingest/catalogue"
	"coverplate/ingest/fixity"
)

// deliverOptions are the flags of deliver.
type deliverOptions struct {
	To, Spec, Since             string
	Raw, JPEG, WithGaps, AsShot bool
}

func newDeliver(at surroundings, where *string) *cobra.Command {
	var o deliverOptions
	var example bool
	cmd := &cobra.Command{
		Use:   "deliver --to DIR",
		Short: "hand over the chosen frames: named, captioned, checksummed",
		Long: `Copies the frames that people chose into a BagIt bag (RFC 8493) at DIR, which
must not be there: pictures and raws under names by a template, an XMP sidecar
beside each (IPTC Core and Extension, PLUS for releases) with caption, credit,
copyright, usage, and the print box and halves as image regions of the upright
picture; list.csv, list.xlsx, and READ-FIRST.txt with what is wanting or waived
on top. Originals are only read; copies are read back before DIR gets its name.

While something is not settled nothing is written, and the list of it is
printed; --with-gaps hands over what is chosen all the same. What the publisher
asks for stands in delivery.toml (--spec-example prints one): names, words,
pixels an inch at the printed size with bleed, colour spaces.

Place, serial numbers, names and maker's data are taken out of JPEGs; coded
pixels and colour profile stay the same bytes, and the words go into the file
too. Raw, HEIC, TIFF, PNG and WebP go out as they are and may hold them.

A later delivery goes into a new folder and says what is new, gone, renamed or
of other words since the last, which the shoot remembers in deliveries/.`,
		Example: `  coverplate deliver --spec-example > delivery.toml
  coverplate deliver --to /media/out/skerry-1
  coverplate deliver --to /media/out/skerry-2 --jpeg --with-gaps`,
		Args: usage(cobra.NoArgs, "no argument; the folder is --to DIR"),
		RunE: func(cmd *cobra.Command, _ []string) error {
			if example {
				_, err := io.WriteString(at.Stdout, specExample())
				return err
			}
			if o.To == "" {
				return misused("coverplate deliver --to /media/out/book-1", "no folder is named to deliver to")
			}
			return runDeliver(cmd.Context(), at, *where, o)
		},
	}
	f := cmd.Flags()
	f.StringVar(&o.To, "to", "", "`folder` to deliver to; it must not be there")
	f.StringVar(&o.Spec, "spec", "", "the publisher's spec, a `file` (default: delivery.toml)")
	f.BoolVar(&example, "spec-example", false, "print a spec with every key, and end")
	f.BoolVar(&o.Raw, "raw", false, "raws alone; with --jpeg both, which must be there")
	f.BoolVar(&o.JPEG, "jpeg", false, "JPEGs alone")
	f.BoolVar(&o.AsShot, "as-shot", false, "JPEGs byte for byte, with place and serial numbers")
	f.BoolVar(&o.WithGaps, "with-gaps", false, "deliver though something is not settled")
	f.StringVar(&o.Since, "since", "", "say what changed since the delivery in this `folder`")
	_ = cmd.MarkFlagDirname("to")
	_ = cmd.MarkFlagDirname("since")
	_ = cmd.MarkFlagFilename("spec", "toml")
	return cmd
}

// specOf reads the spec that a delivery goes by.
func (s shoot) specOf(o deliverOptions) (delivery.Spec, error) {
	path := o.Spec
	if path == "" {
		path = filepath.Join(s.Dir, specFile)
	}
	spec, err := readSpec(path, s.Settings)
	switch {
	case errors.Is(err, fs.ErrNotExist):
		return spec, misused("coverplate deliver --spec-example > "+specFile+" writes one to fill in", "there is no spec %s: credit, copyright and usage stand there", path)
	case errors.As(err, new(settingsError)):
		return spec, withHint(err, "mend it and run the command again; nothing was written")
	case err != nil:
		return spec, err
	}
	switch {
	case o.Raw && o.JPEG:
		spec.Take = delivery.Both
	case o.Raw:
		spec.Take = delivery.Raw
	case o.JPEG:
		spec.Take = delivery.Picture
	}
	spec.AsShot = spec.AsShot || o.AsShot
	return spec, nil
}

func runDeliver(ctx context.Context, at surroundings, where string, o deliverOptions) error {
	s, g, err := openAndGather(ctx, at, where)
	if err != nil {
		return err
	}
	dir, err := s.outside(o.To)
	if err != nil {
		return err
	}
	spec, err := s.specOf(o)
	if err != nil {
		return err
	}
	earlier, err := s.earlier(o.Since)
	if err != nil {
		return err
	}
	r, missed, err := s.auditCloser(ctx, at, &g, nil)
	if err != nil {
		return err
	}
	sayMissed(at, missed)
	d, err := delivery.Of(g.Shoot, r, spec, func(stem, ending string) string { return ingest.SafeName(fixity.Composed(stem), ending) })
	var template *delivery.TemplateError
	var names *delivery.NamesError
	switch {
	case errors.As(err, &template):
		return misused(template.Want, "nothing was written: the template %w", err)
	case errors.As(err, &names):
		return misused("change names in the spec, as in {page:03}_{recipe}_{need}_{frame}.{ext}, or the plan", "nothing was written: names\n%w", err)
	case err != nil:
		return err
	case len(d.Pieces) == 0:
		return misused("coverplate audit says what may be chosen; coverplate choose FRAME hero chooses", "nothing was written: nobody has chosen a frame that could be delivered")
	}
	if note := g.faultsNote(); note != "" {
		d.Says = append(d.Says, strings.TrimPrefix(note, "note: "))
	}
	t := newSetter(at.Stdout, termOptionsOf(at))
	if n := d.Open(); n > 0 && !o.WithGaps {
		t.put(0, 2, fmt.Sprintf("Nothing was written: %s not settled.", counted(n, "thing is", "things are")))
		sayGaps(t, d)
		t.gap()
		t.put(0, 2, fmt.Sprintf("coverplate deliver --to %s --with-gaps hands over what is chosen, %s, with this list on top.", shellWord(o.To), counted(len(d.Pieces), "file", "files")))
		if t.err != nil {
			return t.err
		}
		return errWanting
	}
	now := at.Now().In(s.Settings.Where)
	h := handover{Book: s.Settings.Book.Title, When: now, Delivery: d, AsShot: spec.AsShot, Earlier: earlier}
	parcels, err := h.parcels()
	if err != nil {
		return err
	}
	show := newCount(at)
	tags := []fixity.Tag{{Label: "External-Identifier", Value: h.Book}, {Label: "External-Description", Value: "Chosen photographs with captions and lists"}, {Label: "Bag-Software-Agent", Value: version()}}
	err = ingest.Deliver(ctx, s.Dir, dir, parcels, tags, now, show.bytes)
	show.end()
	if err != nil {
		return notDelivered(err, o.To)
	}
	kept := s.remember(dir, h)
	sayDelivered(t, o.To, h)
	if kept != nil {
		fmt.Fprintln(at.Stderr, plain("note: the shoot could not note this delivery ("+kept.Error()+"); next time name it with --since "+shellWord(o.To)))
	}
	if t.err == nil && d.Open() > 0 {
		return errWanting
	}
	return t.err
}

// outside is a folder as an absolute path; one among the originals is refused.
func (s shoot) outside(dir string) (string, error) {
	abs, err := filepath.Abs(dir)
	if err != nil {
		return "", err
	}
	if rel, err := filepath.Rel(filepath.Join(s.Dir, "originals"), abs); err == nil && filepath.IsLocal(rel) {
		return "", misused("give a folder outside of originals", "%s lies among the originals", dir)
	}
	return abs, nil
}

// notDelivered is why a bag could not be made, with the way out.
func notDelivered(err error, to string) error {
	none := fmt.Errorf("nothing was delivered: %w", err)
	switch {
	case errors.Is(err, fs.ErrExist):
		return misused("an earlier delivery is never written over: give a folder that is not there yet", "%s is there already", to)
	case errors.As(err, new(*fixity.ChangedError)), errors.Is(err, fs.ErrNotExist):
		return withHint(none, "coverplate verify reads all originals; bring those files back from a second copy")
	case errors.Is(err, syscall.ENOSPC):
		return withHint(none, "the disk is full and nothing was left on it; make room, or give a folder on another disk")
	case errors.Is(err, syscall.EROFS), errors.Is(err, fs.ErrPermission):
		return withHint(none, "nothing may be written there; give another folder")
	}
	return none
}

// handover is a delivery that is made.
type handover struct {
	Book     string
	When     time.Time // in the shoot's zone
	Delivery delivery.Delivery
	AsShot   bool
	Earlier  earlierList
}

// changes are what is otherwise than in the earlier delivery.
func (h handover) changes() []delivery.Change {
	if h.Earlier.Name == "" {
		return nil
	}
	return delivery.Changes(h.Earlier.Rows, h.Delivery.Rows())
}

// count counts frames and recipes.
func (h handover) count() (frames, recipes int) {
	f, r := map[catalogue.FrameID]bool{}, map[string]bool{}
	for _, p := range h.Delivery.Pieces {
		f[p.Frame.ID], r[p.Recipe.ID] = true, true
	}
	return len(f), len(r)
}

// cautions are what who hands it over, and who gets it, should know.
func (h handover) cautions() []string {
	out := h.Delivery.Says
	asIs, jpegs, unsaid := map[catalogue.FileKind]bool{}, false, false
	for _, p := range h.Delivery.Pieces {
		if p.File.Kind == catalogue.JPEG {
			jpegs = true
		} else {
			asIs[p.File.Kind] = true
		}
		unsaid = unsaid || p.Words.People == ""
	}
	switch {
	case jpegs && h.AsShot:
		out = append(out, "JPEGs are byte for byte as shot: they may hold the place where they were taken, serial numbers and names.")
	case jpegs:
		out = append(out, "Place, serial numbers, names and maker's data were taken out of the JPEGs, and what stood behind their picture (previews, gain maps); coded pixels and colour profile are the same bytes.")
	}
	if len(asIs) > 0 {
		out = append(out, "Raws, and pictures that are no JPEGs, are as the camera wrote them: they may hold the place where they were taken, serial numbers and names.")
	}
	if unsaid {
		out = append(out, "Of some pictures the spec says nothing of releases: hands and faces in them need the consent of the people they belong to. Look, and ask.")
	}
	return append(out, "A picture shows what it shows: look at its background for a place, a name or a paper.")
}

// sayGaps lists what is wanting or waived.
func sayGaps(t *setter, d delivery.Delivery) {
	waived := false
	for i, g := range d.Gaps {
		if g.Waived() != waived || i == 0 {
			waived = g.Waived()
			t.head(map[bool]string{false: "not settled", true: "waived"}[waived], "")
		}
		t.put(0, 4, gapLine(g))
	}
}

func gapLine(g delivery.Gap) string {
	page := ""
	if g.Pages != "" {
		page = ", page " + g.Pages
	}
	return fmt.Sprintf("%s %s%s, %s: %s: %s", g.Recipe, g.Title, page, g.Need, g.State, g.Says)
}

func sayDelivered(t *setter, to string, h handover) {
	frames, recipes := h.count()
	t.put(0, 2, fmt.Sprintf("%s of %s for %s in a bag, read back whole:", counted(len(h.Delivery.Pieces), "file", "files"), counted(frames, "frame", "frames"), counted(recipes, "recipe", "recipes")))
	t.put(2, 2, plain(filepath.ToSlash(to)))
	if n := h.Delivery.Open(); n > 0 {
		t.put(0, 2, fmt.Sprintf("%s not settled; data/READ-FIRST.txt has them on top.", counted(n, "thing is", "things are")))
	}
	if h.Earlier.Name != "" {
		all := h.changes()
		t.put(0, 2, fmt.Sprintf("Since %s: %s.", h.Earlier.Name, counted(len(all), "change", "changes")))
		const most = 20
		for _, c := range all[:min(len(all), most)] {
			t.put(2, 2, c.Kind+": "+c.Says)
		}
		if len(all) > most {
			t.put(2, 2, fmt.Sprintf("and %d more, in data/READ-FIRST.txt", len(all)-most))
		}
	}
	for _, c := range h.cautions() {
		t.put(0, 2, c)
	}
	t.put(0, 2, "coverplate verify "+plain(shellWord(to))+" checks it; so does any program for RFC 8493.")
}
