package intake

import (
	"bytes"
	"context"
	"crypto/sha1"
	"crypto/sha256"
	"errors"
	"fmt"
	"hash"
	"io"
	"io/fs"
	"os"
	"path"
	"path/filepath"
	"slices"
	"sort"
	"strings"
	"syscall"

	"tunegate/compare"
	"tunegate/compare/gate"
)

// The layout of a results repository, below its root:
//
//	tunegate.toml                  the policy
//	profiles/NAME/settings.toml    what is set, see Settings
//	profiles/NAME/runs/            run files, also in folders below
//
// Other files, and names with a leading dot, are left alone; those that look
// like results are listed in Snapshot.Overlooked.
const (
	policyName     = "tunegate.toml"
	profilesFolder = "profiles"
	settingsName   = "settings.toml"
	runsFolder     = "runs"
)

// NoResultsError is about a folder without policy and profiles.
type NoResultsError struct {
	Root   string
	Commit string // that was looked into
	Both   bool   // it was looked into besides the head
}

func (e *NoResultsError) Error() string {
	where := " in " + e.Commit
	if e.Both {
		where = ", not in " + e.Commit + " either"
	}
	return fmt.Sprintf("%s: found neither %s nor %s%s; expected a results repository: run this in its folder",
		e.Root, policyName, path.Join(profilesFolder, "NAME", settingsName), where)
}

// Repository is a results repository inside a git work tree.
type Repository struct {
	// Root is the absolute folder of the results: it holds tunegate.toml and
	// profiles.
	Root string

	git     git      // at the top of the work tree
	below   string   // Root from the top, with slashes; empty at the top
	folders []string // those in which Root was looked for, as below, nearest first
}

// OpenRepository finds the results repository that dir lies in: the nearest
// folder upwards that holds a tunegate.toml or a folder profiles, no further
// than the top of the git work tree; else that top. It is an error when git is
// not installed, and when dir is in no git repository, in a bare one, or in
// one without commits.
func OpenRepository(ctx context.Context, dir string) (*Repository, error) {
	absolute, err := filepath.Abs(dir)
	if err != nil {
		return nil, err
	}
	info, err := os.Stat(absolute)
	switch {
	case err != nil:
		return nil, fmt.Errorf("%s: no folder to search for results: %w", absolute, err)
	case !info.IsDir():
		return nil, fmt.Errorf("%s: found a file, expected the folder of the results", absolute)
	}
	program, err := findGit()
	if err != nil {
		return nil, err
	}
	r := &Repository{git: git{program, realPath(absolute)}}
	if err := r.git.checkVersion(ctx); err != nil {
		return nil, err
	}
	up, err := r.git.wayToTop(ctx, absolute)
	if err != nil {
		return nil, err
	}
	top := filepath.Join(r.git.dir, filepath.FromSlash(up))
	for folder := r.git.dir; ; folder = filepath.Dir(folder) {
		below, err := filepath.Rel(top, folder)
		if err != nil {
			return nil, err
		}
		if below = filepath.ToSlash(below); below == "." {
			below = ""
		}
		r.folders = append(r.folders, below)
		if r.Root == "" && holdsResults(folder) {
			r.Root, r.below = folder, below
		}
		if below == "" {
			break
		}
	}
	if r.Root == "" {
		r.Root = top
	}
	r.git.dir = top
	_, _, err = r.git.commit(ctx, "HEAD")
	if refused(err, 128) {
		return nil, withCause(fmt.Sprintf("%s: the branch has no commit yet, so there is nothing to judge a change against; commit first",
			absolute), err)
	}
	return r, err
}

func holdsResults(folder string) bool {
	policy, err := os.Lstat(filepath.Join(folder, policyName))
	if err == nil && !policy.IsDir() {
		return true
	}
	// A link counts, too: Load refuses it.
	profiles, err := os.Lstat(filepath.Join(folder, profilesFolder))
	return err == nil && (profiles.IsDir() || profiles.Mode()&fs.ModeSymlink != 0)
}

// Reads reports whether a path, of a file that exists or not, is one that Load
// reads in the working tree: a policy, settings or runs.
func (r *Repository) Reads(name string) bool {
	// The folder is real, the file itself may be a link.
	below, err := filepath.Rel(r.Root, filepath.Join(realPath(filepath.Dir(name)), filepath.Base(name)))
	if err != nil {
		return false
	}
	what, _ := useOf(filepath.ToSlash(below))
	return what > onTheWay
}

