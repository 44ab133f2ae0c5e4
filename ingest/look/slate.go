package look

import (
	"sync"

	"coverplate/ingest/catalogue"
	"coverplate/ingest/slate"
)

// slate seeks our codes in the picture, on all the pixels that were gathered:
// a card that fills a third of a frame has few enough of them. What is no code
// of ours is no slate. Where a dish's card and a clock stand in one picture, the
// slate tells both, and its text is the dish's; cards of other dishes are its
// others.
func (l light) slate(orientation int) *catalogue.Slate {
	var found *catalogue.Slate
	room := greys.Get().(*[]uint8)
	defer greys.Put(room)
	if *room = (*room)[:0]; cap(*room) < len(l.pix) {
		*room = make([]uint8, 0, len(l.pix))
	}
	for _, text := range slate.Read(l.grey(orientation, *room)) {
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
			found.Text, found.Shoot, found.Recipe, found.Title = text, p.Shoot, p.Recipe, p.Title
		case p.Kind == slate.Dish && text != found.Text:
			found.Others = append(found.Others, catalogue.Slate{Text: text, Shoot: p.Shoot, Recipe: p.Recipe, Title: p.Title})
		}
	}
	return found
}

// greys is memory for pictures in grey, lent from one frame to the next.
var greys = sync.Pool{New: func() any { return new([]uint8) }}

// greyCodes are every sixteenth of sRGBCodes, which so stay near the processor:
// half a code off where it is darkest.
var greyCodes = sync.OnceValue(func() *[codes / 16]uint8 {
	t := new([codes / 16]uint8)
	for i := range t {
		t[i] = sRGBCodes()[16*i+8]
	}
	return t
})

// grey is the picture in grey, in room: codes of sRGB's curve, as the eye has
// steps of light. The channels count as sRGB's, whatever space they are of: a
// code is black and white. It stands as it is stored, since codes are read turned
// any way, unless that is mirrored.
func (l light) grey(orientation int, room []uint8) slate.Picture {
	table := greyCodes()
	const most = codes/16 - 1
	yr, yg, yb := float32(luminance[0]*most), float32(luminance[1]*most), float32(luminance[2]*most)
	pix := room[:len(l.pix)]
	for i := range l.pix {
		p := &l.pix[i]
		pix[i] = table[min(most, max(0, int32(yr*p[0]+yg*p[1]+yb*p[2])))]
	}
	w, h := l.width, l.height
	switch orientation {
	case 2, 4, 5, 7:
		pix, w, h = upright(pix, w, h, orientation)
	}
	return slate.Picture{Width: w, Height: h, Pix: pix}
}
