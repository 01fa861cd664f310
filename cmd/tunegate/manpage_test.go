package main

import (
	"os/exec"
	"runtime"
	"slices"
	"strings"
	"testing"
)

// roffText is what a page says, without roff's marks.
var roffText = strings.NewReplacer(`\-`, "-", `\fB`, "", `\fI`, "", `\fP`, "", `\fR`, "", `\&`, "", `\(aq`, "'", `\ `, " ").Replace

// The man page of the program has every command with every option.
func TestManPageHasAllOptions(t *testing.T) {
	page := roffText(printed(t, "help", "--man"))
	if !strings.HasPrefix(page, `.nh`+"\n"+`.TH "TUNEGATE" "1" `) {
		t.Errorf("it begins with %q", page[:40])
	}
	for _, c := range newApp(nil, nil, nil).VisibleCommands() {
		_, section, found := strings.Cut(page, "\n.SS "+c.Name+"\n")
		section, _, _ = strings.Cut(section, "\n.S")
		if !found || !strings.Contains(section, "tunegate "+c.Name) {
			t.Errorf("command %s is missing", c.Name)
		}
		for _, f := range c.VisibleFlags() {
			if !strings.Contains(section, "\n"+optionRow(f)[0]+"\n") {
				t.Errorf("%s: option %s is missing", c.Name, optionRow(f)[0])
			}
		}
	}
}

// The man page of a topic says what the topic says, and man takes it.
func TestManPagesOfTopics(t *testing.T) {
	_, err := exec.LookPath("man")
	for _, name := range topics() {
		page := printed(t, "help", name, "--man")
		if !strings.Contains(page, `.TH "TUNEGATE-`+strings.ToUpper(name)+`" "7" `) {
			t.Errorf("%s begins with %q", name, page[:60])
		}
		words := strings.Fields(strings.ReplaceAll(roffText(page), "*", ""))
		for _, l := range strings.Split(printed(t, "help", name, "--width", "1000"), "\n") {
			for _, w := range strings.Fields(l) {
				if w = strings.ReplaceAll(w, "*", ""); strings.Trim(w, "-=") != "" && !slices.Contains(words, w) {
					t.Errorf("%s: %q of %q is missing", name, w, l)
				}
			}
		}
		if err != nil || runtime.GOOS != "linux" { // man of other systems has no such options
			continue
		}
		man := exec.Command("man", "--warnings", "-l", "-")
		man.Env = append(man.Environ(), "MANWIDTH=80", "LC_ALL=C.UTF-8")
		man.Stdin = strings.NewReader(page)
		var out, errs strings.Builder
		man.Stdout, man.Stderr = &out, &errs
		if err := man.Run(); err != nil || errs.Len() > 0 {
			t.Errorf("%s: man says %v: %s", name, err, errs.String())
		}
	}
}
