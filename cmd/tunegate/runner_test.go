package main

import (
	"bytes"
	"encoding/json"
	"fmt"
	"maps"
	"os"
	"os/exec"
	"path/filepath"
	"reflect"
	"regexp"
	"slices"
	"strings"
	"testing"

	"gopkg.in/yaml.v3"
)

// What a workflow and an action of GitHub may hold, as far as ours do. Anything else in
// them is an error (GitHub's documentation, "Workflow syntax" and "Metadata syntax").
type workflow struct {
	Name        string
	On          map[string]any
	Permissions map[string]string
	Concurrency map[string]any
	Jobs        map[string]job
}

type job struct {
	RunsOn      string `yaml:"runs-on"`
	Timeout     int    `yaml:"timeout-minutes"`
	If          string
	Needs       string
	Permissions map[string]string
	Outputs     map[string]string
	Steps       []step
}

type step struct {
	ID, Name, If, Uses, Run, Shell string
	With, Env                      map[string]string
}

type action struct {
	Name, Description string
	Inputs            map[string]struct {
		Description, Default string
	}
	Outputs map[string]struct {
		Description, Value string
	}
	Runs struct {
		Using string
		Steps []step
	}
}

// parsed reads YAML into a value, and fails on what the value has no place for.
func parsed[T any](t *testing.T, data []byte) (v T) {
	t.Helper()
	d := yaml.NewDecoder(bytes.NewReader(data))
	d.KnownFields(true)
	if err := d.Decode(&v); err != nil {
		t.Fatalf("%v in\n%s", err, data)
	}
	return v
}

// playedRunner runs workflows as GitHub's does: variables, event file, output and
// summary files, tokens with the rights of the job, expressions.
type playedRunner struct {
	t          *testing.T
	forge      *playedForge
	origin     string // the repository of results
	event      map[string]any
	name       string // of the event
	run        int
	fork       bool // its tokens may only read, whatever a workflow says
	system     string
	summaries  []string
	log        bytes.Buffer
	downloaded bool           // tunegate was fetched as a release
	last       map[string]any // outputs of the last job
}

// play runs a workflow and returns whether all of it succeeded.
func (r *playedRunner) play(w workflow) (status string, success bool) {
	r.t.Helper()
	if _, wanted := w.On[r.name]; !wanted {
		r.t.Fatalf("the workflow does not run on %s", r.name)
	}
	outputs, success := map[string]any{}, true
	done := map[string]bool{}
	for len(done) < len(w.Jobs) {
		for _, name := range slices.Sorted(maps.Keys(w.Jobs)) {
			j := w.Jobs[name]
			if done[name] || j.Needs != "" && !done[j.Needs] {
				continue
			}
			done[name] = true
			scope := map[string]any{"github": r.github(), "needs": outputs, "runner": map[string]any{}}
			if j.If == "" && !success || j.If != "" && !truth(r.evaluate(j.If, scope)) {
				continue
			}
			rights := j.Permissions
			if rights == nil {
				rights = w.Permissions
			}
			out, ok := r.playJob(j, rights, scope)
			outputs[name] = map[string]any{"outputs": out}
			success = success && ok
			if s, is := out["status"].(string); is {
				status = s
			}
		}
	}
	return status, success
}

func (r *playedRunner) github() map[string]any {
	return map[string]any{"event": r.event, "event_name": r.name, "repository": "studio/results", "action_repository": "", "action_ref": ""}
}

