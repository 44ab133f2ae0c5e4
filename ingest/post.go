package ingest

import (
	"bytes"
	"errors"
	"fmt"
	"io"
	"path/filepath"
	"reflect"

	"coverplate/ingest/camera"
	"coverplate/ingest/catalogue"
	"coverplate/ingest/look"
)

// Post cuts a frame of the shoot to a post, from the first of its files that
// has pixels of the full size: look.Post. Originals are only read.
func Post(shoot string, f catalogue.Frame, cut look.Cut) ([]byte, error) {
	shoot, err := filepath.Abs(shoot)
	if err != nil {
		return nil, fmt.Errorf("cut a post: %w", err)
	}
	var faults []error
	for _, file := range (taker{shoot: shoot}).locatedOf(f) {
		if !pictorial(file.kind) {
			continue
		}
		shot, err := readShot(file)
		var post []byte
		if err == nil {
			err = guarded(file.path, func(r io.ReaderAt, size int64) error {
				post, err = look.Post(r, size, file.kind, shot, cut)
				return err
			})
		}
		if err == nil {
			return post, nil
		}
		faults = append(faults, fmt.Errorf("%s: %w", file.name, err))
	}
	if len(faults) == 0 {
		return nil, errors.New("no file of it is a picture")
	}
	return nil, errors.Join(faults...)
}

// Bare tells whether a JPEG holds nothing of the camera that took it, as
// camera.Read reads it: no time, body, lens, place or profile.
func Bare(b []byte) error {
	shot, err := camera.Read(bytes.NewReader(b), int64(len(b)), catalogue.JPEG)
	if err != nil {
		return fmt.Errorf("read the post again: %w", err)
	}
	plain := camera.Shot{Width: shot.Width, Height: shot.Height, Orientation: shot.Orientation}
	if shot.Orientation > 1 || !reflect.DeepEqual(shot, plain) {
		return errors.New("the post holds facts of its camera; it was not kept")
	}
	return nil
}
