//go:build !windows

package main

// systemReadsUnicode reports whether text is read as UTF-8 where no locale is set, as in
// containers and on machines that only run jobs: their logs are UTF-8.
func systemReadsUnicode(bool) bool { return true }
