package main

import (
	"os"
	"strings"

	"charm.land/lipgloss/v2"
	"github.com/charmbracelet/colorprofile"
)

// hues is what colours a terminal shows well enough to judge by. The sixteen
// of old are whatever their owner set them to, and count as none.
type hues int

const (
	noHues   hues = iota // names and hex alone
	nearHues             // the nearest of 256
	allHues              // 24 bits
)

// huesOf tells what f shows, a terminal in the given environment; NO_COLOR
// with any value is none.
func huesOf(f *os.File, getenv func(string) string) hues {
	if getenv("NO_COLOR") != "" || getenv("TERM") == "dumb" {
		return noHues
	}
	var env []string
	for _, k := range []string{"TERM", "COLORTERM", "TMUX", "WT_SESSION", "GOOGLE_CLOUD_SHELL"} {
		if v := getenv(k); v != "" {
			env = append(env, k+"="+v)
		}
	}
	switch colorprofile.Detect(f, env) {
	case colorprofile.TrueColor:
		return allHues
	case colorprofile.ANSI256:
		return nearHues
	}
	return noHues
}

// paint is width columns of a colour "#rrggbb", "" where h has none.
func (h hues) paint(hex string, width int) string {
	if h == noHues || width <= 0 {
		return ""
	}
	c := lipgloss.Color(hex)
	if h == nearHues {
		c = colorprofile.ANSI256.Convert(c)
	}
	return lipgloss.NewStyle().Background(c).Render(strings.Repeat(" ", width))
}