func (r *playedRunner) playJob(j job, rights map[string]string, scope map[string]any) (map[string]any, bool) {
	r.t.Helper()
	if j.RunsOn != "ubuntu-latest" || j.Timeout == 0 {
		r.t.Errorf("job on %q for at most %d minutes", j.RunsOn, j.Timeout)
	}
	right := "read"
	if rights["pull-requests"] == "write" && !r.fork {
		right = "write"
	}
	token := r.forge.newToken(right)
	for right, may := range rights {
		if want := map[string]string{"contents": "read", "actions": "read", "pull-requests": "write"}[right]; may != want {
			r.t.Errorf("a job may %s: %s", right, may)
		}
	}
	scope["github"].(map[string]any)["token"] = token
	temp, workspace := filepath.Join(r.t.TempDir(), "runner temp"), filepath.Join(r.t.TempDir(), "results")
	for _, dir := range []string{temp, workspace} {
		if err := os.MkdirAll(dir, 0o755); err != nil {
			r.t.Fatal(err)
		}
	}
	scope["runner"] = map[string]any{"temp": temp}
	summary := filepath.Join(temp, "summary.md")
	env := []string{"GITHUB_ACTIONS=true", "GITHUB_API_URL=" + r.forge.URL + "/hub", "GITHUB_SERVER_URL=" + r.forge.URL,
		"GITHUB_REPOSITORY=studio/results", "GITHUB_EVENT_NAME=" + r.name, "GITHUB_EVENT_PATH=" + filepath.Join(temp, "event.json"),
		"GITHUB_STEP_SUMMARY=" + summary, fmt.Sprintf("GITHUB_RUN_ID=%d", r.run), "RUNNER_TEMP=" + temp, "RUNNER_OS=Linux",
		"RUNNER_ARCH=" + r.system, "GITHUB_WORKSPACE=" + workspace}
	if p, ok := r.event["pull_request"].(map[string]any); ok {
		env = append(env, "GITHUB_BASE_REF="+p["base"].(map[string]any)["ref"].(string))
	}
	event, err := json.Marshal(r.event)
	if err != nil {
		r.t.Fatal(err)
	}
	writeIn(r.t, temp, "event.json", string(event))
	scope["steps"] = map[string]any{}
	ok := r.playSteps(j.Steps, place{temp: temp, workspace: workspace, env: env}, scope)
	if data, err := os.ReadFile(summary); err == nil {
		r.summaries = append(r.summaries, string(data))
	}
	out := map[string]any{}
	for name, value := range j.Outputs {
		out[name] = r.filled(value, scope)
	}
	r.last = out
	return out, ok
}

// place is where steps run.
type place struct {
	temp, workspace string
	env             []string
	composite       bool
}

func (r *playedRunner) playSteps(steps []step, at place, scope map[string]any) bool {
	r.t.Helper()
	success := true
	for i, s := range steps {
		if s.If == "" && !success || s.If != "" && (!truth(r.evaluate(s.If, scope)) || !success && !strings.Contains(s.If, "always()")) {
			continue
		}
		outputs := map[string]any{}
		with := map[string]string{}
		for name, value := range s.With {
			with[name] = r.filled(value, scope)
		}
		ok := true
		switch uses, ref, _ := strings.Cut(s.Uses, "@"); {
		case s.Run != "":
			outputs, ok = r.playScript(s, i, at, scope)
		case uses == "actions/checkout":
			r.checkout(at.workspace, with)
		case uses == "actions/setup-go": // Go is here
		case uses == "studio/upload":
			r.keep(with)
		case strings.HasPrefix(uses, "studio/tunegate/.github/actions/"):
			outputs, ok = r.playAction(strings.TrimPrefix(uses, "studio/tunegate/"), ref, with, at, scope)
		default:
			r.t.Fatalf("unknown step %+v", s)
		}
		if s.ID != "" {
			scope["steps"].(map[string]any)[s.ID] = map[string]any{"outputs": outputs}
		}
		success = success && ok
	}
	return success
}

// playAction runs a composite action of this repository.
func (r *playedRunner) playAction(folder, ref string, with map[string]string, at place, outer map[string]any) (map[string]any, bool) {
	r.t.Helper()
	path, err := filepath.Abs(filepath.Join("..", "..", folder))
	if err != nil {
		r.t.Fatal(err)
	}
	a := parsed[action](r.t, []byte(readText(r.t, filepath.Join(path, "action.yml"))))
	github := maps.Clone(outer["github"].(map[string]any))
	github["action_path"], github["action_repository"], github["action_ref"] = path, "studio/tunegate", ref
	scope := map[string]any{"github": github, "runner": outer["runner"], "steps": map[string]any{}}
	inputs := map[string]any{}
	for name, in := range a.Inputs {
		inputs[name] = r.filled(in.Default, scope)
		if v, given := with[name]; given {
			inputs[name] = v
		}
		delete(with, name)
	}
	if len(with) > 0 || a.Runs.Using != "composite" {
		r.t.Errorf("%s has no inputs %v", folder, with)
	}
	scope["inputs"] = inputs
	at.env, at.composite = append(slices.Clone(at.env), "GITHUB_ACTION_PATH="+path), true
	ok := r.playSteps(a.Runs.Steps, at, scope)
	if fetched, _ := r.evaluate("steps.fetch.outputs.fetched", scope).(string); fetched == "true" {
		r.downloaded = true
	}
	out := map[string]any{}
	for name, o := range a.Outputs {
		out[name] = r.filled(o.Value, scope)
	}
	return out, ok
}

