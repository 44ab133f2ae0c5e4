package main

import (
	"context"
	"fmt"
	"math"
	"strings"

	"github.com/spf13/cobra"

	"coverplate/audit"
	"coverplate/audit/angle"
	"coverplate/ingest/catalogue"
)

func newFrames(at surroundings, where *string) *cobra.Command {
	var asJSON bool
	cmd := &cobra.Command{
		Use:   "frames",
		Short: "list every frame, its facts and its recipe",
		Long: `Lists the frames of the shoot in the order they were taken: the id to call a
frame by, when, the recipe it shows with its odds, the file, what the camera
wrote, what it is likely for (hero, overhead, detail, process, test, chart,
slate, behind the scenes), and why it was given to that recipe. --json prints
all facts; what is not known is null.`,
		Example: `  coverplate frames
  coverplate frames --json | jq '.[] | select(.recipe == "R07") | .file'`,
		Args: usage(cobra.NoArgs, "no words"),
		RunE: func(cmd *cobra.Command, _ []string) error {
			return runFrames(cmd.Context(), at, *where, asJSON)
		},
	}
	cmd.Flags().BoolVar(&asJSON, "json", false, "print JSON")
	return cmd
}

// frameFacts is what frames --json says of one frame.
type frameFacts struct {
	ID     catalogue.FrameID `json:"id"`
	Files  []fileFacts       `json:"files"`
	Recipe *string           `json:"recipe"` // null: unplaced, or a person said none
	Odds   *float64          `json:"odds"`
	Why    []audit.Evidence  `json:"why"`
	ByHand bool              `json:"by_hand"`
	Studio *string           `json:"studio"` // when it was taken by the studio's clock; taken is by the body's own
	Set    *int              `json:"set"`    // its set, from 1 in the order of taking; null: in none
	Roles  []audit.RoleScore `json:"roles"`  // what it is likely for, the likeliest first
	facts
}

type fileFacts struct {
	Kind     catalogue.FileKind `json:"kind"`
	Path     string             `json:"path"`
	Size     int64              `json:"size"`
	SHA256   string             `json:"sha256"`
	Card     string             `json:"card"`
	Source   string             `json:"source"`
	Verified *string            `json:"verified"` // UTC; null: taken in place, so no copy to verify
}

func runFrames(ctx context.Context, at surroundings, where string, asJSON bool) error {
	s, g, err := openAndGather(ctx, at, where)
	if err != nil {
		return err
	}
	byID := map[catalogue.FrameID]audit.Match{}
	roles := map[catalogue.FrameID]audit.FrameRoles{}
	views := map[catalogue.FrameID]angle.Reading{}
	r := audit.Run(g.Shoot)
	studio := map[catalogue.FrameID]*string{}
	for i, f := range g.Frames {
		if at := r.Times[i].Time; !at.IsZero() {
			studio[f.ID] = written(at.Format("2006-01-02T15:04:05.999999999"))
		}
	}
	for i, m := range r.Matches {
		byID[m.Frame], roles[m.Frame], views[m.Frame] = m, r.Roles[i], r.Views[i]
	}
	all := make([]frameFacts, len(g.Frames))
	for i, f := range g.Frames {
		m := byID[f.ID]
		all[i] = frameFacts{ID: f.ID, Files: filesOf(f), Recipe: written(m.Recipe), Odds: written(m.Odds), Why: append([]audit.Evidence{}, m.Why...), ByHand: m.ByHand,
			Studio: studio[f.ID], Set: written(roles[f.ID].Set), Roles: roles[f.ID].Roles,
			facts: factsOf(f.Path(), f, views[f.ID], s.Settings.Rules.Shapes)}
	}
	if asJSON {
		return writeJSON(at.Stdout, all)
	}
	t := newSetter(at.Stdout, termOptionsOf(at))
	if len(all) == 0 {
		t.put(0, 2, "No frame is in the shoot yet. coverplate ingest brings a card in.")
	}
	for _, f := range all {
		f.put(t)
	}
	if note := g.faultsNote(); note != "" {
		fmt.Fprintln(at.Stderr, plain(note))
	}
	return t.err
}

func filesOf(f catalogue.Frame) []fileFacts {
	out := make([]fileFacts, len(f.Files))
	for i, file := range f.Files {
		out[i] = fileFacts{Kind: file.Kind, Path: file.Path, Size: file.Size, SHA256: file.SHA256, Card: file.Card, Source: file.Source}
		if !file.Verified.IsZero() {
			out[i].Verified = written(file.Verified.UTC().Format("2006-01-02T15:04:05Z"))
		}
	}
	return out
}

// put sets a frame as two lines or three: which and what, the camera's facts,
// and why it was given to its recipe.
func (f frameFacts) put(t *setter) {
	taken := "time not written   "
	if f.Taken != nil {
		taken = strings.Replace((*f.Studio + "         ")[:19], "T", " ", 1)
	}
	match := "unplaced"
	switch {
	case f.Recipe != nil && f.ByHand:
		match = *f.Recipe + " by hand"
	case f.Recipe != nil:
		match = *f.Recipe + " " + audit.Sure(*f.Odds)
	case f.ByHand:
		match = "none, by hand"
	}
	lead := fmt.Sprintf("%s  %s  %-13s  ", f.ID[:min(shortID, len(f.ID))], taken, plain(match))
	t.put(0, 2, lead+cutLeft(plain(f.File), max(t.width-len([]rune(lead))-2, 16)))
	facts := []string{}
	if f.Taken != nil && *f.Studio != *f.Taken {
		facts = append(facts, "by its own clock "+strings.Replace(*f.Taken, "T", " ", 1))
	}
	for _, s := range []string{sayNumber("", f.Focal, " mm"), sayNumber("f/", f.FNumber, ""), shutter(f.Seconds), sayNumber("ISO ", f.ISO, "")} {
		if s != "" {
			facts = append(facts, s)
		}
	}
	if f.Width != nil && f.Height != nil {
		facts = append(facts, fmt.Sprintf("%d × %d", *f.Width, *f.Height))
	}
	seen := "angle " + string(f.Angle.Class)
	if f.Angle.Elevation != nil && f.Angle.PlusMinus != nil {
		seen += fmt.Sprintf(" (%.0f° ± %.0f)", *f.Angle.Elevation, math.Ceil(*f.Angle.PlusMinus))
	}
	facts = append(facts, seen)
	if f.Focus != nil {
		facts = append(facts, fmt.Sprintf("focus %.2f", f.Focus.Score))
	}
	if f.Rating != nil {
		facts = append(facts, "rated "+shortNumber(*f.Rating))
	}
	t.put(shortID+2, 2, strings.Join(facts, ", "))
	if len(f.Roles) > 0 && (f.Roles[0].Sure || f.Roles[0].Score >= 0.5) {
		t.put(shortID+2, 2, roleSays(f.Roles[0]))
	}
	if f.Error != nil {
		t.put(shortID+2, 2, "unread: "+*f.Error)
	}
	var why []string
	for _, e := range f.Why {
		why = append(why, e.Says)
	}
	if len(why) > 0 {
		t.put(shortID+2, 2, strings.Join(why, "; "))
	}
}

// roleSays tells what a frame is likely for, and why.
func roleSays(r audit.RoleScore) string {
	says := "likely " + string(r.Role)
	if r.Sure {
		says = string(r.Role)
	}
	var why []string
	for _, e := range r.Why {
		if e.Weight > 0 {
			why = append(why, e.Says)
		}
	}
	return says + ": " + strings.Join(why, ", ")
}