// Load reads two states of the repository: before, the merge base of base and
// head, and after, head, which is a revision or, if empty, the working tree:
// what is tracked, as it lies on the disk, and what is untracked and not
// ignored. Nothing is taken through git's filters.
//
// Both states have every profile of theirs. Values are read for the profiles
// that differ in any byte of their settings or runs (but for CRLF on the disk),
// for new ones and for those that new ones name as their baseline; where the
// policy differs, for all, so that every metric it touches is known. Any other
// profile has the same settings in both states and no values in either; a
// profile that is removed has neither.
//
// A profile of before that has runs but no settings.toml counts as not there
// yet; in after it is an error. So are links where results are read, and
// submodules below profiles. Files are named from the top of the git work tree,
// with slashes; bytes that are no UTF-8 are replaced there.
func (r *Repository) Load(ctx context.Context, base, head string) (before, after gate.Snapshot, err error) {
	l, err := r.list(ctx, base, head)
	if err != nil {
		return gate.Snapshot{}, gate.Snapshot{}, err
	}
	defer l.disk.Close()
	if l.blobs, err = r.git.openBlobs(ctx); err != nil {
		return gate.Snapshot{}, gate.Snapshot{}, err
	}
	defer func() {
		l.blobs.stop() // after an error git may still be writing
		l.blobs.close()
	}()
	if before, after, err = l.load(); err == nil {
		err = l.blobs.close()
	}
	if err != nil {
		return gate.Snapshot{}, gate.Snapshot{}, err
	}
	return before, after, nil
}

// list finds out what files there are on both sides.
func (r *Repository) list(ctx context.Context, base, head string) (*loader, error) {
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
	tree, err := r.git.tree(ctx, fork, everywhere)
	if err != nil {
		return nil, err
	}
	l := &loader{ctx: ctx, repository: r, links: map[string]error{}}
	l.before = newState(shownCommit(from.shown, fork))
	l.before.base = true
	if err := r.checkRoot(tree, l.before.name); err != nil {
		return nil, err
	}
	if l.disk, err = os.OpenRoot(r.Root); err != nil {
		return nil, fmt.Errorf("%s: the folder of the results cannot be opened: %w", r.Root, err)
	}
	if err = l.before.addAll(r.below, tree); err == nil {
		err = l.listHead(head, to)
	}
	if err == nil && l.before.empty() && l.after.empty() {
		err = &NoResultsError{r.Root, l.before.name, true}
	}
	if err != nil {
		l.disk.Close()
		return nil, err
	}
	return l, nil
}

func (l *loader) listHead(head string, to revision) error {
	r := l.repository
	paths := []string{path.Join(r.below, policyName), path.Join(r.below, profilesFolder)}
	if head != "" {
		l.after = newState(shownCommit(to.shown, to.commit))
		tree, err := r.git.tree(l.ctx, to.commit, paths)
		if err != nil {
			return err
		}
		return l.after.addAll(r.below, tree)
	}
	l.after = newState("the working tree")
	tracked, err := r.git.index(l.ctx, paths)
	if err != nil {
		return err
	}
	untracked, err := r.git.untracked(l.ctx, paths)
	if err != nil {
		return err
	}
	for _, e := range slices.Concat(tracked, untracked) {
		if err := l.addFromDisk(e); err != nil {
			return err
		}
	}
	return nil
}

func shownCommit(shown, commit string) string { return fmt.Sprintf("%s (%.7s)", shown, commit) }

// checkRoot refuses to look elsewhere than where the base has its results: a
// change that puts a folder profiles nearer to the folder the gate runs in
// would else hide them.
func (r *Repository) checkRoot(tree []treeEntry, name string) error {
	for _, folder := range r.folders {
		isResult := func(e treeEntry) bool {
			below, inside := strings.CutPrefix(e.path, inFolder(folder))
			what, _ := useOf(below)
			return inside && what > onTheWay
		}
		if !slices.ContainsFunc(tree, isResult) {
			continue
		}
		if folder == r.below {
			return nil
		}
		return fmt.Errorf("the results are searched in %q here, but lie in %q in %s (a dot is the top of the repository); run this in "+
			"the latter, or leave the results where they were",
			path.Join(".", r.below), path.Join(".", folder), name)
	}
	return nil
}

// inFolder is what the paths in a folder begin with; nothing at the top.
func inFolder(folder string) string {
	if folder == "" {
		return ""
	}
	return folder + "/"
}

