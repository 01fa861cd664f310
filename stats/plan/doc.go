// Package plan says what comparisons like a pilot would bring: which losses
// they would catch (blind spots), how many values it takes to catch a loss or to
// make an interval narrow, and what planned sizes would show. A Pilot is what was
// measured, in one of several layouts; a Plan answers all questions about it for
// one Design.
//
// Changes are after minus before, turned by the caller so that plus is better; a
// loss is the size of a change for the worse, in the unit of the values.
package plan
