package report

import (
	"fmt"
	"strings"

	"tunegate/compare/report/doc"
)

// textCSS is how text looks. With geometricPrecision a letter is as wide as its font
// says, and not rounded to whole pixels.
const textCSS = "svg text{font-family:\"Segoe UI\",\"Helvetica Neue\",Arial,\"Liberation Sans\",sans-serif;" +
	"text-rendering:geometricPrecision}\nsvg .b{font-weight:600}\n"

// pictureCSS gives the parts of pictures their colours.
func pictureCSS() string {
	var b strings.Builder
	b.WriteString(textCSS)
	for _, name := range doc.HueNames() {
		fmt.Fprintf(&b, ".s-%s{stroke:var(--%s)}.f-%s{fill:var(--%s)}\n", name, name, name, name)
	}
	return b.String()
}
