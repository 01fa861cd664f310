package report

import (
	"slices"
	"strings"
	"testing"
)

// wholeSVG holds a file to what a picture by itself needs: a title and a description
// that it names, words in elements of text alone, and a colour for each class.
func wholeSVG(t *testing.T, svg, title, desc string) []element {
	t.Helper()
	all := elements(t, []byte(svg))
	root := all[0]
	if root.attr["role"] != "img" || root.attr["aria-labelledby"] == "" || root.attr["aria-describedby"] == "" {
		t.Errorf("a reader of the screen is told %v", root.attr)
	}
	written := strings.NewReplacer("\uffff", "\ufffd", "\ufffe", "\ufffd") // XML knows no such characters
	named := map[string]string{root.attr["aria-labelledby"]: written.Replace(title), root.attr["aria-describedby"]: written.Replace(desc)}
	style := ""
	for _, e := range all {
		switch {
		case e.kind == "title" || e.kind == "desc":
			if want, ok := named[e.attr["id"]]; !ok || e.text != want {
				t.Errorf("%s %q says %q, want %q", e.kind, e.attr["id"], e.text, want)
			}
			delete(named, e.attr["id"])
		case e.kind == "style":
			style += e.text
		case e.kind != "text" && strings.TrimSpace(e.text) != "":
			t.Errorf("%q stands in <%s>, where nothing shows it", e.text, e.kind)
		}
	}
	if len(named) > 0 {
		t.Errorf("there is no %v", named)
	}
	for _, e := range all {
		for _, class := range strings.Fields(e.attr["class"]) {
			if !strings.Contains(style, "."+class+"{") {
				t.Errorf("class %s of <%s> has no colour in\n%s", class, e.kind, style)
			}
		}
	}
	return all
}

func TestPictureFilesAreWhole(t *testing.T) {
	for _, p := range slices.Concat(ComparisonPictures(demoComparison(t).Comparison), LadderPictures(demoLadder(t).Ladder)) {
		wholeSVG(t, rendered(t, p.SVG), p.Title, p.alt())
	}
}
