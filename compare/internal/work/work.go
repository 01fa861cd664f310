// Package work spreads work over all cores and reports how much of it is done.
package work

import (
	"runtime"
	"sync"
	"sync/atomic"
)

// Progress counts pieces of work that are done on several cores. A nil one
// reports nothing.
type Progress struct {
	sync.Mutex
	done, total int
	tell        func(done, total int)
}

// NewProgress reports through tell; nil means that no progress is reported.
func NewProgress(total int, tell func(done, total int)) *Progress {
	if tell == nil {
		return nil
	}
	tell(0, total)
	return &Progress{total: total, tell: tell}
}

// Step reports that one piece more is done.
func (p *Progress) Step() {
	if p == nil {
		return
	}
	p.Lock()
	defer p.Unlock()
	p.done++
	p.tell(p.done, p.total)
}

// PartOf reports the i-th of n equal parts of some work, in a thousand
// steps each.
func PartOf(tell func(done, total int), i, n int) func(done, total int) {
	if tell == nil {
		return nil
	}
	return func(done, total int) { tell(1000*i+1000*done/max(1, total), 1000*n) }
}

// OnAllCores works on 0 to n-1, each on its own.
func OnAllCores(n int, work func(i int)) {
	var wg sync.WaitGroup
	var next atomic.Int64
	for range min(runtime.GOMAXPROCS(0), n) {
		wg.Go(func() {
			for i := int(next.Add(1)) - 1; i < n; i = int(next.Add(1)) - 1 {
				work(i)
			}
		})
	}
	wg.Wait()
}
