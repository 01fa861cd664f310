package intake

import (
	"bufio"
	"bytes"
	"context"
	"errors"
	"fmt"
	"io"
	"os"
	"os/exec"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"time"

	"tunegate/compare/internal/pattern"
)

// git runs the program git in one folder. Nothing that a repository holds or
// configures is run by it, and nothing is fetched: see gitSettings and
// gitEnvironment. Every value from outside that reaches an argument is either
// checked (revision) or stands behind --.
type git struct {
	program string // absolute path
	dir     string
	bare    string        // the bare repository that it works in; empty: the one that dir lies in
	merges  bool          // knows merge-tree --write-tree
	limit   time.Duration // for each answer
}

// answerLimit is how long git may take for one answer: far more than the
// largest repository needs, so that a build server's job ends by itself.
const answerLimit = 2 * time.Minute

// gitSettings are stronger than every configuration file.
var gitSettings = []string{
	"core.fsmonitor=false", // a program that the configuration names
	"core.untrackedCache=false",
	"core.hooksPath=" + os.DevNull,
	"core.pager=cat",
	"diff.external=",
	"protocol.allow=never",
	"submodule.recurse=false",
	"safe.bareRepository=explicit", // a folder made to look like a repository is none
	"core.warnAmbiguousRefs=true",  // resolve looks for the warning
	"advice.graftFileDeprecated=false",
}

// gitEnvironment is what git gets on top of the environment without its own
// variables.
var gitEnvironment = []string{
	"GIT_TERMINAL_PROMPT=0",
	"GIT_ASKPASS=", "SSH_ASKPASS=",
	"GIT_OPTIONAL_LOCKS=0",
	"GIT_NO_LAZY_FETCH=1",
	"GIT_ALLOW_PROTOCOL=none", // versions that do not know the line above can fetch nothing either
	"GIT_NO_REPLACE_OBJECTS=1",
	"GIT_GRAFT_FILE=" + os.DevNull,
	"GIT_LITERAL_PATHSPECS=1",
	"GIT_PAGER=cat", "PAGER=cat",
	"LC_ALL=C", "LANGUAGE=C", // resolve and others read messages
}

// gitVariablesKept are the variables of git's own that stay: where its
// configuration and its parts lie, and how far it may look for a repository.
// GIT_DIR and its like, which git sets for hooks, would point it elsewhere.
var gitVariablesKept = pattern.Lazy(`^GIT_(CONFIG_(GLOBAL|SYSTEM|NOSYSTEM|COUNT|KEY_[0-9]+|VALUE_[0-9]+)|` +
	`EXEC_PATH|CEILING_DIRECTORIES|DISCOVERY_ACROSS_FILESYSTEM)$`)

func environmentForGit(environ []string) []string {
	var out []string
	for _, entry := range environ {
		name, _, _ := strings.Cut(entry, "=")
		name = strings.ToUpper(name) // Windows ignores the case
		if !strings.HasPrefix(name, "GIT_") || gitVariablesKept().MatchString(name) {
			out = append(out, entry)
		}
	}
	return append(out, gitEnvironment...)
}

// findGit finds the program; a git in the current folder is never taken.
func findGit() (string, error) {
	program, err := exec.LookPath("git")
	if err != nil {
		return "", fmt.Errorf("git is not installed, or not on the PATH; install it (git-scm.com, or your system's packages) and run this "+
			"again: %w", err)
	}
	return program, nil
}

// gitError is a git that ended with an error.
type gitError struct {
	command string
	status  int    // -1 where it was ended by a signal
	message string // its error output on one line
}

func (e *gitError) Error() string {
	message := e.message
	if message == "" {
		message = "without a word"
	}
	if e.status < 0 {
		return fmt.Sprintf("git %s was ended by the system: %s", e.command, message)
	}
	return fmt.Sprintf("git %s ended with status %d: %s", e.command, e.status, message)
}

// refused reports whether git ended with the status, rather than not at all.
func refused(err error, status int) bool {
	var e *gitError
	return errors.As(err, &e) && e.status == status
}

