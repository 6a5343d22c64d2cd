package profiles

// A way is how a single parameter is set while the device sounds.
type way struct {
	send *template
}

func (b *builder) way(path string, f wayFile, s *Scale) *way { return nil }
