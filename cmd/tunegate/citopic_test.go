package main

import (
	"fmt"
	"net/http/httptest"
	"net/url"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"strings"
	"testing"
)

const topicCI = "help/ci.md"

// unpackedRelease is a folder as the topic wants it: the release, the demo's runs, and
// checksums.txt; and a folder with tunegate alone.
func unpackedRelease(t *testing.T, f *playedForge) (folder, bin string) {
	t.Helper()
	folder, bin = t.TempDir(), t.TempDir()
	checksumsFile(t, folder, f.publish(t))
	if err := os.CopyFS(filepath.Join(folder, "fixtures", "demo"), os.DirFS("../../fixtures/demo")); err != nil {
		t.Fatal(err)
	}
	if err := os.WriteFile(filepath.Join(bin, "tunegate"), stampedProgram(t), 0o700); err != nil {
		t.Fatal(err)
	}
	return folder, bin
}

// A stranger who follows the topic to the letter gets from an empty repository to a
// commented request, on GitHub and on GitLab.
func TestTopicCI(t *testing.T) {
	ciTools(t)
	topic := readText(t, topicCI)
	_, steps, _ := strings.Cut(topic, "\n## Step by step\n")
	steps, _, _ = strings.Cut(steps, "\n## What CI downloads\n")
	blocks := codeBlock.FindAllStringSubmatch(steps, -1)
	if len(blocks) != 4 || blocks[0][1] != "sh" || blocks[1][1] != "sh" || blocks[2][1]+blocks[3][1] != "" {
		t.Fatalf("the topic has %q", blocks)
	}
	for _, kind := range []string{ciGitHub, ciGitLab} {
		t.Run(kind, func(t *testing.T) {
			f := playForge(t)
			folder, bin := unpackedRelease(t, f)
			origin := filepath.Join(t.TempDir(), "results.git")
			gitIn(t, ".", "init", "-q", "--bare", "-b", "main", origin)
			forge := "https://forge.example"
			there := []string{"PATH=" + bin + string(os.PathListSeparator) + os.Getenv("PATH"), "GIT_CONFIG_COUNT=1",
				"GIT_CONFIG_KEY_0=url." + origin + ".insteadOf", "GIT_CONFIG_VALUE_0=" + forge + "/studio/results.git"}
			commands := strings.Replace(blocks[0][2], "--ci github", "--ci "+kind, 1) + blocks[1][2]
			c := exec.Command("bash", "-ec", commands)
			c.Dir, c.Env = folder, append(jobEnvironment(), there...)
			if out, err := c.CombinedOutput(); err != nil {
				t.Fatalf("%v: %s", err, out)
			}
			// The request is opened, and CI reads the file of the request.
			merge := filepath.Join(t.TempDir(), "merge")
			gitIn(t, ".", "clone", "-q", origin, merge)
			gitIn(t, merge, "merge", "-q", "--no-ff", "-m", "merge", "origin/boost-lift")
			gitIn(t, merge, "push", "-q", "origin", "HEAD:refs/merges/boost-lift")
			if kind == ciGitHub {
				r := newRunner(t, f, origin, "boost-lift", "", false)
				if status, _ := r.play(parsed[workflow](t, []byte(readText(t, filepath.Join(merge, workflowFile))))); status != "1" {
					t.Fatalf("status %s\n%s", status, &r.log)
				}
			} else {
				homeOfCurl(t, f)
				status, out := playGitLab(t, f, []byte(readText(t, filepath.Join(merge, ".gitlab-ci.yml"))), origin, "boost-lift", "", "sh", true)
				if status != 1 {
					t.Fatalf("status %d\n%s", status, out)
				}
			}
			if len(f.own()) != 1 {
				t.Fatalf("%d comments", len(f.own()))
			}
			got := regexp.MustCompile(`\(of [0-9a-f]{7}\)`).ReplaceAllString(strings.ReplaceAll(f.own()[0], f.URL, forge), "(of 1a2b3c4)")
			got = commitName.ReplaceAllString(strings.TrimPrefix(got, commentMark+"\n"), "")
			end := got[strings.Index(got, "Results: "):]
			if kind == ciGitLab {
				end = strings.Replace(end, "-/jobs/5/artifacts/file/tuning-gate/gate.html", "actions/runs/300", 1)
			}
			lines := strings.SplitAfter(got, "\n")
			begin := strings.Join(lines[:5], "")
			if kind == ciGitHub && *update {
				text := strings.Replace(topic, "begins\n\n"+blocks[2][0], "begins\n\n```\n"+begin+"```\n", 1)
				text = strings.Replace(text, "ends\n\n"+blocks[3][0], "ends\n\n```\n"+end+"```\n", 1)
				if err := os.WriteFile(topicCI, []byte(text), 0o644); err != nil {
					t.Fatal(err)
				}
				topic = text
			} else if !*update && (begin != blocks[2][2] && kind == ciGitHub || end != blocks[3][2]) {
				t.Errorf("the topic shows\n%s...\n%s\nbut the comment is\n%s...\n%s", blocks[2][2], blocks[3][2], begin, end)
			}
		})
	}
}

// homeOfCurl leads curl's downloads from https://forge.example to a forge that is played:
// the file that init writes has that address, as the release was stamped with it.
func homeOfCurl(t *testing.T, f *playedForge) {
	t.Helper()
	secure := httptest.NewTLSServer(f.Config.Handler)
	t.Cleanup(secure.Close)
	at, err := url.Parse(secure.URL)
	if err != nil {
		t.Fatal(err)
	}
	home := t.TempDir()
	// Its certificate is of another name.
	writeIn(t, home, ".curlrc", fmt.Sprintf("connect-to = \"forge.example:443:%s\"\ninsecure\n", at.Host))
	t.Setenv("CURL_HOME", home)
}

// The second workflow that the topic shows is the one that init writes.
func TestTopicCIShowsTheSecondWorkflow(t *testing.T) {
	topic := readText(t, topicCI)
	_, section, _ := strings.Cut(topic, "\n### Requests from forks\n")
	block := codeBlock.FindStringSubmatch(section)
	want := string(ciFile(t, ci{source: source{Action: "OWNER/tunegate/.github/actions/gate@COMMIT"}, Kind: ciGitHub, Upload: uploadAction},
		".github/workflows/tuning-comment.yml"))
	if *update {
		text := strings.Replace(topic, block[0], "```yaml\n"+want+"```\n", 1)
		if err := os.WriteFile(topicCI, []byte(text), 0o644); err != nil {
			t.Fatal(err)
		}
	} else if block[2] != want {
		t.Errorf("the topic shows\n%s\nwant\n%s", block[2], want)
	}
}
