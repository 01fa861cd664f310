package main

import (
	"errors"
	"fmt"
	"io"
	"net/url"
	"os"
	"path/filepath"
	"strings"

	"github.com/urfave/cli/v2"

	"tunegate/compare/report"
	"tunegate/compare/report/doc"
)

func commentCommand() *cli.Command {
	return &cli.Command{
		Name:      "comment",
		Usage:     "show what a gate found on the request that CI runs for",
		ArgsUsage: "[FOLDER]",
		Description: `Takes the FOLDER that gate --results left (tuning-gate unless given) and puts it
on the pull or merge request: one comment, which it finds by a hidden mark and
changes in place. It holds the outcome, the tables, where the results are and
what to type next. GitHub and GitLab say in the job's environment which request
it is; the right to comment is a token in TUNEGATE_TOKEN. curl makes the calls.

Whatever lies in the folder is taken for text: it cannot link, mention or command.
A forge that refuses is a warning, so that no verdict depends on it.

Examples:
   tunegate comment tuning-gate
   tunegate comment --print tuning-gate

Exit status: 0 commented, or the forge refused; 2 bad usage or environment.`,
		Flags: flags(
			under(groupWhat, &cli.StringFlag{Name: "artifact", Usage: "take the results from the artifact of this `NAME`, of the run that " +
				"a workflow_run event of GitHub names"}),
			under(groupShow,
				&cli.StringFlag{Name: "page", Usage: "`URL` where the results are", DefaultText: "the page of the CI run"},
				&cli.BoolFlag{Name: "print", Usage: "print the comment, and send nothing", DisableDefaultText: true})),
		OnUsageError:    usageError,
		HideHelpCommand: true,
		Action:          runComment,
	}
}

// commentMark begins every comment; it is how the next one is found.
const commentMark = "<!-- tunegate gate -->"

// agreeLabel is the label by which a maintainer agrees, in the CI files that init writes.
const agreeLabel = "tuning-agreed"

func runComment(c *cli.Context) error {
	folder := "tuning-gate"
	switch {
	case c.NArg() == 1:
		folder = c.Args().First()
	case c.NArg() > 1:
		return fmt.Errorf("expected one folder, found %d arguments", c.NArg())
	}
	if c.NArg() > 0 && c.IsSet("artifact") {
		return errors.New("expected a folder or --artifact, found both")
	}
	if page := c.String("page"); page != "" && !isAddress(page) {
		return fmt.Errorf("--page %q; expected a URL", page)
	}
	if c.Bool("print") && !c.IsSet("artifact") {
		files, err := resultFiles(folder)
		if err != nil {
			return err
		}
		return show(c, func(w io.Writer) error {
			_, err := io.WriteString(w, commentText(files, &forge{page: c.String("page")}))
			return err
		})
	}
	return postComment(c, folder)
}

// postComment makes the comment and sends it.
func postComment(c *cli.Context, folder string) error {
	if !inActions() && !inGitLab() {
		return errors.New("this is no job of GitHub Actions or GitLab CI; --print shows the comment")
	}
	f, e, err := thisJob()
	if err != nil {
		return notCommented(c, err)
	}
	if page := c.String("page"); page != "" {
		f.page = page
	}
	var files map[string]string
	if c.IsSet("artifact") {
		if e.WorkflowRun.ID == 0 {
			return errors.New("--artifact: this job runs for no workflow_run event")
		}
		if files, err = f.artifact(c.String("artifact"), e); err != nil {
			return notCommented(c, f.explained(err))
		}
		if succeeded := e.WorkflowRun.Conclusion == "success"; succeeded != (strings.TrimSpace(files[statusFile]) == "0") {
			files = nil // they are not of this check
		}
	} else if files, err = resultFiles(folder); err != nil {
		return err
	}
	text := commentText(files, f)
	if c.Bool("print") {
		return show(c, func(w io.Writer) error { _, err := io.WriteString(w, text); return err })
	}
	did, err := f.put(commentMark, text)
	if err != nil {
		return notCommented(c, f.explained(err))
	}
	return show(c, func(w io.Writer) error { _, err := fmt.Fprintln(w, did); return err })
}

// inGitLab reports whether this is a job of GitLab CI.
func inGitLab() bool { return os.Getenv("GITLAB_CI") == "true" }

