package rehearsal

// forgotten is the dish whose slate nobody thought of.
const forgotten = "R04"

// A slate lies on the near side of the table, clear of the dish.
const (
	slateX, slateY = 10.0, -270.0 // mm, its middle
	slateTurn      = -7.0         // degrees
	slateWidth     = 105.0        // mm, A6
	slateHeight    = 148.0
	slateCode      = 68.0  // mm, with the quiet zone
	slateCodeAt    = -32.0 // mm, of the code's middle, below the card's
)

// slateShots are the presses of the button before a dish: one a body that
// shoots it.
func slateShots(d dinner, codes map[string][][]bool) []shot {
	if codes[d.recipe] == nil || d.recipe == forgotten {
		return nil
	}
	var out []shot
	for _, body := range []byte{'A', 'B'} {
		for _, s := range d.shots {
			if s.body != body {
				continue
			}
			focal := map[byte]float64{'A': 55, 'B': 40}[body]
			out = append(out, shot{at: -3 + float64(len(out)), body: body, role: "slate", elevation: 62, azimuth: 8, focal: focal,
				dist: 8 * focal, fnum: 5.6, hold: lying, aimX: slateX, aimY: slateY})
			break
		}
	}
	return out
}

// slate lays a printed card on the table: a code below, bars for its words.
func (s *scene) slate(code [][]bool) {
	card := &material{albedo: func(t vec) vec {
		paper, ink := vec{0.74, 0.74, 0.72}, vec{0.035, 0.035, 0.035}
		n := float64(len(code))
		x, y := (t.x/slateCode+0.5)*n, (0.5-(t.y-slateCodeAt)/slateCode)*n
		if x >= 0 && y >= 0 && x < n && y < n {
			if code[int(y)][int(x)] {
				return ink
			}
			return paper
		}
		if t.y > 12 && t.y < 60 && t.x > -46 && t.x < 30 && int(t.y)%14 < 8 && int(t.x+60)%19 < 16 {
			return ink
		}
		return paper
	}}
	by := yaw(slateTurn)
	s.lay(func() {
		s.grid(card, 8, 8, false, func(u, v float64) (p, t vec) {
			t = vec{slateWidth * (u - 0.5), slateHeight * (v - 0.5), 0}
			p = by.of(t).add(vec{slateX, slateY, 1})
			return p, t
		})
	})
}
