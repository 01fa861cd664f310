package main

import "syscall"

// utf8CodePage is the number of UTF-8 among code pages.
const utf8CodePage = 65001

// systemReadsUnicode reports whether text is read as UTF-8 where no locale says so. To
// a console Go writes UTF-16, whatever its code page. A pipe is read in the console's
// code page by shells that take it for text; without a console nobody is known to.
func systemReadsUnicode(console bool) bool {
	if console {
		return true
	}
	page, _, _ := syscall.NewLazyDLL("kernel32.dll").NewProc("GetConsoleOutputCP").Call()
	return page == utf8CodePage || page == 0
}
