package main

import (
	"crypto/rand"
	"errors"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"strings"

	"github.com/urfave/cli/v2"

	"tunegate/compare/report/doc"
)

// The results of a gate that CI keeps lie in one folder. The status and the page in
// Markdown are always there, the other forms where something was judged.
const (
	statusFile   = "status"
	markdownFile = "gate.md"
)

var resultsForms = []struct{ form, file string }{
	{"markdown", markdownFile}, {"html", "gate.html"}, {"json", "gate.json"}, {"junit", "gate.xml"},
	{"sarif", "gate.sarif"}, {"code-quality", "gate-quality.json"},
}

// beginResults makes the folder of --results, without what an earlier gate left, and
// returns what to write into it.
func beginResults(c *cli.Context, writes []output) ([]output, error) {
	folder := c.String("results")
	if !c.IsSet("results") {
		return writes, nil
	}
	if folder == "" {
		return nil, errors.New("--results names no folder")
	}
	if err := os.MkdirAll(folder, 0o755); err != nil {
		return nil, fmt.Errorf("--results %s: cannot make the folder: %w", folder, err)
	}
	if err := os.Remove(filepath.Join(folder, statusFile)); err != nil && !errors.Is(err, os.ErrNotExist) {
		return nil, fmt.Errorf("--results %s: cannot remove the status of an earlier gate: %w", folder, err)
	}
	for _, f := range resultsForms {
		path := filepath.Join(folder, f.file)
		for _, w := range writes {
			if filepath.Clean(w.path) == path {
				return nil, fmt.Errorf("%s writes to the file that --results writes to; give it another", w.option)
			}
		}
		writes = append(writes, output{f.form, path, "--results " + folder})
	}
	return writes, nil
}

// keepResults completes the folder of --results: with the status, and with a page that
// says why where nothing was judged.
func keepResults(c *cli.Context, gated error) error {
	folder, status := c.String("results"), statusOf(gated)
	if !c.IsSet("results") || folder == "" {
		return gated
	}
	var whole []content
	if status == exitInput {
		if err := os.MkdirAll(folder, 0o755); err != nil { // a wrong option came before it was made
			return gated
		}
		for _, f := range resultsForms {
			if err := os.Remove(filepath.Join(folder, f.file)); err != nil && !errors.Is(err, os.ErrNotExist) {
				return errors.Join(gated, err)
			}
		}
		page, err := notJudged(messageOf(gated))
		if err != nil {
			return err
		}
		whole = append(whole, content{filepath.Join(folder, markdownFile), page})
	}
	whole = append(whole, content{filepath.Join(folder, statusFile), fmt.Appendln(nil, status)})
	err := writeWhole(whole)
	if err == nil && inActions() {
		err = tellOutputs(folder, status)
	}
	if err == nil {
		return gated
	}
	if status == exitInput {
		return gated // that it could not be kept either is of the same cause, or less
	}
	return err
}

// notJudged is the page of a gate that could not judge, in Markdown.
func notJudged(message string) ([]byte, error) {
	d := doc.Document{Heading: doc.Line{Text: "Nothing was judged", Tone: doc.Bad}}
	var lines []string
	for line := range strings.Lines(strings.TrimPrefix(message, "tunegate: ")) {
		lines = append(lines, strings.TrimSpace(line))
	}
	d.Sections = []doc.Section{{Kind: doc.Notes, Blocks: []doc.Block{doc.List{Items: doc.Lines(lines)}}}}
	return render(func(w io.Writer) error { return doc.Markdown(w, d) })
}

// tellOutputs states the outputs of a step of GitHub Actions: status, results (the
// folder), markdown and html (files), and comment (the text for a request). Each value
// ends with a line that nothing before it can hold.
func tellOutputs(folder string, status int) error {
	path := os.Getenv("GITHUB_OUTPUT")
	if path == "" {
		return nil
	}
	folder, err := filepath.Abs(folder)
	if err != nil {
		return err
	}
	page, err := os.ReadFile(filepath.Join(folder, markdownFile))
	if err != nil {
		return err
	}
	end := "tunegate-" + rand.Text()
	values := [][2]string{{"status", fmt.Sprint(status)}, {"results", folder}, {"markdown", filepath.Join(folder, markdownFile)}}
	if status != exitInput {
		values = append(values, [2]string{"html", filepath.Join(folder, "gate.html")})
	}
	var b strings.Builder
	for _, v := range append(values, [2]string{"comment", strings.TrimSuffix(string(page), "\n")}) {
		fmt.Fprintf(&b, "%s<<%s\n%s\n%s\n", v[0], end, v[1], end)
	}
	return appendTo(path, []byte(b.String()))
}

// appendTo adds to a file that CI reads.
func appendTo(path string, data []byte) error {
	f, err := os.OpenFile(path, os.O_APPEND|os.O_CREATE|os.O_WRONLY, 0o644)
	if err != nil {
		return err
	}
	if _, err := f.Write(data); err != nil {
		f.Close()
		return err
	}
	return f.Close()
}
