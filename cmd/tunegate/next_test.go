package main

import (
	"os"
	"os/exec"
	"regexp"
	"slices"
	"strings"
	"testing"
)

// The line that compare ends with is typed into a shell as it stands, and does what it
// says for the same arguments: names with blanks, quotes, signs and letters beyond
// ASCII, profiles, a policy, tolerances and choices.
func TestNextCommandWorksAsTyped(t *testing.T) {
	shell, err := exec.LookPath("sh")
	if err != nil {
		t.Skip("there is no shell")
	}
	outsideActions(t)
	demo := map[string]string{}
	for _, name := range []string{"factory", "boost-lift", "cool-curve"} {
		data, err := os.ReadFile("../../fixtures/demo/" + name + ".csv")
		if err != nil {
			t.Fatal(err)
		}
		demo[name] = string(data)
	}
	t.Chdir(t.TempDir())
	for name, content := range map[string]string{
		"factory.csv": demo["factory"], "boost lift.csv": demo["boost-lift"], "it's $HOME.csv": demo["boost-lift"],
		"größe #1.csv": demo["cool-curve"], "runs/factory.csv": demo["factory"], "runs/boost-lift.csv": demo["boost-lift"],
		"-dash.csv": demo["boost-lift"], "my policy.toml": "[[metric]]\nbenchmark = \"*\"\ntolerance = 0.7\n",
	} {
		writeIn(t, ".", name, content)
	}
	next := regexp.MustCompile(`(?m)^Next: (.*)\n\z`)
	for _, c := range []struct {
		args []string
		want string // of the command; empty for none
		says []string
	}{
		{[]string{"factory.csv", "boost lift.csv"}, "reruns", []string{"ray-preview"}},
		{[]string{"factory.csv", "it's $HOME.csv", "--tolerance", "1", "--tolerance", "ray-*=2"}, "reruns",
			[]string{"ray-preview"}},
		{[]string{"factory.csv", "größe #1.csv", "--policy", "my policy.toml"}, "reruns", []string{"scene-scrub"}},
		{[]string{"runs", "--before", "factory", "--after", "boost-lift", "--leave-out", "tile*", "--confidence", "90"}, "reruns",
			[]string{"scene-scrub"}},
		{[]string{"factory.csv", "--", "-dash.csv"}, "reruns", []string{"scene-scrub"}},
		{[]string{"--before", "412 409 415", "--after", "402 405 401", "--unit", "s"}, "reruns", []string{"the benchmark"}},
		{[]string{"factory.csv", "boost lift.csv", "--only", "mesh*"}, "report", nil},
		{[]string{"factory.csv", "boost lift.csv", "--only", "archive*"}, "", nil}, // it failed, and nothing is open
		{[]string{"factory.csv", "boost lift.csv", "--look", "2/2"}, "", nil},
	} {
		_, out, errs := tunegate(append([]string{"compare"}, c.args...)...)
		found := next.FindStringSubmatch(out)
		if found == nil {
			if c.want != "" {
				t.Errorf("%q: no next command in\n%s%s", c.args, out, errs)
			}
			continue
		}
		words, err := exec.Command(shell, "-c", `tunegate() { printf '%s\n' "$@"; }; `+found[1]).Output()
		if err != nil {
			t.Fatalf("%s: %v", found[1], err)
		}
		args := strings.Split(strings.TrimSuffix(string(words), "\n"), "\n")
		if args[0] != c.want {
			t.Errorf("%q: %s, want %q", c.args, found[1], c.want)
		}
		for _, a := range c.args {
			if a != "--" && !slices.Contains(args, a) && !slices.Contains(args, "./"+a) {
				t.Errorf("%q: %s leaves out %s", c.args, found[1], a)
			}
		}
		status, out, errs := tunegate(args...)
		if status != 0 || slices.ContainsFunc(c.says, func(s string) bool { return !strings.Contains(out, s) }) {
			t.Errorf("%s ends with %d, want 0 and %q in\n%s%s", found[1], status, c.says, out, errs)
		}
	}
}
