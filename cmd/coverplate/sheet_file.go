package main

import (
	"errors"
	"io/fs"
	"os"
	"path/filepath"
	"strings"

	"github.com/spf13/pflag"
)

// sheetFile is the PDF that a sheet is written to. One rule holds for all of
// them: a PDF that is there already, which somebody may have written notes on,
// is replaced only where that was said; any other file never.
type sheetFile struct {
	To      string
	Replace bool
}

// add adds the flags; to is the file where none is named, "" where that is told
// in says.
func (f *sheetFile) add(flags *pflag.FlagSet, to, says string) {
	flags.StringVar(&f.To, "to", to, says)
	flags.BoolVar(&f.Replace, "replace", false, "replace the PDF that is there")
}

// ready tells whether the file may be written.
func (f sheetFile) ready() error {
	if strings.ToLower(filepath.Ext(f.To)) != ".pdf" {
		return misused("give a name that ends in .pdf", "%s is no name of a PDF", f.To)
	}
	old, err := os.ReadFile(f.To)
	switch {
	case errors.Is(err, fs.ErrNotExist):
		return nil
	case err != nil:
		return err
	case !strings.HasPrefix(string(old), "%PDF-"):
		return misused("give another name with --to", "%s is there already and is no PDF: it is kept", f.To)
	case !f.Replace:
		return f.taken()
	}
	return nil
}

func (f sheetFile) taken() error {
	return misused("--replace replaces it; --to gives another name", "%s is there already and is kept", f.To)
}

// write writes the sheet whole or not at all, under the rule once more: the file
// may have come since.
func (f sheetFile) write(b []byte) error {
	if err := f.ready(); err != nil {
		return err
	}
	if f.Replace {
		return writeOver(f.To, b)
	}
	err := writeBeside(f.To, b)
	if errors.Is(err, fs.ErrExist) {
		return f.taken()
	}
	return err
}