// playScript runs the script of a step.
func (r *playedRunner) playScript(s step, i int, at place, scope map[string]any) (map[string]any, bool) {
	r.t.Helper()
	if strings.Contains(s.Run, "${{") {
		r.t.Errorf("a value becomes part of a script: %s", s.Run)
	}
	output, script := filepath.Join(at.temp, fmt.Sprintf("output-%d", i)), filepath.Join(at.temp, fmt.Sprintf("script-%d.sh", i))
	for _, name := range []string{output, script} {
		if err := os.WriteFile(name, nil, 0o600); err != nil {
			r.t.Fatal(err)
		}
	}
	writeIn(r.t, at.temp, filepath.Base(script), s.Run)
	args := []string{"-e", script}
	if at.composite != (s.Shell == "bash") {
		r.t.Errorf("the shell is %q: %s", s.Shell, s.Run)
	}
	if s.Shell == "bash" {
		args = []string{"--noprofile", "--norc", "-eo", "pipefail", script}
	}
	c := exec.Command("bash", args...)
	c.Dir, c.Env = at.workspace, append(append(jobEnvironment(), at.env...), "GITHUB_OUTPUT="+output)
	for name, value := range s.Env {
		v := r.filled(value, scope)
		if len(name)+len(v) >= 128<<10 {
			r.t.Errorf("%s is too long for Linux", name)
		}
		c.Env = append(c.Env, name+"="+v)
	}
	out, err := c.CombinedOutput()
	r.log.Write(out)
	return r.outputs(readText(r.t, output)), err == nil
}

// jobEnvironment is what a job inherits: nothing of the CI that this test may run in.
func jobEnvironment() []string {
	env := slices.DeleteFunc(os.Environ(), func(v string) bool {
		return strings.HasPrefix(v, "GITHUB_") || strings.HasPrefix(v, "CI_") || strings.HasPrefix(v, "GITLAB_") ||
			strings.HasPrefix(v, "TUNEGATE_TOKEN=") || strings.HasPrefix(v, "RUNNER_")
	})
	return append(env, gitIdentity...)
}

var heredoc = regexp.MustCompile(`^(\w+)<<(.+)$`)

// outputs reads a step's output file.
func (r *playedRunner) outputs(text string) map[string]any {
	out := map[string]any{}
	lines := strings.Split(text, "\n")
	for i := 0; i < len(lines); i++ {
		if m := heredoc.FindStringSubmatch(lines[i]); m != nil {
			end := slices.Index(lines[i+1:], m[2])
			if end < 0 {
				r.t.Fatalf("an output does not end: %q", text)
			}
			out[m[1]] = strings.Join(lines[i+1:i+1+end], "\n")
			i += 1 + end
		} else if name, value, ok := strings.Cut(lines[i], "="); ok {
			out[name] = value
		} else if lines[i] != "" {
			r.t.Errorf("no output: %q", lines[i])
		}
	}
	return out
}

// checkout gets the merge of a request as the action of that name does, with as many
// commits as it is asked for.
func (r *playedRunner) checkout(folder string, with map[string]string) {
	r.t.Helper()
	if with["persist-credentials"] != "false" {
		r.t.Error("the checkout leaves a token behind")
	}
	what := "+refs/pull/7/merge:refs/remotes/pull/7/merge" // a push has the same files here
	args := []string{"fetch", "-q", "origin", "+refs/heads/*:refs/remotes/origin/*", what}
	if with["fetch-depth"] != "0" {
		args = []string{"fetch", "-q", "--depth=1", "origin", what}
	}
	gitIn(r.t, folder, "init", "-q")
	gitIn(r.t, folder, "remote", "add", "origin", "file://"+r.origin)
	gitIn(r.t, folder, args...)
	gitIn(r.t, folder, "checkout", "-q", "refs/remotes/pull/7/merge")
}