func (g git) command(ctx context.Context, args ...string) *exec.Cmd {
	var all []string
	for _, s := range gitSettings {
		all = append(all, "-c", s)
	}
	env := environmentForGit(os.Environ())
	if g.bare != "" {
		all = append(all, "-c", "core.attributesFile="+os.DevNull, "--git-dir="+g.bare)
		env = withoutConfiguration(env)
	}
	c := exec.CommandContext(ctx, g.program, append(all, args...)...)
	c.Dir = g.dir
	c.Env = env
	c.WaitDelay = 2 * time.Second // for a child of git that holds the pipes open
	return c
}

// withLimit is a context that ends once git has taken too long, with an error
// that says so.
func (g git) withLimit(ctx context.Context) (context.Context, context.CancelFunc) {
	return context.WithTimeoutCause(ctx, g.limit, g.tooLong())
}

func (g git) tooLong() error {
	return fmt.Errorf("it took longer than the %v that git is given for one answer; try git status and git fsck there", g.limit)
}

// run returns what git prints and what it says beside it.
func (g git) run(ctx context.Context, args ...string) (out []byte, message string, err error) {
	ctx, stop := g.withLimit(ctx)
	defer stop()
	c := g.command(ctx, args...)
	var stdout, stderr bytes.Buffer
	c.Stdout, c.Stderr = &stdout, &stderr
	err = c.Run()
	message = oneLine(stderr.String())
	return stdout.Bytes(), message, gitFailure(ctx, args[0], message, err)
}

// gitFailure tells apart a git that was stopped, one that could not be run and
// one that failed; nil where err is.
func gitFailure(ctx context.Context, command, message string, err error) error {
	var exit *exec.ExitError
	switch {
	case err == nil:
		return nil
	case ctx.Err() != nil:
		return fmt.Errorf("git %s was stopped: %w", command, context.Cause(ctx))
	case errors.As(err, &exit):
		return &gitError{command, exit.ExitCode(), message}
	}
	return fmt.Errorf("git %s could not be run: %w", command, err)
}

// oneLine brings what git says onto one line of bounded length.
func oneLine(s string) string {
	s = strings.ToValidUTF8(strings.Join(strings.Fields(s), " "), "\uFFFD")
	if r := []rune(s); len(r) > 600 {
		s = string(r[:600]) + "..."
	}
	return s
}

// checkVersion wants a git that knows rev-parse --end-of-options, and finds out
// whether it can merge without a work tree.
func (g *git) checkVersion(ctx context.Context) error {
	out, _, err := g.run(ctx, "version")
	if err != nil {
		return err
	}
	m := regexp.MustCompile(`^git version (\d+)\.(\d+)`).FindSubmatch(out)
	if m == nil {
		return fmt.Errorf("%s does not answer as git does: %s", g.program, excerpt(string(out)))
	}
	major, _ := strconv.Atoi(string(m[1]))
	minor, _ := strconv.Atoi(string(m[2]))
	if major < 2 || major == 2 && minor < 30 {
		return fmt.Errorf("git %s.%s is too old, expected 2.30 or later; update git", m[1], m[2])
	}
	g.merges = major > 2 || minor >= 38
	return nil
}

var (
	objectID = pattern.Lazy(`^([0-9a-f]{40}|[0-9a-f]{64})$`)
	hashLike = pattern.Lazy(`^[0-9a-fA-F]{7,64}$`)
	plainRef = pattern.Lazy(`^[A-Za-z0-9_][A-Za-z0-9_./+-]*$`)
)

// revision is a commit, and how it is called on the screen.
type revision struct {
	commit string
	shown  string
}