// state is the files of one snapshot.
type state struct {
	name     string
	base     bool
	policy   *resultFile
	profiles map[string]*profileFiles
	shown    map[string]string // the path of a run file by the name it is shown by
	// overlooked are files that look like results, where none are
	// read.
	overlooked []string
}

type profileFiles struct {
	settings *resultFile
	runs     []resultFile // by path
}

// resultFile is a file on the disk, or an object of the repository.
type resultFile struct {
	path   string // from the top of the work tree, as bytes
	object string // empty: on the disk
}

func newState(name string) *state {
	return &state{name: name, profiles: map[string]*profileFiles{}, shown: map[string]string{}}
}

func (s *state) empty() bool { return s.policy == nil && len(s.profiles) == 0 }

// wrong gives an error the name of the state. A place in the base is no place
// in the files at hand, so it stays a part of the text.
func (s *state) wrong(err error) error {
	var at *compare.PlacedError
	switch {
	case err == nil || !s.base:
		return err
	case errors.As(err, &at):
		return &compare.PlacedError{Msg: fmt.Sprintf("in the base, %s: %v", s.name, err)}
	}
	return fmt.Errorf("in the base, %s: %w", s.name, err)
}

func placeOf(path string) compare.Place {
	return compare.Place{File: strings.ToValidUTF8(path, "\uFFFD")}
}

// use is what a path means to a results repository.
type use int

const (
	notUsed use = iota
	onTheWay
	usedPolicy
	usedSettings
	usedRuns
)

// useOf tells what a path below the root is for, and of which profile. A path
// on the way matters where it is no folder: a link there is refused.
func useOf(below string) (use, string) {
	parts := strings.Split(below, "/")
	switch {
	case below == policyName:
		return usedPolicy, ""
	case parts[0] != profilesFolder:
		return notUsed, ""
	case len(parts) == 1:
		return onTheWay, ""
	case slices.ContainsFunc(parts, hidden):
		return notUsed, ""
	case len(parts) == 2:
		return onTheWay, ""
	case len(parts) == 3 && parts[2] == settingsName:
		return usedSettings, parts[1]
	case parts[2] != runsFolder:
		return notUsed, ""
	case len(parts) > 3 && runFileEndings[strings.ToLower(path.Ext(below))]:
		return usedRuns, parts[1]
	}
	return onTheWay, ""
}

// overlooked reports whether a path below the root that is not read looks like
// results: a run file or settings in another place below profiles, or a file of
// another kind among runs. A page about the runs is none.
func overlooked(below string) bool {
	parts := strings.Split(below, "/")
	if what, _ := useOf(below); what > onTheWay || parts[0] != profilesFolder || slices.ContainsFunc(parts, hidden) {
		return false
	}
	ending := strings.ToLower(path.Ext(below))
	return runFileEndings[ending] || parts[len(parts)-1] == settingsName ||
		len(parts) > 3 && parts[2] == runsFolder && ending != ".md"
}

// addAll files the entries of a tree.
func (s *state) addAll(root string, tree []treeEntry) error {
	for _, e := range tree {
		if below, inside := strings.CutPrefix(e.path, inFolder(root)); inside {
			if err := s.add(below, e); err != nil {
				return s.wrong(err)
			}
		}
	}
	return nil
}

func (s *state) add(below string, e treeEntry) error {
	if e.mode == submoduleMode && underProfiles(below) {
		return errNested(e.path)
	}
	what, profile := useOf(below)
	if overlooked(below) {
		s.overlooked = append(s.overlooked, placeOf(e.path).File)
	}
	if e.mode == linkMode && what != notUsed {
		return errLink(e.path)
	}
	file := resultFile{e.path, e.object}
	switch what {
	case usedPolicy:
		s.policy = &file
	case usedSettings:
		s.profile(profile).settings = &file
	case usedRuns:
		shown := placeOf(e.path).File
		if other, taken := s.shown[shown]; taken && other != e.path {
			return placed(placeOf(e.path), "two files are shown by this name, %s and %s; rename one of them", excerpt(other), excerpt(e.path))
		}
		s.shown[shown] = e.path
		p := s.profile(profile)
		p.runs = append(p.runs, file)
	}
	return nil
}

func (s *state) profile(name string) *profileFiles {
	if s.profiles[name] == nil {
		s.profiles[name] = &profileFiles{}
	}
	return s.profiles[name]
}

func underProfiles(below string) bool {
	return below == profilesFolder || strings.HasPrefix(below, profilesFolder+"/")
}

func errNested(path string) error {
	return placed(placeOf(path), "found a git repository of its own, whose files are not part of this one; put the files here, or move "+
		"it out of %s", profilesFolder)
}

