package report

import (
	"io"
	"strings"

	"tunegate/compare/report/doc"
)

// Markdown writes a comparison for a page or a comment.
func Markdown(w io.Writer, c ComparisonPage) error {
	return doc.Markdown(w, ComparisonDocument(c, Origin{}))
}

// escape makes any text harmless in the middle of a Markdown line: what could
// begin markup, a tag, an entity, a link or a mention.
func escape(s string) string {
	return markdownEscapes.Replace(Clean(s))
}

var markdownEscapes = strings.NewReplacer(`\`, `\\`, "`", "\\`", "*", `\*`, "_", `\_`, "[", `\[`, "]", `\]`, "|", `\|`, "~", `\~`, "$", `\$`, "#", `\#`,
	"<", "&lt;", ">", "&gt;", "&", "&amp;", "://", `\://`, "www.", `www\.`,
	"@", "＠") // no backslash keeps a page from calling somebody
