// Package comparetest is for the tests of compare and the packages below it: runs
// written by hand, simulated runs, and the bounds that promises are held to.
package comparetest
