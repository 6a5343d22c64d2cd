package measure

import "math"

// An extra is kept only if it leaves less than this share of the sum of squares:
// a take without drive or motion invites invented ones.
const worthKeeping = 0.7

// unexplained is from where on a rest above the noise is worth a search for its
// cause.
const unexplained = 1.25

// refine fits a note from a rough machine to the end: dull and cheap first, with
// motion and drive where the take asks for them, then the full band.
func refine(full, half sound, m machine, progress func(float64)) fitted {
	low := full.thinned(lowRate, 700)
	f := low.bestLength(m, free{tone: true})
	progress(0.2)
	f = low.tryWow(f)
	progress(0.35)
	f = half.bestLength(f.machine, f.free)
	progress(0.5)
	f = half.tryDrive(f)
	f = half.tryFlutter(f)
	progress(0.7)
	f = full.fitLength(f.lasting, f.machine, f.free, 4, 1e-4)
	progress(0.95)
	return f
}

// tryWow fits wow to what is unexplained, if there is some.
func (s sound) tryWow(f fitted) fitted {
	if f.residual < unexplained*s.noise {
		return f
	}
	rate, left := s.likelyRate(f, 0, slowRates)
	if left > worthKeeping {
		return f
	}
	g := f.machine.clone()
	g.wow[0] = motion{rate: rate}
	with := f.free
	with.slow = true
	moved := s.fitLength(f.lasting, g, with, 8, 1e-3)
	if moved.residual > worthKeeping*f.residual {
		return f
	}
	return s.bestLength(moved.machine, with)
}

// tryFlutter does the same for motion too quick for the low band to show.
func (s sound) tryFlutter(f fitted) fitted {
	if f.residual < unexplained*s.noise {
		return f
	}
	rate, left := s.likelyRate(f, 1, fastRates)
	if left > worthKeeping {
		return f
	}
	g := f.machine.clone()
	g.wow[1] = motion{rate: rate}
	with := f.free
	with.fast = true
	return better(f, s.fitLength(f.lasting, g, with, 6, 1e-3))
}

// tryDrive fits a saturating record path to what is unexplained.
func (s sound) tryDrive(f fitted) fitted {
	if f.residual < unexplained*s.noise {
		return f
	}
	g := f.machine.clone()
	g.drive, g.bias = 0.5/peakOf(s.take), 0.01
	with := f.free
	with.drive = true
	return better(f, s.fitLength(f.lasting, g, with, 8, 1e-3))
}

// better is the fit with the extra if it is clearly worth it.
func better(without, with fitted) fitted {
	if with.residual < worthKeeping*without.residual && with.news < without.news {
		return with
	}
	return without
}

func peakOf(x []float64) float64 {
	top := 1e-9
	for _, v := range x {
		top = math.Max(top, math.Abs(v))
	}
	return top
}
