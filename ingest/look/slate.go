package look

import (
	"coverplate/ingest/catalogue"
	"coverplate/ingest/slate"
)

// slate seeks our codes in the picture, on all the pixels that were gathered:
// a card that fills a third of a frame has few enough of them. What is no code
// of ours is no slate. Where a dish's card and a clock stand in one picture, the
// slate tells both, and its text is the dish's.
func (l light) slate(orientation int) *catalogue.Slate {
	var found *catalogue.Slate
	for _, text := range slate.Read(l.grey(orientation)) {
		p, err := slate.Parse(text)
		if err != nil {
			continue
		}
		if found == nil {
			found = &catalogue.Slate{Text: text, Shoot: p.Shoot}
		}
		switch {
		case p.Kind == slate.Clock && found.Shown.IsZero():
			found.Shown = p.Shown
		case p.Kind == slate.Dish && found.Recipe == "":
			found.Text, found.Shoot, found.Recipe = text, p.Shoot, p.Recipe
		}
	}
	return found
}

// grey is the picture upright in grey: codes of sRGB's curve, as the eye has
// steps of light. The channels count as sRGB's, whatever space they are of: a
// code is black and white.
func (l light) grey(orientation int) slate.Picture {
	table := sRGBCodes()
	yr, yg, yb := float32(luminance[0]*(codes-1)), float32(luminance[1]*(codes-1)), float32(luminance[2]*(codes-1))
	pix := make([]uint8, len(l.pix))
	for i := range l.pix {
		p := &l.pix[i]
		v := int(yr*p[0] + yg*p[1] + yb*p[2] + 0.5)
		if v < 0 {
			v = 0
		} else if v >= codes {
			v = codes - 1
		}
		pix[i] = table[v]
	}
	up, w, h := upright(pix, l.width, l.height, orientation)
	return slate.Picture{Width: w, Height: h, Pix: up}
}