func errLink(path string) error {
	return placed(placeOf(path), "found a symbolic link, which could lead out of the repository; put the file or folder itself here, "+
		"and git add it")
}

// addFromDisk files what git lists of the working tree, unless it is gone.
func (l *loader) addFromDisk(e treeEntry) error {
	below := strings.TrimPrefix(e.path, inFolder(l.repository.below))
	if nested, is := strings.CutSuffix(below, "/"); is {
		if underProfiles(nested) {
			return errNested(e.path)
		}
		return nil
	}
	if what, _ := useOf(below); what == notUsed || e.mode == submoduleMode {
		if _, err := l.disk.Lstat(filepath.FromSlash(below)); err != nil && overlooked(below) {
			return nil // gone
		}
		return l.after.add(below, e)
	}
	info, err := l.lookAt(below, e.path)
	switch {
	case err != nil:
		return err
	case info == nil && e.skipped:
		return l.after.add(below, e) // as it is tracked
	case info == nil:
		return nil
	case e.mode == linkMode:
		return errLink(e.path)
	}
	if what, _ := useOf(below); what != onTheWay && !info.Mode().IsRegular() {
		return placed(placeOf(e.path), "found %s, expected a file", info.Mode().Type())
	}
	e.object = ""
	return l.after.add(below, e)
}

// lookAt tells what lies at a path below the root, nil where nothing does, or
// a folder that files of other names may lie in. A link, there or on the way,
// is an error.
func (l *loader) lookAt(below, shown string) (fs.FileInfo, error) {
	if parent := path.Dir(below); parent != "." {
		err, known := l.links[parent]
		if !known {
			_, err = l.lookAt(parent, path.Dir(shown))
			l.links[parent] = err
		}
		if err != nil {
			return nil, err
		}
	}
	info, err := l.disk.Lstat(filepath.FromSlash(below))
	switch {
	case errors.Is(err, fs.ErrNotExist), errors.Is(err, syscall.ENOTDIR):
		return nil, nil
	case err != nil:
		return nil, fmt.Errorf("%s: cannot be read: %w", placeOf(shown).File, err)
	case info.Mode()&fs.ModeSymlink != 0:
		return nil, errLink(shown)
	case info.IsDir():
		return nil, nil
	}
	return info, nil
}

// loader reads the files of two states.
type loader struct {
	ctx           context.Context
	repository    *Repository
	before, after *state
	disk          *os.Root // at the root of the results
	blobs         *blobs
	links         map[string]error // by folder below the root, what lookAt said
}

func (l *loader) load() (before, after gate.Snapshot, err error) {
	before = gate.Snapshot{Name: l.before.name, Profiles: map[string]*gate.Profile{}}
	after = gate.Snapshot{Name: l.after.name, Profiles: map[string]*gate.Profile{}}
	oldPolicy, err := l.policy(l.before, &before)
	if err != nil {
		return before, after, err
	}
	newPolicy, err := l.policy(l.after, &after)
	if err != nil {
		return before, after, err
	}
	pairs, err := l.pairs()
	if err != nil {
		return before, after, err
	}
	read := map[string]bool{}
	for _, p := range pairs {
		after.Profiles[p.name] = p.now
		if p.old != nil {
			before.Profiles[p.name] = p.old
		} else {
			read[p.now.Baseline] = true
		}
		if p.changed {
			read[p.name] = true
		}
	}
	for _, p := range pairs {
		if read[p.name] || !bytes.Equal(oldPolicy, newPolicy) {
			if err := l.fill(p); err != nil {
				return before, after, err
			}
		}
	}
	slices.Sort(l.after.overlooked)
	after.Overlooked = l.after.overlooked
	for name, files := range l.before.profiles {
		if l.after.profiles[name] == nil && files.settings != nil {
			before.Profiles[name] = l.removed(name)
		}
	}
	before.Unjudged = l.unjudged(pairs, len(before.Profiles) > len(pairs))
	return before, after, nil
}

// removed reads a profile that is gone. A file of it that cannot be read has nothing
// to say.
func (l *loader) removed(name string) *gate.Profile {
	p, err := l.settings(l.before, name)
	if err != nil {
		p = &gate.Profile{Name: name, At: placeOf(l.before.profiles[name].settings.path)}
	}
	l.before.profiles[name].sortRuns()
	p.Values, _ = l.values(l.before, name)
	return p
}

