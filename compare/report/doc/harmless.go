package doc

import (
	"regexp"
	"strings"
)

// Harmless is a page in Markdown that somebody else may have written, for a place that
// obeys what it reads: what Markdown prints stays as it is, byte for byte, and anything
// else becomes text. What is left has headings, lists, tables, strong text and folded
// parts, but no link, picture, tag, mention, reference, code or command.
func Harmless(page string) string {
	var out []string
	open := 0
	for line := range strings.SplitSeq(strings.TrimSuffix(page, "\n"), "\n") {
		line = clean(line, "→")
		switch {
		case line == foldEnd && open == 0:
			continue
		case line == foldEnd:
			open--
		case foldBegin.MatchString(line):
			open++
		case !tableRule.MatchString(line):
			line = harmlessLine(line)
		}
		out = append(out, line)
	}
	for ; open > 0; open-- {
		out = append(out, "", foldEnd)
	}
	return strings.Join(out, "\n") + "\n"
}

const foldEnd = "</details>"

var (
	foldBegin = regexp.MustCompile(`^<details><summary>[0-9]+ metrics?</summary>$`)
	tableRule = regexp.MustCompile(`^\|((---|--:)\|)+$`)
	// What a line of Markdown's begins with, and strong text behind it.
	lineBegin = regexp.MustCompile(`^(#{2,3} |- |1\. |> )?(?:\*\*((?:[^*\\]|\\.)+)\*\*(: |$))?`)
)

// harmlessLine keeps what begins a line, and the bars of a table's row.
func harmlessLine(line string) string {
	if strings.HasPrefix(line, "|") {
		return inert(line, true)
	}
	if strings.HasPrefix(strings.TrimLeft(line, " "), "/") { // a forge may take it for a command
		return `\` + inert(strings.TrimLeft(line, " "), false)
	}
	parts := lineBegin.FindStringSubmatch(line)
	begin, rest := parts[1], line[len(parts[0]):]
	if parts[2] != "" {
		begin += "**" + inert(parts[2], false) + "**" + parts[3]
	}
	return begin + inert(rest, false)
}

// inert escapes what Escape escapes, but not what is escaped already; bars stay where
// they part cells.
func inert(s string, cells bool) string {
	var b strings.Builder
	for len(s) > 0 {
		kept := escaped.FindString(s)
		if cells && s[0] == '|' {
			kept = "|"
		}
		if kept != "" {
			b.WriteString(kept)
			s = s[len(kept):]
			continue
		}
		n := 1
		for _, whole := range []string{"://", "www."} {
			if strings.HasPrefix(s, whole) {
				n = len(whole)
			}
		}
		if s[0] >= 0x80 {
			n = len(s) - len(strings.TrimLeftFunc(s, func(r rune) bool { return r >= 0x80 }))
		}
		b.WriteString(Escape(s[:n]))
		s = s[n:]
	}
	return b.String()
}

// escaped is what Escape writes for a character.
var escaped = regexp.MustCompile("^(\\\\[\\\\`*_\\[\\]|~$#:/]|www\\\\\\.|&(lt|gt|amp);)")
