package main

import (
	"archive/zip"
	"bytes"
	"cmp"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"net/url"
	"os"
	"regexp"
	"strings"
)

// forge is a server of requests (pull or merge requests) as its CI describes it to a
// job, and the request that the job runs for.
type forge struct {
	name       string // for people
	permission string // what a token needs
	headers    []string
	user       string // URL of whose token it is
	comments   string // URL of the request's comments
	one        string // URL below which each of them is
	change     string // the method that changes one

	base   string // the branch to merge into
	commit string // what was judged
	page   string // where people see the job
}

// errNoRequest is a job that runs for no request.
var errNoRequest = errors.New("this job runs for no request")

// tokenVariable is the environment variable that holds the right to comment.
const tokenVariable = "TUNEGATE_TOKEN"

// event is what GitHub says of what happened (its documentation, "Webhook events and
// payloads").
type event struct {
	PullRequest pullRequest `json:"pull_request"`
	WorkflowRun struct {
		ID         int64
		Event      string
		Conclusion string
		HeadSHA    string `json:"head_sha"`
		HeadBranch string `json:"head_branch"`
		Head       struct {
			Owner struct{ Login string }
		} `json:"head_repository"`
	} `json:"workflow_run"`
}

type pullRequest struct {
	Number int
	Base   struct{ Ref string }
	Head   struct{ SHA string }
}

// githubJob reads the environment of a job of GitHub Actions, or of a server that has
// its variables and API.
func githubJob(token string) (*forge, event, error) {
	var e event
	api, repository := os.Getenv("GITHUB_API_URL"), os.Getenv("GITHUB_REPOSITORY")
	if api == "" || repository == "" {
		return nil, e, errors.New("the environment has no GITHUB_API_URL or GITHUB_REPOSITORY")
	}
	data, err := os.ReadFile(os.Getenv("GITHUB_EVENT_PATH"))
	if err != nil {
		return nil, e, fmt.Errorf("cannot read the event of GITHUB_EVENT_PATH: %w", err)
	}
	if err := json.Unmarshal(data, &e); err != nil {
		return nil, e, fmt.Errorf("the event of GITHUB_EVENT_PATH is not as expected: %w", err)
	}
	f := &forge{name: "GitHub", permission: "pull-requests: write", user: api + "/user", change: "PATCH",
		headers: []string{"Authorization: Bearer " + token, "Accept: application/vnd.github+json", "X-GitHub-Api-Version: 2022-11-28"}}
	home := api + "/repos/" + repository
	request, run := e.PullRequest, os.Getenv("GITHUB_RUN_ID")
	if e.WorkflowRun.Event == "pull_request" {
		run = fmt.Sprint(e.WorkflowRun.ID)
		if request, err = f.requestOfRun(home, e); err != nil {
			return nil, e, err
		}
	}
	if request.Number == 0 {
		return nil, e, errNoRequest
	}
	f.comments, f.one = fmt.Sprintf("%s/issues/%d/comments", home, request.Number), home+"/issues/comments"
	f.base, f.commit = request.Base.Ref, request.Head.SHA
	f.page = os.Getenv("GITHUB_SERVER_URL") + "/" + repository + "/actions/runs/" + run
	return f, e, nil
}

// requestOfRun asks for the open request whose last commit a run was of: the event does
// not name it where it comes from a fork.
func (f *forge) requestOfRun(home string, e event) (pullRequest, error) {
	r := e.WorkflowRun
	query := url.Values{"state": {"open"}, "per_page": {"100"}, "head": {r.Head.Owner.Login + ":" + r.HeadBranch}}
	var found []pullRequest
	if err := f.get(home+"/pulls?"+query.Encode(), &found); err != nil {
		return pullRequest{}, err
	}
	for _, p := range found {
		if p.Head.SHA == r.HeadSHA && r.HeadSHA != "" {
			return p, nil
		}
	}
	return pullRequest{}, fmt.Errorf("%w any more: no open one ends at the commit that was judged", errNoRequest)
}

// gitlabJob reads the environment of a job of GitLab CI (its documentation, "Predefined
// CI/CD variables reference").
func gitlabJob(token string) (*forge, error) {
	api, number := os.Getenv("CI_API_V4_URL"), os.Getenv("CI_MERGE_REQUEST_IID")
	project := cmp.Or(os.Getenv("CI_MERGE_REQUEST_PROJECT_ID"), os.Getenv("CI_PROJECT_ID"))
	if number == "" {
		return nil, errNoRequest
	}
	if api == "" || project == "" {
		return nil, errors.New("the environment has no CI_API_V4_URL or CI_PROJECT_ID")
	}
	notes := api + "/projects/" + url.PathEscape(project) + "/merge_requests/" + url.PathEscape(number) + "/notes"
	return &forge{name: "GitLab", permission: "a project access token with the scope api", user: api + "/user", change: "PUT",
		headers: []string{"PRIVATE-TOKEN: " + token}, comments: notes, one: notes,
		base:   os.Getenv("CI_MERGE_REQUEST_TARGET_BRANCH_NAME"),
		commit: cmp.Or(os.Getenv("CI_MERGE_REQUEST_SOURCE_BRANCH_SHA"), os.Getenv("CI_COMMIT_SHA")),
		page:   os.Getenv("CI_PIPELINE_URL")}, nil
}

