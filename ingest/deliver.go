package ingest

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"path/filepath"
	"time"

	"coverplate/ingest/camera"
	"coverplate/ingest/catalogue"
	"coverplate/ingest/fixity"
)

// Parcel is a file that leaves the shoot, or one that is written for it.
type Parcel struct {
	Name string // below the bag's data folder, with forward slashes

	// File is the original. Where Bare is true and it is a JPEG, the copy is
	// camera.Bared with the packet Words; any other goes out byte for byte.
	File  catalogue.File
	Bare  bool
	Words []byte

	Content []byte // instead of File, where File.Path is ""
}

// Deliver copies parcels into a BagIt bag at dir, which must not be there:
// fixity.WriteBag. Every original is read whole and held against the
// catalogue; a JPEG that was bared is read again, and must show the same
// picture upright and hold no serial number. Errors: those of WriteBag.
func Deliver(ctx context.Context, shoot, dir string, parcels []Parcel, tags []fixity.Tag, when time.Time, read func(int)) error {
	shoot, err := filepath.Abs(shoot)
	if err != nil {
		return err
	}
	var items []fixity.Item
	for _, p := range parcels {
		if p.File.Path == "" {
			items = append(items, fixity.Item{Path: p.Name, Content: p.Content})
			continue
		}
		it := fixity.Item{From: onDisk(shoot, p.File.Path), Path: p.Name, Sum: p.File.SHA256}
		if p.Bare && p.File.Kind == catalogue.JPEG {
			it.Edit = func(b []byte) ([]byte, error) { return bared(b, p.Words) }
		}
		items = append(items, it)
	}
	return fixity.WriteBag(ctx, dir, items, tags, when, read)
}

// bared is camera.Bared, read again.
func bared(b, words []byte) ([]byte, error) {
	out, err := camera.Bared(b, words)
	if err != nil {
		return nil, err
	}
	was, err := camera.Read(bytes.NewReader(b), int64(len(b)), catalogue.JPEG)
	if err != nil {
		return nil, err
	}
	is, err := camera.Read(bytes.NewReader(out), int64(len(out)), catalogue.JPEG)
	switch {
	case err != nil:
		return nil, fmt.Errorf("the copy was read again: %w", err)
	case was.Width != is.Width || was.Height != is.Height || max(was.Orientation, 1) != max(is.Orientation, 1) || was.ColourSpace != is.ColourSpace:
		return nil, errors.New("its size, orientation or colours would not survive without the camera's data: deliver it as shot")
	case is.Camera.Serial != "":
		return nil, errors.New("its serial number could not be taken out: deliver it as shot, or leave it out")
	}
	return out, nil
}

// SafeName is stem+ending as every usual system can hold it; the stem gives way
// where the whole would be too long. What a system reserves, or can't hold,
// becomes "_".
func SafeName(stem, ending string) string { return suffixed(stem, ending, "") }