// resolve finds the commit that a revision from outside names. A branch that
// exists only as the branch of one remote is found by its own name, too, as in a
// checkout by a build server. Where a tag bears the name of a branch it is an
// error: otherwise the right to push a tag would be the right to choose what the
// name means.
func (g git) resolve(ctx context.Context, rev string) (revision, error) {
	switch {
	case rev == "":
		return revision{}, errors.New("found an empty revision; expected a branch, a tag or a commit, such as main")
	case strings.HasPrefix(rev, "-"):
		return revision{}, fmt.Errorf("%s is no revision, since it begins with a dash; expected a branch, a tag or a commit, such as main",
			excerpt(rev))
	case strings.ContainsAny(rev, "\x00\r\n"):
		return revision{}, fmt.Errorf("%s is no revision, since it holds a line break or a zero byte; expected a branch, a tag or a "+
			"commit, such as main", excerpt(rev))
	}
	name, suffix := splitRevision(rev)
	refs, err := g.refs(ctx, name)
	if err != nil {
		return revision{}, err
	}
	// What git takes without looking further: a ref in full, a hash in full.
	full := headName(name) || slices.Contains(refs, name) || objectID().MatchString(name)
	tag := slices.Contains(refs, "refs/tags/"+name)
	here, remote := branchesNamed(refs, name)
	if branches := slices.Concat(here, remote); tag && len(branches) > 0 && !full {
		return revision{}, fmt.Errorf("%s names both a tag and a branch; write which: %s", excerpt(rev),
			strings.Join(append(branches, "refs/tags/"+name), " or "))
	}
	commit, message, err := g.commit(ctx, rev)
	shown := rev
	if refused(err, 128) && !full && !tag && len(here) == 0 && len(remote) == 1 {
		full = true
		shown = strings.TrimPrefix(remote[0], "refs/remotes/") + suffix
		commit, message, err = g.commit(ctx, remote[0]+suffix)
	}
	switch {
	case refused(err, 128) && !full && !tag && len(here) == 0 && len(remote) > 1:
		return revision{}, fmt.Errorf("%s is a branch of several remotes; write which: %s", excerpt(rev), strings.Join(remote, " or "))
	case refused(err, 128):
		return revision{}, g.unknownRevision(ctx, rev, name, suffix != "" && (tag || len(here)+len(remote) > 0), err)
	case err != nil:
		return revision{}, err
	case !full && strings.Contains(message, "is ambiguous"):
		return revision{}, fmt.Errorf("%s names more than one thing; write it in full, such as refs/heads/main or refs/remotes/origin/main (%s)",
			excerpt(rev), message)
	}
	return revision{commit, shown}, nil
}

func headName(name string) bool { return name == "HEAD" || name == "@" }

// splitRevision parts the name of "main~2" or "main@{1}" from the rest.
func splitRevision(rev string) (name, suffix string) {
	end := len(rev)
	for _, mark := range []string{"~", "^", ":", "@{"} {
		if i := strings.Index(rev, mark); i >= 0 {
			end = min(end, i)
		}
	}
	return rev[:end], rev[end:]
}

// refs lists the refs that end in /name, or are the name.
func (g git) refs(ctx context.Context, name string) ([]string, error) {
	if name == "" {
		return nil, nil
	}
	out, _, err := g.run(ctx, "show-ref", "--", name)
	if err != nil && !refused(err, 1) { // 1: there are none
		return nil, err
	}
	var refs []string
	for _, line := range strings.Split(string(out), "\n") {
		if _, ref, ok := strings.Cut(line, " "); ok {
			refs = append(refs, ref)
		}
	}
	return refs, nil
}

// branchesNamed keeps the branches of exactly this name: those that git finds
// by it, and those of a remote, which it finds by the remote's name before it.
func branchesNamed(refs []string, name string) (here, remote []string) {
	for _, ref := range refs {
		below, _ := strings.CutPrefix(ref, "refs/remotes/")
		_, branch, _ := strings.Cut(below, "/")
		switch {
		case ref == "refs/heads/"+name || ref == "refs/remotes/"+name:
			here = append(here, ref)
		case below != ref && branch == name:
			remote = append(remote, ref)
		}
	}
	return here, remote
}

// commit is the hash of the commit that rev names to git.
func (g git) commit(ctx context.Context, rev string) (hash, message string, err error) {
	out, message, err := g.run(ctx, "rev-parse", "--verify", "--end-of-options", rev+"^{commit}")
	if err != nil {
		return "", message, err
	}
	hash = strings.TrimSpace(string(out))
	if !objectID().MatchString(hash) { // ^main: not a commit, but all others
		return "", message, &gitError{"rev-parse", 128, "found " + excerpt(hash)}
	}
	return hash, message, nil
}