func (f *forge) get(address string, into any) error {
	answer, err := call{method: "GET", url: address, headers: f.headers}.do()
	if err == nil {
		err = json.Unmarshal(answer, into)
	}
	return err
}

// comment is one on a request, in the forms of both forges.
type comment struct {
	ID   int64
	Body string
	User struct { // GitHub
		Login, Type string
	}
	Author struct{ ID int64 } // GitLab
}

// perPage is how many comments one answer holds, the most that both forges give.
const perPage = 100

// maxPages keeps a server that repeats itself from being asked for ever.
const maxPages = 1000

// own is the first comment that begins with the mark and was written by whose token it
// is; 0 for none. Anybody can write the mark, so that it alone says nothing. GitHub does
// not say whose the token of a job is: it is a bot's, and people are none.
func (f *forge) own(mark string) (id int64, body string, err error) {
	var me struct {
		ID    int64
		Login string
	}
	var refused *refusal
	if err := f.get(f.user, &me); err != nil && !(f.name == "GitHub" && errors.As(err, &refused)) {
		return 0, "", err
	}
	for page := 1; page <= maxPages; page++ {
		var found []comment
		if err := f.get(fmt.Sprintf("%s?per_page=%d&page=%d", f.comments, perPage, page), &found); err != nil {
			return 0, "", err
		}
		for _, c := range found {
			mine := c.Author.ID == me.ID && me.ID != 0
			if f.name == "GitHub" {
				mine = c.User.Login == me.Login && me.Login != "" || me.Login == "" && c.User.Type == "Bot"
			}
			if mine && strings.HasPrefix(c.Body, mark) {
				return c.ID, c.Body, nil
			}
		}
		if len(found) < perPage {
			return 0, "", nil
		}
	}
	return 0, "", fmt.Errorf("the request has more than %d comments", maxPages*perPage)
}

// put writes the comment that begins with the mark, or changes the one that is there. It
// returns what it did.
func (f *forge) put(mark, body string) (did string, err error) {
	id, old, err := f.own(mark)
	if err != nil {
		return "", err
	}
	if strings.TrimSpace(old) == strings.TrimSpace(body) {
		return "the comment says so already", nil
	}
	text, err := json.Marshal(map[string]string{"body": body})
	if err != nil {
		return "", err
	}
	if id == 0 {
		_, err = call{"POST", f.comments, f.headers, text}.do()
		return "commented", err
	}
	_, err = call{f.change, fmt.Sprintf("%s/%d", f.one, id), f.headers, text}.do()
	return "changed the comment", err
}

// maxArtifact is how large an artifact, and a file in it, may be.
const maxArtifact = 16 << 20

// artifact reads the results that a run of a workflow kept. Whoever opens a request
// decides what lies in it, so that it is read in memory and within bounds.
func (f *forge) artifact(name string, e event) (map[string]string, error) {
	home := os.Getenv("GITHUB_API_URL") + "/repos/" + os.Getenv("GITHUB_REPOSITORY") + "/actions"
	var list struct {
		Artifacts []struct {
			ID      int64
			Name    string
			Size    int64 `json:"size_in_bytes"`
			Expired bool
		}
	}
	address := fmt.Sprintf("%s/runs/%d/artifacts?per_page=100&name=%s", home, e.WorkflowRun.ID, url.QueryEscape(name))
	if err := f.get(address, &list); err != nil {
		return nil, err
	}
	for _, a := range list.Artifacts {
		if a.Name != name || a.Expired {
			continue
		}
		if a.Size > maxArtifact {
			return nil, fmt.Errorf("the artifact %s has %d bytes, more than %d", name, a.Size, maxArtifact)
		}
		packed, err := call{method: "GET", url: fmt.Sprintf("%s/artifacts/%d/zip", home, a.ID), headers: f.headers}.do()
		if err != nil {
			return nil, err
		}
		return unpacked(packed)
	}
	return nil, nil
}

// unpacked are the files of an archive that a comment is made of.
func unpacked(packed []byte) (map[string]string, error) {
	archive, err := zip.NewReader(bytes.NewReader(packed), int64(len(packed)))
	if err != nil {
		return nil, fmt.Errorf("the artifact: %w", err)
	}
	files := map[string]string{}
	for _, file := range archive.File {
		if file.Name != statusFile && file.Name != markdownFile {
			continue
		}
		content, err := file.Open()
		if err != nil {
			return nil, fmt.Errorf("the artifact: %w", err)
		}
		data, err := io.ReadAll(io.LimitReader(content, maxResult+1))
		content.Close()
		if err != nil {
			return nil, fmt.Errorf("the artifact: %w", err)
		}
		files[file.Name] = string(data)
	}
	return files, nil
}

// plainBranch is a branch's name that can stand in a command as it is.
var plainBranch = regexp.MustCompile(`^\w[\w./-]*$`)
