package steadytone

// smooth is the greatest number up to n that has no prime factor above 5: the
// cost of a Fourier transform follows the largest prime factor of its length.
func smooth(n int) int {
	for ; n > 1; n-- {
		rest := n
		for _, p := range []int{2, 3, 5} {
			for rest%p == 0 {
				rest /= p
			}
		}
		if rest == 1 {
			return n
		}
	}
	return 1
}
