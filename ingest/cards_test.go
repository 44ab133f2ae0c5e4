package ingest

import (
	"errors"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"
)

func (b *bench) cards(wanted int, rehash bool, roots ...string) []CardState {
	b.Helper()
	all, err := Cards(b.Context(), b.store, b.shoot, wanted, roots, rehash)
	if err != nil {
		b.Fatal(err)
	}
	return all
}

// lacking are the files of s that stand in the way, with why.
func lacking(s CardState) string {
	var out []string
	for _, f := range s.Lacking {
		out = append(out, f.Path+": "+f.Why)
	}
	return strings.Join(out, "\n")
}

func TestACardMayBeFormatted(t *testing.T) {
	b, card, root := newBench(t), someCard(t, 3), t.TempDir()
	put(t, card, "MISC/AUTPRINT.MRK", []byte("a print order"))
	put(t, card, ".DS_Store", []byte("litter"))
	put(t, card, "DCIM/100ABCDE/._DSC_0001.JPG", []byte("what a system keeps"))
	o := Options{Second: root, disk: hurt{root: root, fault: well}}
	b.ingest(o, card)
	for _, rehash := range []bool{false, true} {
		s := b.cards(2, rehash)
		if len(s) != 1 || !s[0].Format || s[0].Files != 8 || s[0].Passed != 2 || s[0].Name != "A001" || s[0].Oldest.IsZero() || s[0].Why != "" {
			t.Errorf("rehash %v: %+v\n%s", rehash, s, lacking(s[0]))
		}
	}
	if s := b.cards(3, false, card); s[0].Format || len(s[0].Lacking) != 8 || s[0].Lacking[0].Copies != 2 {
		t.Errorf("three copies wanted: %+v", s)
	}
	// The second disk is put away: what was read back there counts, and is named.
	if err := os.Rename(root, root+"-away"); err != nil {
		t.Fatal(err)
	}
	if s := b.cards(2, false)[0]; !s.Format || !slices.Equal(s.Away, []string{root}) {
		t.Errorf("second disk away: %+v", s)
	}
	if err := os.Rename(root+"-away", root); err != nil {
		t.Fatal(err)
	}
	// The same files under another name of the card, with other times.
	other := filepath.Join(t.TempDir(), "UNTITLED")
	if err := os.CopyFS(other, os.DirFS(card)); err != nil {
		t.Fatal(err)
	}
	if s := b.cards(2, false, other)[0]; !s.Format || s.Name != "UNTITLED" {
		t.Errorf("under another name: %+v\n%s", s, lacking(s))
	}
}

func TestACardMustBeKept(t *testing.T) {
	for _, c := range []struct {
		name   string
		why    string // of the card
		file   string // that stands in the way; "" none
		saying string // of that file
		do     func(t *testing.T, b *bench, card, root string) error
	}{
		{"not mounted", "not mounted", "", "", func(_ *testing.T, _ *bench, card, _ string) error { return os.RemoveAll(card) }},
		{"an empty folder where it was", "nothing on it", "", "", func(_ *testing.T, _ *bench, card, _ string) error {
			return errors.Join(os.RemoveAll(card), os.Mkdir(card, 0o755))
		}},
		{"a picture more", "1 of 6", "DCIM/100ABCDE/DSC_0099.JPG", "not in the shoot", func(t *testing.T, _ *bench, card, _ string) error {
			put(t, card, "DCIM/100ABCDE/DSC_0099.JPG", bodyB.jpeg(t))
			return nil
		}},
		{"a clip in an odd folder", "1 of 6", "XDROOT/CLIP0001.MXF", "not in the shoot", func(t *testing.T, _ *bench, card, _ string) error {
			put(t, card, "XDROOT/CLIP0001.MXF", []byte("moving pictures"))
			return nil
		}},
		{"other content under a known name and time", "1 of 5", "DCIM/100ABCDE/DSC_0001.JPG", "not in the shoot", func(t *testing.T, _ *bench, card, _ string) error {
			content, err := os.ReadFile(filepath.Join(card, "DCIM/100ABCDE/DSC_0001.JPG"))
			content[len(content)-1] ^= 1
			put(t, card, "DCIM/100ABCDE/DSC_0001.JPG", content)
			return err
		}},
		{"the copy in the shoot is gone", "1 of 5", "DCIM/100ABCDE/DSC_0001.NEF", "gone", func(_ *testing.T, b *bench, _, _ string) error {
			return os.Remove(onDisk(b.shoot, "originals/2026-03-04/Model_A-111/DSC_0001.NEF"))
		}},
		{"the second copy is gone", "1 of 5", "DCIM/100ABCDE/DSC_0001.NEF", "gone", func(_ *testing.T, _ *bench, _, root string) error {
			return os.Remove(filepath.Join(root, "originals/2026-03-04/Model_A-111/DSC_0001.NEF"))
		}},
		{"a deleted picture in the card's bin", "1 of 6", ".Trashes/501/DSC_0077.JPG", "hidden", func(t *testing.T, _ *bench, card, _ string) error {
			put(t, card, ".Trashes/501/DSC_0077.JPG", bodyB.jpeg(t))
			return nil
		}},
		{"a link", "1 of 5", "link.jpg", "not copied", func(_ *testing.T, _ *bench, card, _ string) error {
			return os.Symlink("DCIM/100ABCDE/DSC_0001.JPG", filepath.Join(card, "link.jpg"))
		}},
	} {
		t.Run(c.name, func(t *testing.T) {
			b, card, root := newBench(t), someCard(t, 2), t.TempDir()
			b.ingest(Options{Second: root, disk: hurt{root: root, fault: well}}, card)
			if s := b.cards(2, false)[0]; !s.Format {
				t.Fatalf("at first: %+v\n%s", s, lacking(s))
			}
			if err := c.do(t, b, card, root); err != nil {
				t.Fatal(err)
			}
			s := b.cards(2, false)[0]
			if s.Format || !strings.Contains(s.Why, c.why) {
				t.Errorf("%+v", s)
			}
			if c.file == "" {
				return
			}
			if len(s.Lacking) != 1 || s.Lacking[0].Path != c.file || !strings.Contains(s.Lacking[0].Why, c.saying) {
				t.Errorf("in the way: %s", lacking(s))
			}
		})
	}
}

// One copy, or two on one device, or none because it was taken in place.
func TestTooFewCopies(t *testing.T) {
	b, card := newBench(t), someCard(t, 1)
	b.ingest(Options{}, card)
	if s := b.cards(2, false)[0]; s.Format || len(s.Lacking) != 3 || s.Lacking[0].Copies != 1 || !strings.Contains(s.Lacking[0].Why, "--second") {
		t.Errorf("one copy: %+v", s)
	}
	if s := b.cards(1, false)[0]; !s.Format {
		t.Errorf("one is enough: %+v", s)
	}
	b.ingest(Options{Second: t.TempDir()}, card) // the same disk as the shoot's
	if s := b.cards(2, false)[0]; s.Format || !strings.Contains(s.Lacking[0].Why, "another device") {
		t.Errorf("both on one device: %+v", s)
	}
	b, card = newBench(t), someCard(t, 1)
	b.ingest(Options{InPlace: true}, card)
	if s := b.cards(1, false)[0]; s.Format || !strings.Contains(s.Lacking[0].Why, "in place") {
		t.Errorf("in place: %+v", s)
	}
}
