// Package pieces holds long lists without copying them as they grow, and numbers
// what repeats.
package pieces

import (
	"hash/maphash"
	"iter"
)

// Size is how many elements a piece holds.
const Size = 1 << bits

const bits = 12

// List is a list in pieces. Let append do it, and what it copies on the way takes
// three times the memory of what is held in the end. The zero value is empty. A copy
// of a List shares its elements, as that of a slice does.
type List[T any] struct {
	pieces [][]T
	n      int
}

// Len is the number of elements.
func (l *List[T]) Len() int { return l.n }

// At is element i, valid until the next Append.
func (l *List[T]) At(i int) *T { return &l.pieces[i>>bits][i&(Size-1)] }

// Append adds an element and returns its number.
func (l *List[T]) Append(x T) int {
	last := l.n >> bits
	if last == len(l.pieces) {
		var piece []T // the first one grows as slices do
		if last > 0 {
			piece = make([]T, 0, Size)
		}
		l.pieces = append(l.pieces, piece)
	}
	l.pieces[last] = append(l.pieces[last], x)
	l.n++
	return l.n - 1
}

// All goes through the elements.
func (l *List[T]) All() iter.Seq2[int, *T] {
	return func(yield func(int, *T) bool) {
		for k, piece := range l.pieces {
			for i := range piece {
				if !yield(k<<bits+i, &piece[i]) {
					return
				}
			}
		}
	}
}

// Numbers gives what repeats a number, from 0 on in the order of first appearance. The
// zero value is empty. Beside what is numbered it holds 11 to 21 bytes for each: a map
// would hold it once more.
type Numbers[T comparable] struct {
	List[T]
	slots []slot // at the hash, with steps of 1 where one is taken
	seed  maphash.Seed
}

// slot is a hash and one more than the number of what has it; 0: free.
type slot struct{ hash, number uint32 }

// Of is the number of x.
func (n *Numbers[T]) Of(x T) uint32 {
	s := n.find(x)
	if s.number == 0 {
		s.number = uint32(n.Append(x)) + 1
	}
	return s.number - 1
}

// Kept is x as it was numbered first; where it is new, what keep makes of it is numbered
// in its place.
func (n *Numbers[T]) Kept(x T, keep func(T) T) T {
	s := n.find(x)
	if s.number == 0 {
		s.number = uint32(n.Append(keep(x))) + 1
	}
	return *n.At(int(s.number - 1))
}

// find is where x has its number, or has to get it.
func (n *Numbers[T]) find(x T) *slot {
	if 4*(n.Len()+1) > 3*len(n.slots) {
		n.grow()
	}
	hash, mask := uint32(maphash.Comparable(n.seed, x)), uint32(len(n.slots)-1)
	for at := hash & mask; ; at = (at + 1) & mask {
		switch s := &n.slots[at]; {
		case s.number == 0:
			s.hash = hash
			return s
		case s.hash == hash && *n.At(int(s.number - 1)) == x:
			return s
		}
	}
}

func (n *Numbers[T]) grow() {
	if n.slots == nil {
		n.seed = maphash.MakeSeed()
	}
	old := n.slots
	n.slots = make([]slot, max(16, 2*len(old)))
	mask := uint32(len(n.slots) - 1)
	for _, s := range old {
		if s.number > 0 {
			at := s.hash & mask
			for n.slots[at].number > 0 {
				at = (at + 1) & mask
			}
			n.slots[at] = s
		}
	}
}
