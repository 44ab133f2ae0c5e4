package camera

func (p *picture) readBoxes() error { return &UnsupportedError{"HEIC", ""} }
func (p *picture) readRAF() error   { return &UnsupportedError{"RAF", ""} }
func (p *picture) readPNG() error   { return &UnsupportedError{"PNG", ""} }
func (p *picture) readWebP() error  { return &UnsupportedError{"WebP", ""} }