// unknownRevision says what to run so that the revision is there.
func (g git) unknownRevision(ctx context.Context, rev, name string, known bool, cause error) error {
	what := fmt.Sprintf("git knows no commit %s here", excerpt(rev))
	remote, err := g.remote(ctx)
	if err != nil {
		return err
	}
	shallow, err := g.shallow(ctx)
	if err != nil {
		return err
	}
	branch := name
	for _, prefix := range []string{"refs/heads/", "refs/remotes/", remote + "/"} {
		branch = strings.TrimPrefix(branch, prefix)
	}
	there := known || headName(name) // only what stands behind the name is not
	switch {
	case there && shallow && remote != "":
		what += ", and the clone is shallow; run: git fetch --unshallow " + remote
	case there:
		what += "; check what stands behind the name"
	case remote == "":
		what += ", and the repository has no remote to get it from; check the name (git branch lists the branches)"
	case hashLike().MatchString(name):
		what += fmt.Sprintf("; check it, or run: git fetch %s %s", remote, name)
	case plainRef().MatchString(branch):
		what += fmt.Sprintf("; check the name, or run: git fetch %s %s:refs/remotes/%[1]s/%[2]s", remote, branch)
	default:
		what += "; check the name (git branch --all lists the branches)"
	}
	return withCause(what, cause)
}

// withCause adds why git refused a commit, where it says more than that there
// is none.
func withCause(what string, cause error) error {
	if strings.HasSuffix(cause.Error(), ": fatal: Needed a single revision") {
		return errors.New(what)
	}
	return fmt.Errorf("%s: %w", what, cause)
}

// remote is the remote to fetch from: origin, or the first; empty without one.
func (g git) remote(ctx context.Context) (string, error) {
	out, _, err := g.run(ctx, "remote")
	remotes := strings.Fields(string(out))
	switch {
	case err != nil || len(remotes) == 0:
		return "", err
	case slices.Contains(remotes, "origin"):
		return "origin", nil
	}
	return remotes[0], nil
}

func (g git) shallow(ctx context.Context) (bool, error) {
	out, _, err := g.run(ctx, "rev-parse", "--is-shallow-repository")
	return strings.TrimSpace(string(out)) == "true", err
}

// mergeBase is the commit from which head has grown apart from base.
func (g git) mergeBase(ctx context.Context, base, head revision) (string, error) {
	out, _, err := g.run(ctx, "merge-base", "--end-of-options", base.commit, head.commit)
	hash := strings.TrimSpace(string(out))
	switch {
	case err == nil && objectID().MatchString(hash):
		return hash, nil
	case err == nil:
		return "", fmt.Errorf("git merge-base printed %s, expected a hash", excerpt(hash))
	case !refused(err, 1) && !refused(err, 128):
		return "", err
	}
	shallow, shallowErr := g.shallow(ctx)
	remote, remoteErr := g.remote(ctx)
	if err := errors.Join(shallowErr, remoteErr); err != nil {
		return "", err
	}
	what := fmt.Sprintf("%s and %s have no merge base", base.shown, head.shown)
	switch {
	case shallow && remote != "":
		return "", fmt.Errorf("%s in this shallow clone; run: git fetch --unshallow %s", what, remote)
	case shallow:
		return "", fmt.Errorf("%s in this shallow clone, which has no remote to get the rest from; clone it anew", what)
	case refused(err, 128):
		return "", fmt.Errorf("%s: %w", what, err)
	}
	return "", fmt.Errorf("%s: their histories never met; name a base that the changes grew from", what)
}

// treeEntry is a file, a link or a submodule of a tree, of the index or, with
// no mode, of the work tree.
type treeEntry struct {
	path    string // from the top of the repository, as bytes
	mode    string // as git writes it: 100644
	object  string
	skipped bool // git keeps it off the disk: a sparse checkout
}

const (
	linkMode      = "120000"
	submoduleMode = "160000"
)

// tree lists what a commit, or a tree, has at the paths and below; all of it
// where there are no paths.
func (g git) tree(ctx context.Context, commit string, paths []string) ([]treeEntry, error) {
	out, _, err := g.run(ctx, append([]string{"ls-tree", "-r", "-z", "--full-tree", "--end-of-options", commit}, paths...)...)
	if err != nil {
		return nil, err
	}
	var entries []treeEntry
	seen := map[string]bool{}
	for _, line := range splitZero(out) {
		about, path, ok := strings.Cut(line, "\t")
		fields := strings.Fields(about)
		if !ok || len(fields) != 3 || !objectID().MatchString(fields[2]) {
			return nil, fmt.Errorf("git ls-tree printed %s, expected mode, type, hash and path", excerpt(line))
		}
		if seen[path] {
			return nil, fmt.Errorf("commit %s has two entries %s; git fsck tells more", commit, excerpt(path))
		}
		seen[path] = true
		entries = append(entries, treeEntry{path: path, mode: fields[0], object: fields[2]})
	}
	return entries, nil
}

