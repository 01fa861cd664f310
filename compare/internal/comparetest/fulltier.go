package comparetest

import "testing"

// FullTier skips a simulation or a long property in the quick tier, which is
// go test -short, and says what it is.
func FullTier(t testing.TB, what string) {
	t.Helper()
	if testing.Short() {
		t.Skip("in the full tier only: " + what)
	}
}
