package main

import (
	"io"
	"os"
	"strings"

	"golang.org/x/term"

	"tunegate/compare/report/doc"
)

// readsUnicode reports whether what is written to out is taken for UTF-8. A file is:
// its reader knows. On a console or a pipe the locale says so, where it says anything;
// the log of GitHub Actions is UTF-8.
func readsUnicode(out io.Writer) bool {
	f, ok := out.(*os.File)
	if !ok || inActions() {
		return true
	}
	if info, err := f.Stat(); err != nil || info.Mode().IsRegular() {
		return true
	}
	if unicode, stated := localeReadsUnicode(os.Getenv); stated {
		return unicode
	}
	return systemReadsUnicode(term.IsTerminal(int(f.Fd())))
}

// localeReadsUnicode says whether the locale of the environment is one of UTF-8; stated
// is false where none is set. The first variable that is set counts (POSIX.1-2017,
// Base Definitions, 8.2).
func localeReadsUnicode(getenv func(string) string) (unicode, stated bool) {
	for _, name := range []string{"LC_ALL", "LC_CTYPE", "LANG"} {
		locale := getenv(name)
		if locale == "" {
			continue
		}
		_, charset, _ := strings.Cut(locale, ".")
		charset, _, _ = strings.Cut(charset, "@")
		charset = strings.ToLower(strings.ReplaceAll(charset, "-", ""))
		return charset == "utf8" || strings.EqualFold(locale, "UTF-8"), true // macOS has LC_CTYPE=UTF-8
	}
	return false, false
}

// readable is a text as out shows it: in ASCII where that is not UTF-8.
func readable(out io.Writer, s string) string {
	if readsUnicode(out) {
		return s
	}
	lines := strings.Split(topicASCII.Replace(s), "\n")
	for i, l := range lines {
		lines[i] = doc.ASCII(l)
	}
	return strings.Join(lines, "\n")
}
