package numeric

import "sync"

// Memo caches the results of a pure function for its latest arguments, so that
// metrics of the same sizes share one null distribution. A caller waits for a
// value that another goroutine is computing. It never changes a result: at most
// keys are kept, and the oldest is forgotten first.
type Memo[K comparable, V any] struct {
	Max int

	mu    sync.Mutex
	kept  map[K]*memoEntry[V]
	order []K
}

type memoEntry[V any] struct {
	once  sync.Once
	value V
}

func (m *Memo[K, V]) Get(key K, compute func() V) V {
	m.mu.Lock()
	e := m.kept[key]
	if e == nil {
		if m.kept == nil {
			m.kept = map[K]*memoEntry[V]{}
		}
		if len(m.order) == m.Max {
			delete(m.kept, m.order[0])
			m.order = append(m.order[:0], m.order[1:]...)
		}
		e = &memoEntry[V]{}
		m.kept[key] = e
		m.order = append(m.order, key)
	}
	m.mu.Unlock()
	e.once.Do(func() { e.value = compute() })
	return e.value
}

// SizesKey makes sizes, or a tie pattern, the key of a memo.
func SizesKey(sizes []int) string {
	b := make([]byte, 0, 2*len(sizes))
	for _, n := range sizes {
		for ; n >= 0x80; n >>= 7 {
			b = append(b, byte(n)|0x80)
		}
		b = append(b, byte(n))
	}
	return string(b)
}
