package intake

import (
	"context"
	"errors"
	"fmt"
	"os"
	"path"
	"path/filepath"
	"slices"
	"strings"

	"tunegate/compare"
	"tunegate/compare/gate"
)

// list finds out what files there are on both sides.
func (r *Repository) list(ctx context.Context, base, head string) (_ *loader, err error) {
	from, err := r.git.resolve(ctx, base)
	if err != nil {
		return nil, fmt.Errorf("the base: %w", err)
	}
	to := revision{shown: "HEAD"}
	if head != "" {
		to, err = r.git.resolve(ctx, head)
	} else {
		to.commit, _, err = r.git.commit(ctx, to.shown)
	}
	if err != nil {
		return nil, fmt.Errorf("the head: %w", err)
	}
	fork, err := r.git.mergeBase(ctx, from, to)
	if err != nil {
		return nil, err
	}
	var everywhere []string
	for _, folder := range r.folders {
		everywhere = append(everywhere, path.Join(folder, policyName), path.Join(folder, profilesFolder))
	}
	tree, err := r.git.tree(ctx, from.commit, everywhere)
	if err != nil {
		return nil, err
	}
	l := &loader{ctx: ctx, repository: r, objects: r.git, links: map[string]error{}, names: newNames(), tip: from.commit,
		rows: &compare.Rows{}, done: map[readAs]*compare.Rows{}}
	defer func() {
		if err != nil {
			l.close()
		}
	}()
	l.before = newState(shownCommit(from.shown, from.commit))
	l.before.base = true
	if err := r.checkRoot(tree, l.before.name); err != nil {
		return nil, err
	}
	if err := l.before.addAll(r.below, tree); err != nil {
		return nil, err
	}
	dirty := false
	if head == "" {
		if dirty, err = l.listDisk(to); err != nil {
			return nil, err
		}
	}
	if !dirty {
		err = l.listMerge(from, to, fork)
	} else if fork != from.commit {
		err = &NotMergedError{l.before.name, shownCommit(to.shown, to.commit), true, from.shown}
	}
	if err != nil {
		return nil, err
	}
	if fork == from.commit && from.commit != to.commit {
		switch tip, err := r.git.endsABranch(ctx, from.commit); {
		case err != nil:
			return nil, err
		case !tip:
			l.notes = append(l.notes, gate.Note{Kind: gate.NoteNoTip})
		}
	}
	if l.before.empty() && l.after.empty() {
		return nil, &NoResultsError{r.Root, l.before.name, true}
	}
	return l, nil
}

// listMerge files what would be there once to is merged into from.
func (l *loader) listMerge(from, to revision, fork string) error {
	base, head := l.before.name, shownCommit(to.shown, to.commit)
	landing := to.commit
	switch {
	case fork == to.commit && l.before.empty():
		return &NoResultsError{l.repository.Root, base, true}
	case fork == to.commit:
		return &NothingToMergeError{base, head, from.commit == to.commit, from.shown, from.shown + "~1"}
	case fork == from.commit:
	case !l.objects.merges:
		return &NotMergedError{base, head, false, from.shown}
	default:
		beside, folder, err := l.objects.beside(l.ctx, l.repository.TempFolder)
		if err != nil {
			return err
		}
		l.objects, l.temporary = beside, folder
		if landing, err = beside.merge(l.ctx, from, to); err != nil {
			return err
		}
	}
	tree, err := l.objects.tree(l.ctx, landing, nil)
	if err != nil {
		return err
	}
	l.after = newState(head)
	return l.after.addAll(l.repository.below, tree)
}

// close gives back what list took.
func (l *loader) close() {
	if l.disk != nil {
		l.disk.Close()
	}
	if l.temporary != "" {
		os.RemoveAll(l.temporary)
	}
}

// withoutConfiguration leaves git the settings of its command line only: no
// configuration file may say how a merge is made.
func withoutConfiguration(environ []string) []string {
	kept := slices.DeleteFunc(environ, func(entry string) bool { return strings.HasPrefix(strings.ToUpper(entry), "GIT_CONFIG_") })
	return append(kept, "GIT_CONFIG_NOSYSTEM=1", "GIT_CONFIG_GLOBAL="+os.DevNull, "GIT_ATTR_NOSYSTEM=1")
}

