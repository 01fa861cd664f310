package report

import (
	"fmt"
	"strings"

	"tunegate/compare/report/doc"
)

// pictureCSS gives the parts of pictures their colours.
func pictureCSS() string {
	var b strings.Builder
	// With geometricPrecision a letter is as wide as its font says, and not rounded
	// to whole pixels.
	b.WriteString("svg text{font-family:\"Segoe UI\",\"Helvetica Neue\",Arial,\"Liberation Sans\",sans-serif;" +
		"text-rendering:geometricPrecision}\nsvg .b{font-weight:600}\n")
	for _, name := range doc.HueNames() {
		fmt.Fprintf(&b, ".s-%s{stroke:var(--%s)}.f-%s{fill:var(--%s)}\n", name, name, name, name)
	}
	return b.String()
}
