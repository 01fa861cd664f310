package intake

import (
	"errors"
	"fmt"

	"tunegate/compare"
	"tunegate/compare/english"
)

// maxFaults is how many faults of a file are told at once.
const maxFaults = 20

// FaultList is what is wrong with a file: several faults, each with its place and its
// remedy.
type FaultList struct {
	Faults []error
	More   bool // there may be others
}

// Error tells the first fault, and how many there are.
func (l *FaultList) Error() string {
	more := english.Count(len(l.Faults)-1, "more fault")
	if l.More {
		more = "at least " + more
	}
	return fmt.Sprintf("%v (and %s)", l.Faults[0], more)
}

// Unwrap is all of them.
func (l *FaultList) Unwrap() []error { return l.Faults }

var errManyFaults = errors.New("more faults than are told at once")

// fault keeps an error about content, so that those behind it are found, too. It
// returns any other one, and an error where there are enough.
func (s *sink) fault(err error) error {
	if err == nil {
		return nil
	}
	var at *compare.PlacedError
	switch {
	case !errors.As(err, &at):
		return err
	case len(s.faults) == maxFaults:
		return errManyFaults
	}
	s.faults = append(s.faults, err)
	return nil
}

// result is what reading ends with: the faults kept, and the error that ended it.
func (s *sink) result(err error) error {
	more := err == errManyFaults
	var at *compare.PlacedError
	switch {
	case err == nil || more:
	case !errors.As(err, &at) || len(s.faults) == 0:
		return err
	case len(s.faults) < maxFaults:
		s.faults = append(s.faults, err)
	default:
		more = true
	}
	switch {
	case len(s.faults) == 0:
		return nil
	case len(s.faults) == 1:
		return s.faults[0]
	}
	return &FaultList{s.faults, more}
}