// thisJob is the request that this process runs for.
func thisJob() (*forge, event, error) {
	token := os.Getenv(tokenVariable)
	if token == "" {
		return nil, event{}, fmt.Errorf("there is no %s, the right to comment", tokenVariable)
	}
	if inActions() {
		return githubJob(token)
	}
	f, err := gitlabJob(token)
	return f, event{}, err
}

// notCommented warns: what keeps a comment from being written says nothing about the
// request.
func notCommented(c *cli.Context, err error) error {
	text := "not commented: " + printable(err.Error())
	switch {
	case errors.Is(err, errNoRequest):
		return show(c, func(w io.Writer) error { _, err := fmt.Fprintln(w, text); return err })
	case inActions():
		return report.Warning(c.App.ErrWriter, "tunegate comment", text)
	}
	_, err = fmt.Fprintln(c.App.ErrWriter, "tunegate: "+text)
	return err
}

// explained says which permission is missing, where a refusal may mean that.
func (f *forge) explained(err error) error {
	var refused *refusal
	if errors.As(err, &refused) && (refused.status == 401 || refused.status == 403 || refused.status == 404) {
		return fmt.Errorf("%w; give it the permission: %s", err, f.permission)
	}
	return err
}

// maxResult is how many bytes of a file of results a comment is made of; maxComment how
// long a comment gets (GitHub takes 65,536 characters).
const (
	maxResult  = 1 << 20
	maxComment = 62_000
)

// resultFiles reads what a comment is made of from the folder of --results. What is not
// there is left out.
func resultFiles(folder string) (map[string]string, error) {
	if info, err := os.Stat(folder); err != nil || !info.IsDir() {
		return nil, fmt.Errorf("there is no folder %s; gate --results makes it", folder)
	}
	files := map[string]string{}
	for _, name := range []string{statusFile, markdownFile} {
		f, err := os.Open(filepath.Join(folder, name))
		if errors.Is(err, os.ErrNotExist) {
			continue
		}
		if err != nil {
			return nil, err
		}
		data, err := io.ReadAll(io.LimitReader(f, maxResult+1))
		f.Close()
		if err != nil {
			return nil, err
		}
		files[name] = string(data)
	}
	return files, nil
}

// commentText is the comment on a request: what the results say, made harmless, where
// they are, and what to do next.
func commentText(files map[string]string, f *forge) string {
	page, next := doc.Harmless(files[markdownFile]), ""
	check := "git fetch origin BRANCH && tunegate gate --base origin/BRANCH"
	if plainBranch.MatchString(f.base) {
		check = strings.ReplaceAll(check, "BRANCH", f.base)
	}
	judge := "then judge it before you push: `" + check + "`"
	status := strings.TrimSpace(files[statusFile])
	if files[markdownFile] == "" || len(files[markdownFile]) > maxResult {
		status = ""
	}
	switch status {
	case "0":
	case "1":
		next = "Next: mend what the reasons name, " + judge
	case "2":
		next = "Next: mend what the message names, " + judge
	case "3":
		next = "Next: do what the reasons say, " + judge + ". Where a reason asks for a maintainer's word, the label `" +
			agreeLabel + "` gives it."
	default:
		page = "## ✘ There are no results\n\nThe job left none, or none that fit its check; its log says more.\n"
	}
	if len(page) > maxComment {
		page = page[:maxComment]
		page = doc.Harmless(page[:strings.LastIndexByte(page, '\n')+1]) + "\nCut here; the results have all of it.\n"
	}
	out := commentMark + "\n" + page
	var foot []string
	if isAddress(f.page) {
		where := "Results: <" + f.page + ">"
		if commit.MatchString(f.commit) {
			where += " (of " + f.commit[:7] + ")"
		}
		foot = append(foot, where)
	}
	if next != "" {
		foot = append(foot, next)
	}
	if len(foot) > 0 {
		out += "\n" + strings.Join(foot, "\n\n") + "\n"
	}
	return out
}

// isAddress reports whether a URL can stand between angle brackets.
func isAddress(s string) bool {
	u, err := url.Parse(s)
	return err == nil && (u.Scheme == "https" || u.Scheme == "http") && u.Host != "" && !strings.ContainsAny(s, " <>\"`\\")
}