// keep is an action that uploads a folder.
func (r *playedRunner) keep(with map[string]string) {
	r.t.Helper()
	files := map[string][]byte{}
	found, err := os.ReadDir(with["path"])
	if err != nil || with["name"] != "tuning-gate" {
		r.t.Errorf("upload of %v: %v", with, err)
	}
	for _, f := range found {
		files[f.Name()] = []byte(readText(r.t, filepath.Join(with["path"], f.Name())))
	}
	r.forge.with(func(f *playedForge) { f.artifacts[r.run] = files })
}

var expression = regexp.MustCompile(`\$\{\{(.*?)\}\}`)

// filled replaces expressions in a text.
func (r *playedRunner) filled(text string, scope map[string]any) string {
	return expression.ReplaceAllStringFunc(text, func(e string) string {
		v := r.evaluate(expression.FindStringSubmatch(e)[1], scope)
		if v == nil {
			return ""
		}
		return fmt.Sprint(v)
	})
}

// evaluate works out an expression (GitHub's documentation, "Evaluate expressions in
// workflows and actions").
func (r *playedRunner) evaluate(text string, scope map[string]any) any {
	p := &expressionParser{r: r, scope: scope, tokens: regexp.MustCompile(`'[^']*'|[\w.*-]+|&&|\|\||==|!=|[(),]`).FindAllString(text, -1)}
	if joined := strings.Join(p.tokens, ""); joined != strings.ReplaceAll(strings.TrimSpace(text), " ", "") {
		r.t.Fatalf("no expression: %q", text)
	}
	v := p.or()
	if len(p.tokens) > 0 {
		r.t.Fatalf("after an expression: %q in %q", p.tokens, text)
	}
	return v
}

type expressionParser struct {
	r      *playedRunner
	scope  map[string]any
	tokens []string
}

func (p *expressionParser) next(want ...string) string {
	if len(p.tokens) == 0 || len(want) > 0 && !slices.Contains(want, p.tokens[0]) {
		return ""
	}
	t := p.tokens[0]
	p.tokens = p.tokens[1:]
	return t
}

func (p *expressionParser) or() any {
	v := p.and()
	for p.next("||") != "" {
		if w := p.and(); !truth(v) {
			v = w
		}
	}
	return v
}

func (p *expressionParser) and() any {
	v := p.equal()
	for p.next("&&") != "" {
		if w := p.equal(); truth(v) {
			v = w
		}
	}
	return v
}

func (p *expressionParser) equal() any {
	v := p.value()
	if sign := p.next("==", "!="); sign != "" {
		return reflect.DeepEqual(v, p.value()) == (sign == "==")
	}
	return v
}

func (p *expressionParser) value() any {
	t := p.next()
	switch {
	case t == "(":
		v := p.or()
		p.next(")")
		return v
	case strings.HasPrefix(t, "'"):
		return strings.Trim(t, "'")
	case t == "always":
		p.next("(")
		p.next(")")
		return true
	case t == "contains":
		p.next("(")
		all := p.or()
		p.next(",")
		one := p.or()
		p.next(")")
		list, _ := all.([]any)
		return slices.Contains(list, one)
	}
	path := strings.Split(t, ".")
	if p.scope[path[0]] == nil {
		p.r.t.Fatalf("unknown %q", t)
	}
	return lookUp(p.scope, path)
}

func lookUp(v any, path []string) any {
	for i, name := range path {
		if list, ok := v.([]any); ok && name == "*" {
			var out []any
			for _, e := range list {
				out = append(out, lookUp(e, path[i+1:]))
			}
			return out
		}
		m, ok := v.(map[string]any)
		if !ok {
			return nil
		}
		v = m[name]
	}
	return v
}

func truth(v any) bool { return v != nil && v != "" && v != false }