// index lists what is tracked, each path once.
func (g git) index(ctx context.Context) ([]treeEntry, error) {
	out, _, err := g.run(ctx, "ls-files", "-z", "-t", "--stage")
	if err != nil {
		return nil, err
	}
	var entries []treeEntry
	last := ""
	for _, line := range splitZero(out) {
		about, path, ok := strings.Cut(line, "\t")
		fields := strings.Fields(about)
		if !ok || len(fields) != 4 || !objectID().MatchString(fields[2]) {
			return nil, fmt.Errorf("git ls-files printed %s, expected tag, mode, hash, stage and path", excerpt(line))
		}
		if path == last && len(entries) > 0 { // a conflict has up to three
			continue
		}
		last = path
		entries = append(entries, treeEntry{path: path, mode: fields[1], object: fields[2], skipped: fields[0] == "S"})
	}
	return entries, nil
}

// untracked lists what is neither tracked nor ignored. A repository within the
// repository ends in a slash.
func (g git) untracked(ctx context.Context) ([]treeEntry, error) {
	out, message, err := g.run(ctx, "ls-files", "-z", "--others", "--exclude-standard")
	if err != nil {
		return nil, err
	}
	// git warns, and leaves the folder out.
	if strings.Contains(message, "could not open directory") {
		return nil, fmt.Errorf("a folder cannot be read: %s", message)
	}
	var entries []treeEntry
	for _, path := range splitZero(out) {
		entries = append(entries, treeEntry{path: path})
	}
	return entries, nil
}

// fileStamp is when a file was written, in seconds and nanoseconds (0 where
// this git records none), and its size modulo 2^32.
type fileStamp struct{ seconds, nanoseconds, size int64 }

// stamps lists by path what git noted of each file when it last found it to
// hold what is tracked. After each path it prints five lines, ctime, mtime, dev,
// uid and size first (git-ls-files, --debug); another form gives no stamp.
func (g git) stamps(ctx context.Context) (map[string]fileStamp, error) {
	out, _, err := g.run(ctx, "ls-files", "-z", "--debug")
	if err != nil {
		return nil, err
	}
	stamps := map[string]fileStamp{}
	pieces := strings.Split(string(out), "\x00")
	for i := 1; i < len(pieces); i++ {
		lines := strings.SplitN(pieces[i], "\n", 6)
		var s fileStamp
		if len(lines) == 6 {
			_, err := fmt.Sscanf(lines[1]+lines[4], " mtime: %d:%d size: %d", &s.seconds, &s.nanoseconds, &s.size)
			if err == nil {
				stamps[pieces[i-1]] = s
			}
			pieces[i] = lines[5]
		}
	}
	return stamps, nil
}

func splitZero(out []byte) []string {
	if len(out) == 0 {
		return nil
	}
	return strings.Split(strings.TrimSuffix(string(out), "\x00"), "\x00")
}

// wayToTop is the path from the folder git runs in up to the top of the work
// tree: ../../ or nothing. dir is what people call the folder.
func (g git) wayToTop(ctx context.Context, dir string) (string, error) {
	out, _, err := g.run(ctx, "rev-parse", "--is-bare-repository", "--is-inside-work-tree", "--show-cdup")
	var ended *gitError
	if errors.As(err, &ended) {
		switch {
		case strings.Contains(ended.message, "not a git repository"):
			return "", fmt.Errorf("%s is in no git repository; expected the folder of the results in a clone, or start one there with git init", dir)
		case strings.Contains(ended.message, "safe.bareRepository"):
			return "", errBare(dir)
		}
	}
	if err != nil {
		return "", err
	}
	lines := strings.Split(string(out), "\n")
	switch {
	case lines[0] == "true":
		return "", errBare(dir)
	case len(lines) < 3 || strings.Trim(lines[2], "./") != "":
		return "", fmt.Errorf("git rev-parse printed %s, expected two answers and a path", excerpt(string(out)))
	case lines[1] != "true":
		return "", fmt.Errorf("%s is no folder of a git work tree; expected the folder of the results", dir)
	}
	return lines[2], nil
}

