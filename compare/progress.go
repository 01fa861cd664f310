package compare

import (
	"runtime"
	"sync"
	"sync/atomic"
)

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

// onAllCores works on 0 to n-1, each on its own.
func onAllCores(n int, work func(i int)) {
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

// onAllCores works on every result, a step of progress each.
func (p *progress) onAllCores(results []*Result, work func(*Result)) {
	onAllCores(len(results), func(i int) {
		work(results[i])
		p.step()
	})
}
