package ingest

import (
	"context"

	"coverplate/ingest/catalogue"
)

// Run takes all that is on the sources into the shoot.
func Run(ctx context.Context, store *catalogue.Store, o Options, report func(Event)) (Summary, error) {
	panic("not yet")
}

// Measure returns the facts and the look of one loose picture; nothing is stored.
func Measure(path string) (catalogue.Frame, error) { panic("not yet") }
