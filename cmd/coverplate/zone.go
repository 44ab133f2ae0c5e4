package main

import (
	"fmt"
	"os"
	"strings"
	"time"
)

// zoneNamed is the zone of an IANA name. "" and "Local" are names to Go that
// mean another place on another machine, so they are refused.
func zoneNamed(name string) (*time.Location, error) {
	if name == "" || name == "Local" {
		return nil, fmt.Errorf("%q is no time zone", name)
	}
	loc, err := time.LoadLocation(name)
	if err != nil {
		return nil, fmt.Errorf("%q is no time zone", name)
	}
	return loc, nil
}

// systemZone is the zone the machine is set to, by its IANA name; "" where
// the machine does not say.
func systemZone() string {
	named := []string{strings.TrimPrefix(os.Getenv("TZ"), ":")}
	if target, err := os.Readlink("/etc/localtime"); err == nil {
		if _, name, ok := strings.Cut(target, "zoneinfo/"); ok {
			named = append(named, name)
		}
	}
	if b, err := os.ReadFile("/etc/timezone"); err == nil {
		named = append(named, strings.TrimSpace(string(b)))
	}
	for _, n := range named {
		if _, err := zoneNamed(n); err == nil {
			return n
		}
	}
	return ""
}
