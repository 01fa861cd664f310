package intake

// recent remembers what was asked for in this turn and in the one before. A turn is a
// commit of a history: what did not change is there from the commit before, and a long
// history is not kept as a whole, which would be every folder of every commit. Where
// nothing turns, all is remembered.
type recent[V any] struct{ now, before map[string]V }

func (r *recent[V]) turn() { r.before, r.now = r.now, map[string]V{} }

func (r *recent[V]) get(key string) (v V, known bool) {
	if v, known = r.now[key]; known {
		return v, true
	}
	if v, known = r.before[key]; known {
		r.put(key, v)
	}
	return v, known
}

func (r *recent[V]) put(key string, v V) {
	if r.now == nil {
		r.now = map[string]V{}
	}
	r.now[key] = v
}
