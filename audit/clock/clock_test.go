package clock

import (
	"slices"
	"testing"
	"time"
	_ "time/tzdata" // the IANA zone database of 2026, as Go carries it
)

func wall(s string) time.Time {
	t, err := time.Parse("2006-01-02 15:04:05", s)
	if err != nil {
		panic(err)
	}
	return t
}

func oslo(t *testing.T) *time.Location {
	t.Helper()
	zone, err := time.LoadLocation("Europe/Oslo")
	if err != nil {
		t.Fatal(err)
	}
	return zone
}

func shown(s string) time.Time {
	t, err := time.Parse(time.RFC3339, s)
	if err != nil {
		panic(err)
	}
	return t
}

// Exif's offsets are written as "±HH:MM", and as blanks where unknown (Exif 2.31,
// CIPA DC-008-2016, OffsetTimeOriginal).
func TestOffset(t *testing.T) {
	for s, want := range map[string]time.Duration{"+01:00": time.Hour, "-03:30": -210 * time.Minute, "+00:00": 0, "+05:45": 345 * time.Minute} {
		if got, ok := Offset(s); !ok || got != want {
			t.Errorf("%q: %v, %v", s, got, ok)
		}
	}
	for _, s := range []string{"", "   :  ", "      ", "+1:00", "01:00", "+01:00:00", "Z", "+25:00"} {
		if got, ok := Offset(s); ok {
			t.Errorf("%q is an offset of %v", s, got)
		}
	}
}

