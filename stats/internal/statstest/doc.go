// Package statstest is for the tests of stats and the packages below it: shapes
// of noise, random samples, and the reference answers.
package statstest
