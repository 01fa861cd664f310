package numeric

import (
	"runtime"
	"sync"
	"sync/atomic"
)

// OnAllCores calls work for every part from 0 on. Parts must not depend on
// each other, so that the number of cores changes no result.
func OnAllCores(parts int, work func(part int)) {
	var next atomic.Int64
	take := func() {
		for {
			part := int(next.Add(1)) - 1
			if part >= parts {
				return
			}
			work(part)
		}
	}
	var wg sync.WaitGroup
	for range min(runtime.GOMAXPROCS(0), parts) - 1 {
		wg.Add(1)
		go func() { defer wg.Done(); take() }()
	}
	take()
	wg.Wait()
}
