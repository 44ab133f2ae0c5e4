package sheet

import (
	"fmt"
	"strings"
	"testing"
)

func TestDayKeepsADishOnOnePage(t *testing.T) {
	list := DayList{Title: "Skerry Table: Wednesday", Says: "33 of 74 recipes covered.", Foot: []string{"Ladders are held."},
		Groups: []DayGroup{{Head: "OVER"}, {Head: "TO SHOOT"}}}
	for i := range 14 {
		list.Groups[1].Dishes = append(list.Groups[1].Dishes, DayDish{Name: fmt.Sprintf("R%02d Plums with thyme", i), Says: []string{"full, portrait", fmt.Sprintf("last line of R%02d", i)},
			Needs: []DayNeed{{"hero", ""}, {"overhead, shoot again", strings.Repeat("it looks down at 58° ", 9)}, {fmt.Sprintf("half of R%02d", i), ""}}})
	}
	for _, size := range []Size{A4, Letter} {
		s, err := Day(size, made, list)
		if err != nil {
			t.Fatal(err)
		}
		b, err := s.Bytes()
		if err != nil {
			t.Fatal(err)
		}
		text := textOf(t, b)
		pages := strings.Split(strings.TrimRight(text, "\f\n"), "\f")
		if len(pages) < 3 {
			t.Errorf("%s: %d pages", size.Name, len(pages))
		}
		for i := range 14 {
			on := 0
			for _, p := range pages {
				name, line, need := strings.Contains(p, fmt.Sprintf("R%02d Plums", i)), strings.Contains(p, fmt.Sprintf("last line of R%02d", i)), strings.Contains(p, fmt.Sprintf("half of R%02d", i))
				if name != line || name != need {
					t.Errorf("%s: R%02d is parted: %v %v %v", size.Name, i, name, line, need)
				}
				if name {
					on++
				}
			}
			if on != 1 {
				t.Errorf("%s: R%02d stands on %d pages", size.Name, i, on)
			}
		}
		if strings.Contains(text, "OVER") || !strings.Contains(text, "Ladders are held") || !strings.Contains(pages[1], "Skerry Table: Wednesday") {
			t.Errorf("%s: an empty group has no heading, what is at the foot is there, each page has its title: %s", size.Name, text)
		}
	}
	// A note as long as a page is cut, and the dish stays on its page.
	long := DayList{Title: "t", Groups: []DayGroup{{Head: "h", Dishes: []DayDish{{Name: "n", Says: []string{strings.Repeat("stains cover the cloth ", 400)}, Needs: []DayNeed{{"hero", ""}}}}}}}
	s, err := Day(A4, made, long)
	if err != nil {
		t.Fatal(err)
	}
	b, err := s.Bytes()
	if err != nil {
		t.Fatal(err)
	}
	if text := textOf(t, b); strings.Count(text, "\f") != 1 || !strings.Contains(text, "…") {
		t.Errorf("a long note: %q", text)
	}
}
