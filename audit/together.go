package audit

import (
	"slices"

	"coverplate/ingest/catalogue"
)

// Together returns the frames that go with a frame when a person says what it
// shows, itself first and then in capture order: those of its set, or where it
// is in none those of its body about it without a pause of Rules.SetGap that
// show no known recipe either. A frame of which a person has spoken before is
// not among them. r is what Run made of s.
func Together(s Shoot, r Report, id catalogue.FrameID) []catalogue.FrameID {
	at := slices.IndexFunc(r.Matches, func(m Match) bool { return m.Frame == id })
	if at < 0 {
		return []catalogue.FrameID{id}
	}
	frames := map[catalogue.FrameID]catalogue.Frame{}
	for i, f := range s.Frames {
		f.Taken = r.Times[i].Time
		frames[f.ID] = f
	}
	out := []catalogue.FrameID{id}
	if set := r.Roles[at].Set; set > 0 {
		for i, m := range r.Matches {
			if i != at && r.Roles[i].Set == set && !m.ByHand {
				out = append(out, m.Frame)
			}
		}
		return out
	}
	me := frames[id]
	if me.Taken.IsZero() {
		return out
	}
	var before, after []catalogue.FrameID
	walk := func(step int, into *[]catalogue.FrameID) {
		last := me
		for i := at + step; i >= 0 && i < len(r.Matches); i += step {
			m, f := r.Matches[i], frames[r.Matches[i].Frame]
			if f.Body() != me.Body() {
				continue
			}
			if m.ByHand || m.Recipe != "" || f.Taken.IsZero() || f.Taken.Sub(last.Taken).Abs() >= s.Rules.SetGap {
				return
			}
			*into = append(*into, m.Frame)
			last = f
		}
	}
	walk(-1, &before)
	walk(1, &after)
	slices.Reverse(before)
	return append(append(out, before...), after...)
}

// Along returns the frames that go with others when a person says what those
// show, in the order of Together, each once and without those themselves.
func Along(s Shoot, r Report, ids []catalogue.FrameID) []catalogue.FrameID {
	seen := map[catalogue.FrameID]bool{}
	for _, id := range ids {
		seen[id] = true
	}
	var out []catalogue.FrameID
	for _, id := range ids {
		for _, other := range Together(s, r, id) {
			if !seen[other] {
				seen[other] = true
				out = append(out, other)
			}
		}
	}
	return out
}
