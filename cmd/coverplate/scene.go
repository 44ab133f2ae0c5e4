package main

import (
	"coverplate/audit/crop"
	"coverplate/ingest/catalogue"
)

// sceneOf is what is known of a frame when it is cut.
func sceneOf(l catalogue.Look) crop.Scene {
	s := crop.Scene{Width: l.Width, Height: l.Height}
	if m := l.Matters; m != nil {
		s.Columns, s.Rows, s.Weight, s.Part = m.Columns, m.Rows, m.Weight, m.Parts()
	}
	if f := l.Focus; f != nil {
		s.SharpColumns, s.SharpRows, s.Sharp = f.Columns, f.Rows, f.Grid
	}
	return s
}