func TestOf(t *testing.T) {
	zone := oslo(t)
	for _, c := range []struct {
		name     string
		readings []Reading
		settings []Setting
		want     []string
		by       []Source
	}{
		{"as it stands", []Reading{{Body: "a", Taken: wall("2026-03-04 10:00:00")}, {Body: "a"}}, nil,
			[]string{"2026-03-04 10:00:00", "0001-01-01 00:00:00"}, []Source{Own, None}},
		// Oslo is at +01:00 until 2026-03-29 01:00 UTC, +02:00 from then on, and
		// +01:00 again from 2026-10-25 01:00 UTC (IANA time zone database, rule EU).
		{"another zone, over both changes of the summer time", []Reading{
			{Body: "a", Taken: wall("2026-03-29 00:59:59"), Offset: "+00:00"}, {Body: "a", Taken: wall("2026-03-29 01:00:00"), Offset: "+00:00"},
			{Body: "a", Taken: wall("2026-10-25 00:59:59"), Offset: "+00:00"}, {Body: "a", Taken: wall("2026-10-25 01:00:00"), Offset: "+00:00"}}, nil,
			[]string{"2026-03-29 01:59:59", "2026-03-29 03:00:00", "2026-10-25 02:59:59", "2026-10-25 02:00:00"}, []Source{Zone, Zone, Zone, Zone}},
		{"blank offset", []Reading{{Body: "a", Taken: wall("2026-03-04 10:00:00"), Offset: "   :  "}}, nil, []string{"2026-03-04 10:00:00"}, []Source{Own}},
		{"a code, for what came before it too, and for its body alone", []Reading{
			{Body: "a", Taken: wall("2026-03-04 09:00:00")}, {Body: "a", Taken: wall("2026-03-04 09:30:00"), Shown: shown("2026-03-04T09:17:00Z")},
			{Body: "b", Taken: wall("2026-03-04 09:00:00")}}, nil,
			[]string{"2026-03-04 09:47:00", "2026-03-04 10:17:00", "2026-03-04 09:00:00"}, []Source{Code, Code, Own}},
		{"a code beside a zone", []Reading{{Body: "a", Taken: wall("2026-03-04 08:30:00"), Offset: "+00:00", Shown: shown("2026-03-04T09:30:20+01:00")},
			{Body: "a", Taken: wall("2026-03-04 09:00:00"), Offset: "+00:00"}}, nil,
			[]string{"2026-03-04 09:30:20", "2026-03-04 10:00:20"}, []Source{Code, Code}},
		{"the clock was changed between two codes, in the longest pause", []Reading{
			{Body: "a", Taken: wall("2026-03-04 09:00:00"), Shown: shown("2026-03-04T09:00:00+01:00")}, {Body: "a", Taken: wall("2026-03-04 09:10:00")},
			{Body: "a", Taken: wall("2026-03-04 12:00:00")}, {Body: "a", Taken: wall("2026-03-04 12:05:00"), Shown: shown("2026-03-04T11:05:00+01:00")}}, nil,
			[]string{"2026-03-04 09:00:00", "2026-03-04 09:10:00", "2026-03-04 11:00:00", "2026-03-04 11:05:00"}, []Source{Code, Code, Code, Code}},
		{"a minute in a day is no drift: somebody set the clock in the night", []Reading{
			{Body: "a", Taken: wall("2026-03-04 09:00:00"), Shown: shown("2026-03-04T09:00:00+01:00")}, {Body: "a", Taken: wall("2026-03-04 17:00:00")},
			{Body: "a", Taken: wall("2026-03-05 09:00:00"), Shown: shown("2026-03-05T09:01:00+01:00")}}, nil,
			[]string{"2026-03-04 09:00:00", "2026-03-04 17:00:00", "2026-03-05 09:01:00"}, []Source{Code, Code, Code}},
		{"an empty battery", []Reading{
			{Body: "a", Taken: wall("2026-03-04 09:00:00"), Shown: shown("2026-03-04T09:00:00+01:00")},
			{Body: "a", Taken: wall("2000-01-01 00:01:00"), Shown: shown("2026-03-04T14:00:00+01:00")}, {Body: "a", Taken: wall("2000-01-01 00:05:00")}}, nil,
			[]string{"2026-03-04 09:00:00", "2026-03-04 14:00:00", "2026-03-04 14:04:00"}, []Source{Code, Code, Code}},
		{"a person stands above a code, from when it was said", []Reading{
			{Body: "a", Taken: wall("2026-03-04 09:00:00"), Shown: shown("2026-03-04T09:00:09+01:00")}, {Body: "a", Taken: wall("2026-03-04 10:00:00")},
			{Body: "a", Taken: wall("2026-03-04 11:00:00")}},
			[]Setting{{Body: "a", From: wall("2026-03-04 11:00:00"), AsTold: true}, {Body: "a", From: wall("2026-03-04 09:30:00"), Shift: time.Hour}, {Body: "b", Shift: 1}},
			[]string{"2026-03-04 09:00:09", "2026-03-04 11:00:00", "2026-03-04 11:00:09"}, []Source{Code, Hand, Code}},
		{"a person says that the digits are right, whatever the zone", []Reading{{Body: "a", Taken: wall("2026-03-04 09:00:00"), Offset: "+00:00"}},
			[]Setting{{Body: "a"}}, []string{"2026-03-04 09:00:00"}, []Source{Hand}},
	} {
		told, _ := Of(c.readings, c.settings, zone)
		for i, got := range told {
			if s := got.Time.Format("2006-01-02 15:04:05"); s != c.want[i] || got.By != c.by[i] {
				t.Errorf("%s: frame %d %s by %s, want %s by %s", c.name, i, s, got.By, c.want[i], c.by[i])
			}
		}
	}
}

func TestStretches(t *testing.T) {
	readings := []Reading{
		{Body: "b", Taken: wall("2026-03-04 09:20:00")},
		{Body: "b", Taken: wall("2026-03-04 09:00:00"), Shown: shown("2026-03-04T09:47:00+01:00")},
		{Body: "b", Taken: wall("2026-03-04 09:30:00"), Shown: shown("2026-03-04T10:17:02+01:00")},
		{Body: "a", Taken: wall("2026-03-04 09:30:00")}, {Body: "a"},
	}
	_, bodies := Of(readings, nil, oslo(t))
	if len(bodies) != 2 || bodies[0].Name != "a" || bodies[0].Timeless != 1 || len(bodies[1].Stretches) != 1 {
		t.Fatalf("%+v", bodies)
	}
	s := bodies[1].Stretches[0]
	// By hand: 47:00 and 47:02 have their middle at 47:01, each 1 s off it, 2 s apart.
	if s.By != Code || s.Shift != 47*time.Minute+time.Second || s.Off != time.Second || s.Spread != 2*time.Second ||
		!slices.Equal(s.Frames, []int{1, 0, 2}) || !slices.Equal(s.Codes, []int{1, 2}) || !s.First.Equal(wall("2026-03-04 09:00:00")) || !s.Last.Equal(wall("2026-03-04 09:30:00")) {
		t.Errorf("%+v", s)
	}
}
