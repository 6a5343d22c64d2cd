package ui

import (
	"sync"
	"time"

	"github.com/schollz/progressbar/v3"
)

// patience is how long work may take before its progress is shown.
const patience = time.Second

// Progress shows how far long work is: on a terminal only, and only once it has
// taken longer than a second. It may be told of progress from another goroutine,
// also after its end.
type Progress struct {
	screen Screen
	what   string
	now    func() time.Time
	began  time.Time

	mu    sync.Mutex
	bar   *progressbar.ProgressBar
	ended bool
}

// Progress begins work that is called what.
func (s Screen) Progress(what string, now func() time.Time) *Progress {
	return &Progress{screen: s, what: what, now: now, began: now()}
}

// steps is the fineness of the bar.
const steps = 1000

// Set tells the share that is done, from 0 to 1.
func (p *Progress) Set(done float64) {
	p.mu.Lock()
	defer p.mu.Unlock()
	if p.ended || !p.screen.Terminal() || p.bar == nil && p.now().Sub(p.began) < patience {
		return
	}
	if p.bar == nil {
		p.bar = progressbar.NewOptions(steps,
			progressbar.OptionSetWriter(p.screen), progressbar.OptionSetDescription(Line(p.what)),
			progressbar.OptionSetWidth(30), progressbar.OptionSetElapsedTime(false),
			progressbar.OptionSetPredictTime(false), progressbar.OptionClearOnFinish())
	}
	// A bar that cannot be drawn is no reason to stop the work.
	_ = p.bar.Set(int(steps * max(0, min(1, done))))
}

// End takes the bar away.
func (p *Progress) End() {
	p.mu.Lock()
	defer p.mu.Unlock()
	p.ended = true
	if p.bar != nil {
		_ = p.bar.Finish()
	}
}