// unjudged reads the values of the profiles that are the same in both states, where
// anything else is judged: new rows may be copies of theirs. What cannot be read is
// nobody's source.
func (l *loader) unjudged(pairs []pair, removed bool) map[string][]compare.Value {
	out := map[string][]compare.Value{}
	if !removed && !slices.ContainsFunc(pairs, func(p pair) bool { return p.changed }) {
		return out
	}
	for _, p := range pairs {
		if !p.changed && p.now.Values == nil {
			out[p.name], _ = l.values(l.after, p.name)
		}
	}
	return out
}

// pair is a profile of after and, where it was there, what it was before.
type pair struct {
	name     string
	old, now *gate.Profile
	changed  bool // new, or not the same bytes
}

// pairs reads the settings of all profiles of after and of those of before
// that have changed.
func (l *loader) pairs() ([]pair, error) {
	var pairs []pair
	for name, files := range l.after.profiles {
		files.sortRuns()
		pairs = append(pairs, pair{name: name, changed: true})
	}
	sort.Slice(pairs, func(a, b int) bool { return pairs[a].name < pairs[b].name })
	for i := range pairs {
		p := &pairs[i]
		var err error
		if p.now, err = l.settings(l.after, p.name); err != nil {
			return nil, err
		}
		old := l.before.profiles[p.name]
		if old == nil || old.settings == nil {
			continue
		}
		old.sortRuns()
		same, err := l.same(old, l.after.profiles[p.name])
		switch {
		case err != nil:
			return nil, err
		case same:
			copied := *p.now
			p.old, p.changed = &copied, false
		default:
			if p.old, err = l.settings(l.before, p.name); err != nil {
				return nil, err
			}
		}
	}
	return pairs, nil
}

// fill reads the values of a profile, once where both states share them.
func (l *loader) fill(p pair) (err error) {
	if p.now.Values, err = l.values(l.after, p.name); err != nil || p.old == nil {
		return err
	}
	if p.old.Values = p.now.Values; p.changed {
		p.old.Values, err = l.values(l.before, p.name)
	}
	return err
}

func (p *profileFiles) sortRuns() {
	sort.Slice(p.runs, func(a, b int) bool { return p.runs[a].path < p.runs[b].path })
}

// maxPolicy is the largest policy of a repository, in bytes.
const maxPolicy = 1 << 20

// policy reads a state's policy; its text, too, to tell whether it changed.
func (l *loader) policy(s *state, into *gate.Snapshot) ([]byte, error) {
	if s.policy == nil {
		return nil, nil
	}
	data, err := l.small(s.policy, maxPolicy)
	if err != nil {
		return nil, s.wrong(err)
	}
	into.PolicyFile = placeOf(s.policy.path).File
	file, err := Policy(data, into.PolicyFile)
	into.Policy, into.ReadingRules = &file.Policy, file.Readings
	return tomlText(data), s.wrong(err)
}

func (l *loader) settings(s *state, name string) (*gate.Profile, error) {
	file := s.profiles[name].settings
	if file == nil {
		folder := path.Join(l.repository.below, profilesFolder, name)
		return nil, s.wrong(placed(placeOf(folder),
			"this profile has runs but no %s; write %s with a table [settings] that says what is set, such as lift = \"auto\"",
			settingsName, excerpt(path.Join(folder, settingsName))))
	}
	data, err := l.small(file, maxSettings)
	if err != nil {
		return nil, s.wrong(err)
	}
	p, err := Settings(data, placeOf(file.path).File)
	p.Name = name
	return &p, s.wrong(err)
}

// values reads all runs of a profile, file by file.
func (l *loader) values(s *state, name string) ([]compare.Value, error) {
	var values []compare.Value
	for _, file := range s.profiles[name].runs {
		more, err := l.valuesOf(&file, name)
		if values = append(values, more...); err != nil {
			return values, s.wrong(err)
		}
	}
	return values, nil
}

// valuesOf reads one file of a profile's runs.
func (l *loader) valuesOf(file *resultFile, name string) ([]compare.Value, error) {
	var values []compare.Value
	add := func(v compare.Value) error {
		if v.Profile != "" && v.Profile != name {
			v.At.Column = 0 // that of the value
			return placed(v.At, "this row is of the profile %s, but its file lies with %s; move the row to that profile's runs, or correct or "+
				"leave out the column profile",
				excerpt(v.Profile), excerpt(name))
		}
		v.Profile = name
		values = append(values, v)
		return nil
	}
	err := l.read(file, func(r io.Reader) error {
		_, err := Read(r, placeOf(file.path).File, add)
		return err
	})
	return values, err
}