func errBare(dir string) error {
	return fmt.Errorf("%s is a bare git repository, or git's own folder, and has no files to judge; run this in the folder of the "+
		"results in a clone", dir)
}

// blobs reads objects through one git, one after the other.
type blobs struct {
	ctx     context.Context
	stop    context.CancelCauseFunc
	git     git
	cmd     *exec.Cmd
	in      io.WriteCloser
	out     *bufio.Reader
	message bytes.Buffer

	closed bool
}

func (g git) openBlobs(ctx context.Context) (*blobs, error) {
	running, stop := context.WithCancelCause(ctx)
	b := &blobs{ctx: running, stop: stop, git: g}
	b.cmd = g.command(running, "cat-file", "--batch")
	b.cmd.Stderr = &b.message
	in, err := b.cmd.StdinPipe()
	if err == nil {
		b.in = in
		var out io.Reader
		if out, err = b.cmd.StdoutPipe(); err == nil {
			b.out = bufio.NewReaderSize(out, chunkSize)
			err = b.cmd.Start()
		}
	}
	if err != nil {
		stop(nil)
		return nil, gitFailure(ctx, "cat-file", "", err)
	}
	return b, nil
}

// read hands the content of a file's object to visit.
func (b *blobs) read(object string, visit func(io.Reader) error) error {
	return b.readKind("blob", object, visit)
}

// readKind hands on the content of a blob, a tree or a commit, as git keeps it.
func (b *blobs) readKind(kind, object string, visit func(io.Reader) error) error {
	if _, err := io.WriteString(b.in, object+"\n"); err != nil {
		return b.broken(err)
	}
	timer := time.AfterFunc(b.git.limit, func() { b.stop(b.git.tooLong()) })
	answer, err := b.out.ReadString('\n')
	timer.Stop()
	if err != nil {
		return b.broken(err)
	}
	fields := strings.Fields(answer)
	if len(fields) == 2 && fields[1] == "missing" {
		what := map[string]string{"blob": "content %s of a file", "tree": "folder %s", "commit": "commit %s"}[kind]
		return fmt.Errorf("the repository lacks the "+what+"; git fsck tells more", object)
	}
	if len(fields) != 3 || fields[0] != object || fields[1] != kind {
		return fmt.Errorf("git cat-file answered %s, expected %s %s and a size", excerpt(answer), object, kind)
	}
	size, err := strconv.ParseInt(fields[2], 10, 64)
	if err != nil {
		return fmt.Errorf("git cat-file answered %s, expected a size at its end", excerpt(answer))
	}
	content := &io.LimitedReader{R: b.out, N: size}
	failed := visit(content) // the rest is read all the same, for whoever reads on
	if _, err := io.Copy(io.Discard, content); err != nil {
		return b.broken(err)
	}
	if end, err := b.out.ReadByte(); content.N != 0 || err != nil || end != '\n' {
		return b.broken(io.ErrUnexpectedEOF)
	}
	return failed
}

// broken is the error of a git that broke off.
func (b *blobs) broken(err error) error {
	if failure := b.close(); failure != nil {
		err = failure
	}
	if strings.Contains(err.Error(), "promisor") {
		return fmt.Errorf("the clone was made without all files' content; run: git fetch --refetch --no-filter: %w", err)
	}
	return fmt.Errorf("the files' content cannot be read: %w", err)
}

// end stops git, whatever it is at.
func (b *blobs) end() { b.stop(nil) }

// close ends git; it may be called again. An answer that was read is good only
// if this gives no error.
func (b *blobs) close() error {
	if b.closed {
		return nil
	}
	b.closed = true
	b.in.Close()
	// A git that does not notice the end of its input is stopped.
	timer := time.AfterFunc(5*time.Second, b.end)
	defer timer.Stop()
	defer b.end()
	err := b.cmd.Wait()
	return gitFailure(b.ctx, "cat-file", oneLine(b.message.String()), err)
}