// beside makes an empty bare repository in a temporary folder that borrows the
// objects of this one. A merge made there reads no attributes, no merge drivers
// and no configuration of the repository, and writes nothing to it. The caller
// removes the folder.
func (g git) beside(ctx context.Context, tempFolder func() (string, error)) (temporary git, folder string, err error) {
	out, _, err := g.run(ctx, "rev-parse", "--path-format=absolute", "--show-object-format", "--git-path", "objects", "--git-path", "shallow")
	if err != nil {
		return git{}, "", err
	}
	lines := strings.Split(strings.TrimSuffix(string(out), "\n"), "\n")
	if len(lines) != 3 || !filepath.IsAbs(filepath.FromSlash(lines[1])) || !filepath.IsAbs(filepath.FromSlash(lines[2])) {
		return git{}, "", fmt.Errorf("git rev-parse printed %s, expected an object format and two paths without line breaks",
			excerpt(string(out)))
	}
	if tempFolder == nil {
		tempFolder = func() (string, error) { return os.MkdirTemp("", "tunegate-merge-") }
	}
	if folder, err = tempFolder(); err != nil {
		return git{}, "", fmt.Errorf("a temporary folder for the merge cannot be made: %w", err)
	}
	temporary = git{program: g.program, dir: folder, bare: folder, limit: g.limit}
	_, _, err = temporary.run(ctx, "init", "--quiet", "--bare", "--template=", "--object-format="+lines[0])
	if err == nil {
		err = os.MkdirAll(filepath.Join(folder, "objects", "info"), 0o700)
	}
	if err == nil {
		err = os.WriteFile(filepath.Join(folder, "objects", "info", "alternates"), []byte(alternate(lines[1])+"\n"), 0o600)
	}
	if err == nil {
		err = copyIfThere(lines[2], filepath.Join(folder, "shallow"))
	}
	if err != nil {
		os.RemoveAll(folder)
		return git{}, "", fmt.Errorf("the temporary repository for the merge cannot be made: %w", err)
	}
	return temporary, folder, nil
}

// alternate is a path as git's list of alternates wants it: quoted where it
// could be taken for a quoted one or for a comment.
func alternate(path string) string {
	if !strings.HasPrefix(path, `"`) && !strings.HasPrefix(path, "#") {
		return path
	}
	return `"` + strings.NewReplacer(`\`, `\\`, `"`, `\"`).Replace(path) + `"`
}

// copyIfThere copies the list of commits that a shallow clone ends at.
func copyIfThere(from, to string) error {
	data, err := os.ReadFile(filepath.FromSlash(from))
	if errors.Is(err, os.ErrNotExist) {
		return nil
	}
	if err != nil {
		return err
	}
	return os.WriteFile(to, data, 0o600)
}

// merge is the tree of the merge of two commits, made in a temporary repository
// (beside). A conflict is an error that names the files.
func (g git) merge(ctx context.Context, into, from revision) (string, error) {
	out, message, err := g.run(ctx, "merge-tree", "--write-tree", "-z", "--name-only", "--no-messages", into.commit, from.commit)
	answer := splitZero(out)
	switch {
	case refused(err, 1) && len(answer) > 1:
		var files []string
		for _, name := range answer[1:] {
			if name != "" {
				files = append(files, excerpt(name))
			}
		}
		return "", fmt.Errorf("%s cannot be merged into %s: both changed %s; merge %[2]s into it, settle the conflict, and commit",
			shownCommit(from.shown, from.commit), into.shown, compare.List(files, 5))
	case err != nil:
		return "", fmt.Errorf("the merge of %s into %s cannot be made: %w", from.shown, into.shown, err)
	case len(answer) != 1 || !objectID().MatchString(answer[0]):
		return "", fmt.Errorf("git merge-tree printed %s %s, expected a hash", excerpt(string(out)), message)
	}
	return answer[0], nil
}

// endsABranch reports whether a branch, here or of a remote, ends at a commit.
func (g git) endsABranch(ctx context.Context, commit string) (bool, error) {
	out, _, err := g.run(ctx, "for-each-ref", "--count=1", "--format=%(refname)", "--points-at="+commit, "refs/heads", "refs/remotes")
	name := strings.TrimSpace(string(out))
	if err == nil && name != "" && !strings.HasPrefix(name, "refs/") {
		err = fmt.Errorf("git for-each-ref printed %s, expected a ref", excerpt(name))
	}
	return name != "", err
}

// NothingToMergeError is about a base that already holds the head.
type NothingToMergeError struct {
	Base, Head string // "main (1a2b3c4)"
	Same       bool   // they are one commit; else the base is ahead
	Name       string // the base, as git knows it
	Instead    string // a revision that could serve as base, with Name as head
}

func (e *NothingToMergeError) Error() string {
	what := fmt.Sprintf("%s already holds %s", e.Base, e.Head)
	if e.Same {
		what = fmt.Sprintf("%s and %s are the same commit", e.Base, e.Head)
	}
	return fmt.Sprintf("%s, so there is nothing to merge; to judge what the last commit or merge brought, compare with the one before it, %s",
		what, e.Instead)
}

// NotMergedError is about a base that the head does not hold, where git is too
// old to merge them, or the changes are not committed.
type NotMergedError struct {
	Base, Head string // "main (1a2b3c4)"
	Dirty      bool   // changes are not committed
	Name       string // the base, as git knows it
}

func (e *NotMergedError) Error() string {
	if e.Dirty {
		return fmt.Sprintf("there are changes that are not committed, and %s does not hold %s, so the merge that would land cannot be made; "+
			"commit them, or run: git merge %s", e.Head, e.Base, e.Name)
	}
	return fmt.Sprintf("%s does not hold %s, and this git is too old to merge them in memory (2.38 or later can); "+
		"update git, or run: git merge %s", e.Head, e.Base, e.Name)
}
