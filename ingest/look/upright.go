package look

// upright turns the w × h pixels of pix, row by row as stored, to how the
// picture is seen, by Exif's Orientation (JEITA CP-3451, tag 274; other values
// than 1 … 8 are reserved and read as 1). It returns the pixels and the size
// upright; pix itself where nothing turns.
func upright[T any](pix []T, w, h, orientation int) ([]T, int, int) {
	uw, uh := uprightSize(w, h, orientation)
	offset, dx, dy := steps(w, h, orientation)
	if offset == 0 && dx == 1 {
		return pix, w, h
	}
	out := make([]T, 0, len(pix))
	for y := range uh {
		p := offset + y*dy
		for range uw {
			out = append(out, pix[p])
			p += dx
		}
	}
	return out, uw, uh
}

// steps tells where the pixels that are seen are stored: the one at (x, y) at
// offset + x·dx + y·dy of w × h. Each orientation is a corner to start at and
// two directions to go.
func steps(w, h, orientation int) (offset, dx, dy int) {
	switch orientation {
	case 2: // mirrored left to right
		return w - 1, -1, w
	case 3: // turned by 180°
		return w*h - 1, -1, -w
	case 4: // mirrored top to bottom
		return w * (h - 1), 1, -w
	case 5: // transposed
		return 0, w, 1
	case 6: // turned 90° clockwise to be seen
		return w * (h - 1), -w, 1
	case 7: // transposed along the other diagonal
		return w*h - 1, -w, -1
	case 8: // turned 90° counter-clockwise to be seen
		return w - 1, w, -1
	}
	return 0, 1, w
}

// back is the orientation that undoes another: the quarter turns undo each
// other, the rest themselves.
func back(orientation int) int {
	switch orientation {
	case 6:
		return 8
	case 8:
		return 6
	}
	return orientation
}

// uprightSize is the size that w × h stored pixels have upright.
func uprightSize(w, h, orientation int) (int, int) {
	if 5 <= orientation && orientation <= 8 {
		return h, w
	}
	return w, h
}
