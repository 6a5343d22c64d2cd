// Package fastlength finds lengths on which a Fourier transform is quick, so that
// what is to be transformed can be padded to one.
package fastlength

// mostFactors is how many factors gonum's transform takes, of 4, 2, 3 and 5 in
// that order; it panics on a length with more, as some above 1.5 million have.
const mostFactors = 13

// Is tells whether a transform of n samples is quick. The cost follows the largest
// prime factor: there must be none above 5.
func Is(n int) bool {
	factors := 0
	for _, p := range []int{4, 2, 3, 5} {
		for n > 1 && n%p == 0 {
			n /= p
			factors++
		}
	}
	return n == 1 && factors <= mostFactors
}

// From is the least quick length from n up; at least 1.
func From(n int) int {
	n = max(1, n)
	for !Is(n) {
		n++
	}
	return n
}