// small reads a file of at most so many bytes.
func (l *loader) small(file *resultFile, most int) (data []byte, err error) {
	err = l.read(file, func(r io.Reader) error {
		if data, err = io.ReadAll(io.LimitReader(r, int64(most)+1)); err == nil && len(data) > most {
			err = placed(placeOf(file.path), "found more than %d bytes, expected a short file", most)
		}
		return err
	})
	return data, err
}

func (l *loader) read(file *resultFile, visit func(io.Reader) error) error {
	if file.object != "" {
		return l.blobs.read(file.object, visit)
	}
	f, err := l.open(file)
	if err != nil {
		return err
	}
	defer f.Close()
	return visit(f)
}

func (l *loader) open(file *resultFile) (*os.File, error) {
	if err := l.ctx.Err(); err != nil {
		return nil, fmt.Errorf("reading the working tree was stopped: %w", context.Cause(l.ctx))
	}
	below := strings.TrimPrefix(file.path, inFolder(l.repository.below))
	f, err := l.disk.Open(filepath.FromSlash(below))
	if err != nil {
		return nil, fmt.Errorf("%s: cannot be opened: %w", placeOf(file.path).File, err)
	}
	return f, nil
}

// same reports whether two states of a profile have the same files with the
// same bytes, but for CRLF on the disk, which a checkout may have put there and
// which no reader tells from LF.
func (l *loader) same(old, now *profileFiles) (bool, error) {
	a := append(slices.Clone(old.runs), *old.settings)
	b := append(slices.Clone(now.runs), *now.settings)
	if len(a) != len(b) {
		return false, nil
	}
	for i := range a {
		if a[i].path != b[i].path {
			return false, nil
		}
	}
	for i := range a {
		same := a[i].object == b[i].object
		if b[i].object == "" {
			var err error
			if same, err = l.holds(&b[i], a[i].object); err != nil {
				return false, err
			}
		}
		if !same {
			return false, nil
		}
	}
	return true, nil
}

// holds reports whether a file on the disk is the object, a blob: its hash is
// that of "blob", the size, a zero byte and the content (git-hash-object).
func (l *loader) holds(file *resultFile, object string) (bool, error) {
	f, err := l.open(file)
	if err != nil {
		return false, err
	}
	defer f.Close()
	info, err := f.Stat()
	if err != nil {
		return false, fmt.Errorf("%s: cannot be read: %w", placeOf(file.path).File, err)
	}
	sum := func(size int64, keepCR bool) (string, int64, error) {
		h := hash.Hash(sha1.New())
		if len(object) == 2*sha256.Size {
			h = sha256.New()
		}
		fmt.Fprintf(h, "blob %d\x00", size)
		lines := lineFeeder{to: h, keepCR: keepCR}
		n, err := io.Copy(&lines, f)
		if err == nil && n != info.Size() {
			err = errors.New("its size changed meanwhile; run this again")
		}
		if err != nil {
			return "", 0, fmt.Errorf("%s: cannot be read: %w", placeOf(file.path).File, err)
		}
		lines.end()
		return fmt.Sprintf("%x", h.Sum(nil)), lines.pairs, nil
	}
	found, pairs, err := sum(info.Size(), true)
	if err != nil || found == object || pairs == 0 {
		return found == object, err
	}
	if _, err := f.Seek(0, io.SeekStart); err != nil {
		return false, fmt.Errorf("%s: cannot be read again: %w", placeOf(file.path).File, err)
	}
	found, _, err = sum(info.Size()-pairs, false)
	return found == object, err
}

// lineFeeder hands bytes on, with or without the CR of each CRLF, and counts
// the pairs.
type lineFeeder struct {
	to     io.Writer // a hash, which takes everything
	keepCR bool
	pairs  int64
	held   bool // the write before ended with a CR
}

func (f *lineFeeder) Write(p []byte) (int, error) {
	n := len(p)
	if n == 0 {
		return 0, nil
	}
	if f.held {
		p = append([]byte{'\r'}, p...)
	}
	if f.held = p[len(p)-1] == '\r'; f.held {
		p = p[:len(p)-1]
	}
	f.pairs += int64(bytes.Count(p, []byte("\r\n")))
	if !f.keepCR {
		p = bytes.ReplaceAll(p, []byte("\r\n"), []byte{'\n'})
	}
	_, err := f.to.Write(p)
	return n, err
}

func (f *lineFeeder) end() {
	if f.held {
		f.to.Write([]byte{'\r'})
	}
}
