package look

// upright turns the w × h pixels of pix, row by row as stored, to how the
// picture is seen, by Exif's Orientation (JEITA CP-3451, tag 274; other values
// than 1 … 8 are reserved and read as 1). It returns the pixels and the size
// upright; pix itself where nothing turns.
func upright[T any](pix []T, w, h, orientation int) ([]T, int, int) {
	// The pixel seen at (x, y) is the one stored at offset + x·dx + y·dy: each
	// orientation is a corner to start at and two directions to go.
	uw, uh := uprightSize(w, h, orientation)
	var offset, dx, dy int
	switch orientation {
	case 2: // mirrored left to right
		offset, dx, dy = w-1, -1, w
	case 3: // turned by 180°
		offset, dx, dy = w*h-1, -1, -w
	case 4: // mirrored top to bottom
		offset, dx, dy = w*(h-1), 1, -w
	case 5: // transposed
		offset, dx, dy = 0, w, 1
	case 6: // turned 90° clockwise to be seen
		offset, dx, dy = w*(h-1), -w, 1
	case 7: // transposed along the other diagonal
		offset, dx, dy = w*h-1, -w, -1
	case 8: // turned 90° counter-clockwise to be seen
		offset, dx, dy = w-1, w, -1
	default:
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

// uprightSize is the size that w × h stored pixels have upright.
func uprightSize(w, h, orientation int) (int, int) {
	if 5 <= orientation && orientation <= 8 {
		return h, w
	}
	return w, h
}
