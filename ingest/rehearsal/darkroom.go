package rehearsal

import "image"

type scene struct{ recipe string }

func sceneOf(e exposure) *scene { return &scene{e.recipe} }

type darkroom struct{}

func (d *darkroom) develop(sc *scene, e exposure) *image.YCbCr {
	w, h := e.width, e.height
	if e.hold == turned {
		w, h = h, w
	}
	img := image.NewYCbCr(image.Rect(0, 0, w, h), image.YCbCrSubsampleRatio420)
	k := 0
	for _, c := range sc.recipe {
		k = k*10 + int(c)%10
	}
	for i := range img.Y {
		img.Y[i] = uint8(90 + k*13%80 + i/w*40/h)
	}
	for i := range img.Cb {
		img.Cb[i], img.Cr[i] = uint8(60+k*41%130), uint8(60+k*67%130)
	}
	return img
}
