//go:build !unix

package ingest

import (
	"fmt"
	"runtime"
)

// lock refuses: without a lock that ends with the process, two ingests at once
// could not be told apart here.
func lock(string) (release func(), err error) {
	return nil, fmt.Errorf("ingest cannot lock a shoot on %s yet", runtime.GOOS)
}
