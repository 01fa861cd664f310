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
// zero value is empty. Beside what is numbered it holds four to eleven bytes for each:
// a map would hold it once more.
type Numbers[T comparable] struct {
	List[T]
	slots []uint32 // numbers + 1 by hash, with steps of 1 where one is taken; 0: free
	seed  maphash.Seed
}

// Of is the number of x.
func (n *Numbers[T]) Of(x T) uint32 {
	if 4*(n.Len()+1) > 3*len(n.slots) {
		n.grow()
	}
	at := n.slot(x)
	if n.slots[at] == 0 {
		n.slots[at] = uint32(n.Append(x)) + 1
	}
	return n.slots[at] - 1
}

// slot is where x has its number, or would have it.
func (n *Numbers[T]) slot(x T) int {
	mask := len(n.slots) - 1
	at := int(maphash.Comparable(n.seed, x)) & mask
	for n.slots[at] != 0 && *n.At(int(n.slots[at] - 1)) != x {
		at = (at + 1) & mask
	}
	return at
}

func (n *Numbers[T]) grow() {
	if n.slots == nil {
		n.seed = maphash.MakeSeed()
	}
	n.slots = make([]uint32, max(16, 2*len(n.slots)))
	for i, x := range n.All() {
		n.slots[n.slot(*x)] = uint32(i) + 1
	}
}
