package main

import (
	"encoding/json"
	"os"
	"path/filepath"
	"time"

	"coverplate/ingest"
)

// underwayFile tells other processes how far an ingest is that is at work in
// the shoot. It is a courtesy: nothing rests on it.
const underwayFile = ".underway.json"

// How often it is written, and how long it is believed.
const (
	underwayEvery = 400 * time.Millisecond
	underwayOld   = 5 * time.Second
)

type underway struct {
	Says string    `json:"says"`
	At   time.Time `json:"at"`
}

// noting has other processes told of an ingest beside hear; end says that it is
// over.
func (s shoot) noting(hear func(ingest.Event)) (both func(ingest.Event), end func()) {
	path := filepath.Join(s.Dir, underwayFile)
	began := time.Now()
	var last time.Time
	both = func(e ingest.Event) {
		hear(e)
		if now := time.Now(); now.Sub(last) >= underwayEvery {
			last = now
			if b, err := json.Marshal(underway{"Ingest: " + progressSays(e, now.Sub(began)), now}); err == nil {
				if part := path + ".part"; os.WriteFile(part, b, 0o644) == nil {
					os.Rename(part, path)
				}
			}
		}
	}
	return both, func() { os.Remove(path) }
}

// underway is what an ingest last said of itself; "" where none is at work.
func (s shoot) underway() string {
	b, err := os.ReadFile(filepath.Join(s.Dir, underwayFile))
	var u underway
	if err != nil || json.Unmarshal(b, &u) != nil || time.Since(u.At) > underwayOld {
		return ""
	}
	return u.Says
}
