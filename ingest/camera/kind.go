package camera

import (
	"path"
	"strings"

	"coverplate/ingest/catalogue"
)

// KindOf tells by its extension, case ignored, what a file of a frame is.
// What it really holds is told by its bytes, in Read.
func KindOf(name string) catalogue.FileKind {
	switch strings.ToLower(path.Ext(name)) {
	case ".jpg", ".jpeg", ".jpe", ".mpo":
		return catalogue.JPEG
	case ".heic", ".heif", ".hif":
		return catalogue.HEIC
	case ".png", ".tif", ".tiff", ".webp":
		return catalogue.Picture
	case ".3fr", ".arw", ".cr2", ".cr3", ".crw", ".dng", ".erf", ".fff", ".iiq", ".kdc", ".dcr", ".mef", ".mos", ".mrw",
		".nef", ".nrw", ".orf", ".pef", ".raf", ".raw", ".rw2", ".rwl", ".sr2", ".srf", ".srw", ".x3f":
		return catalogue.Raw
	case ".xmp":
		return catalogue.Sidecar
	case ".wav", ".m4a", ".mp3", ".aac":
		return catalogue.Memo
	case ".thm":
		return catalogue.Thumb
	}
	return catalogue.Other
}
