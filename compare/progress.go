package compare

import "sync"

// progress counts pieces of work that are done on several cores. A nil one
// tells nobody.
type progress struct {
	sync.Mutex
	done, total int
	tell        func(done, total int)
}

func newProgress(total int, tell func(done, total int)) *progress {
	if tell == nil {
		return nil
	}
	tell(0, total)
	return &progress{total: total, tell: tell}
}

func (p *progress) step() {
	if p == nil {
		return
	}
	p.Lock()
	defer p.Unlock()
	p.done++
	p.tell(p.done, p.total)
}

// part is the i-th of n equal parts of some work, in a thousand steps each.
func part(tell func(done, total int), i, n int) func(done, total int) {
	if tell == nil {
		return nil
	}
	return func(done, total int) { tell(1000*i+1000*done/max(1, total), 1000*n) }
}
