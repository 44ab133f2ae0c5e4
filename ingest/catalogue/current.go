package catalogue

import (
	"slices"
	"strings"
)

// Current returns the decisions of all that hold, by ID; all may be in any
// order and is not changed. An Undo takes back the earlier decision it names
// with all of its act, and an Undo of an Undo lets that stand again; an Undo of
// anything that is not earlier does nothing. Of those that were not taken back, a later one replaces
// an earlier one on the same matter:
//
//   - Assign: one a frame.
//   - Crop: one a frame and need.
//   - Clock and On: one a body and instant from which it holds.
//   - Prop: one a recipe and name, whatever its case.
//   - Variant: one a recipe and frame or instant from which it holds.
//   - Choose and Waive: one a need of a recipe, whichever came last. Only the
//     need "options N" keeps several chosen frames, until it is waived.
//
// No Undo is in the result. IDs are taken to be unique.
func Current(all []Decision) []Decision {
	all = slices.Clone(all)
	slices.SortStableFunc(all, func(a, b Decision) int { return cmpID(a.ID, b.ID) })
	undone := map[int64]bool{}
	byID, acts := map[int64]Decision{}, map[int64][]int64{}
	for _, d := range all {
		byID[d.ID] = d
		if d.Act != 0 {
			acts[d.Act] = append(acts[d.Act], d.ID)
		}
	}
	// From the last to the first, each Undo is known to stand or not before it
	// is asked: only a later one can have taken it back.
	for _, d := range slices.Backward(all) {
		if d.Kind == Undo && !undone[d.ID] && d.Undoes < d.ID {
			undone[d.Undoes] = true
			for _, id := range acts[byID[d.Undoes].Act] {
				if id < d.ID {
					undone[id] = true
				}
			}
		}
	}
	var holds []Decision
	for _, d := range all {
		if d.Kind == Undo || undone[d.ID] {
			continue
		}
		holds = slices.DeleteFunc(holds, func(earlier Decision) bool { return replaces(d, earlier) })
		holds = append(holds, d)
	}
	return holds
}

func cmpID(a, b int64) int {
	switch {
	case a < b:
		return -1
	case a > b:
		return 1
	}
	return 0
}

// replaces reports whether later is on the same matter as earlier.
func replaces(later, earlier Decision) bool {
	if later.Kind == Assign || earlier.Kind == Assign {
		return later.Kind == earlier.Kind && later.Frame == earlier.Frame
	}
	if later.Kind == Crop || earlier.Kind == Crop {
		return later.Kind == earlier.Kind && later.Frame == earlier.Frame && later.Need == earlier.Need
	}
	if later.Kind == Clock || earlier.Kind == Clock || later.Kind == On || earlier.Kind == On {
		return later.Kind == earlier.Kind && later.Body == earlier.Body && later.From.Equal(earlier.From)
	}
	if later.Kind == Prop || earlier.Kind == Prop {
		return later.Kind == earlier.Kind && later.Recipe == earlier.Recipe && strings.EqualFold(later.Name, earlier.Name)
	}
	if later.Kind == Variant || earlier.Kind == Variant {
		return later.Kind == earlier.Kind && later.Recipe == earlier.Recipe && later.Frame == earlier.Frame && later.From.Equal(earlier.From)
	}
	if later.Recipe != earlier.Recipe || later.Need != earlier.Need {
		return false
	}
	if later.Kind == Choose && earlier.Kind == Choose {
		// A choice that names no recipe speaks of its frame alone.
		return later.Frame == earlier.Frame || later.Recipe != "" && !strings.HasPrefix(later.Need, "options")
	}
	return true
}
