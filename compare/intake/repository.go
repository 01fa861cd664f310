package intake

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"maps"
	"os"
	"path"
	"path/filepath"
	"slices"
	"sort"
	"strings"

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
	// TempFolder makes a temporary folder, which Load removes; nil: os.MkdirTemp does.
	TempFolder func() (string, error)

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
	r := &Repository{git: git{program: program, dir: realPath(absolute), limit: answerLimit}}
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

// Load reads two states of the repository: before, the tip of base, and after,
// what would be there once head is merged into it: the merge of both commits, or
// head's own files where it grew from the tip. head is a revision or, if empty,
// the working tree. A working tree in which nothing that is read, or lies among it,
// differs from HEAD is judged by what HEAD holds, so that no attribute edits
// what is read. Any other is judged as it lies on the disk: what is tracked,
// and what is untracked and not ignored; its HEAD has to hold the tip. Nothing is
// taken through git's filters, and nothing is written to the repository.
//
// Both states have every profile of theirs. Values are read for the profiles
// that differ in any byte of their settings or runs (but for CRLF on the disk),
// for new ones and for those that new ones name as their baseline; where the
// policy differs, for all, so that every metric it touches is known. Any other
// profile has the same settings in both states and no values in either; a
// profile that is removed has neither. before has the anchors of the profiles
// that changed or are gone.
//
// A profile of before that has runs but no settings.toml counts as not there
// yet; in after it is an error. So are links where results are read, and submodules
// below profiles. Files are named from the top of the
// git work tree, with slashes; bytes that are no UTF-8 are replaced there.
//
// Where base holds head already the error is a *NothingToMergeError, where the
// merge cannot be made for want of a commit or of a newer git a
// *NotMergedError.
func (r *Repository) Load(ctx context.Context, base, head string) (before, after gate.Snapshot, err error) {
	l, err := r.list(ctx, base, head)
	if err != nil {
		return gate.Snapshot{}, gate.Snapshot{}, err
	}
	defer l.close()
	if l.blobs, err = l.objects.openBlobs(ctx); err != nil {
		return gate.Snapshot{}, gate.Snapshot{}, err
	}
	defer func() {
		l.blobs.end() // after an error git may still be writing
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
	// overlooked are files that look like results, where none are read; suspects
	// those of which the content has to tell.
	overlooked, suspects []resultFile
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

// addAll files the entries of a tree.
func (s *state) addAll(root string, tree []treeEntry) error {
	for _, e := range tree {
		below, inside := strings.CutPrefix(e.path, inFolder(root))
		if !inside {
			s.notice(e.path, false, e)
		} else if err := s.add(below, e); err != nil {
			return s.wrong(err)
		}
	}
	return nil
}

func (s *state) add(below string, e treeEntry) error {
	if e.mode == submoduleMode && underProfiles(below) {
		return errNested(e.path)
	}
	what, profile := useOf(below)
	s.notice(below, true, e)
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

// loader reads the files of two states.
type loader struct {
	ctx           context.Context
	repository    *Repository
	before, after *state
	disk          *os.Root // at the root of the results; nil where the disk is not read
	objects       git      // holds the objects of both states
	temporary     string   // the folder of objects, where it is removed in the end
	blobs         *blobs
	links         map[string]error     // by folder below the root, what lookAt said
	stamps        map[string]fileStamp // what git noted of files; nil until asked for
	notes         []gate.Note          // on the two states
	names         *names
	words         Words                    // what words of sheets mean, by the policy in force
	newWords      Words                    // and what those mean that the request adds, in its own files
	merged        map[string]bool          // objects that the base has as runs; nil until asked for
	trusted       []string                 // by the policies, see CheckSlips
	tip           string                   // the commit of before
	rows          *compare.Rows            // all that was read
	done          map[readAs]*compare.Rows // blobs
	taken         int                      // values, each time they were read
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
	l.words, l.newWords = before.Words, Words{}
	maps.Copy(l.newWords, after.Words)
	maps.Copy(l.newWords, before.Words)
	l.trusted = slices.Concat(before.Trust, after.Trust)
	if err := l.spellNames(before.Policy); err != nil {
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
	var wanted []pair
	var changed []string // of those that before has
	for _, p := range pairs {
		if read[p.name] || !bytes.Equal(oldPolicy, newPolicy) {
			wanted = append(wanted, p)
		}
		if p.changed && p.old != nil {
			changed = append(changed, p.name)
		}
	}
	if err := l.fill(wanted); err != nil {
		return before, after, err
	}
	after.Notes = l.notes
	if after.Overlooked, err = l.overlooked(); err != nil {
		return before, after, err
	}
	for name, files := range l.before.profiles {
		if l.after.profiles[name] == nil && files.settings != nil {
			before.Profiles[name] = l.removed(name)
			changed = append(changed, name)
		}
	}
	before.Unjudged = l.unjudged(pairs, len(before.Profiles) > len(pairs))
	slices.Sort(changed)
	if before.Anchors, err = l.anchors(l.tip, changed, before.Profiles); err != nil {
		return before, after, err
	}
	if slices.ContainsFunc(pairs, func(p pair) bool { return p.changed }) {
		if before.Earlier, err = l.earlier(l.tip, before.RowsOf); err != nil {
			return before, after, err
		}
	}
	return before, after, l.checkAnchors(pairs)
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
func (l *loader) unjudged(pairs []pair, removed bool) map[string]*compare.Rows {
	out := map[string]*compare.Rows{}
	if !removed && !slices.ContainsFunc(pairs, func(p pair) bool { return p.changed }) {
		return out
	}
	for _, p := range pairs {
		if !p.changed && p.now.Values.Len() == 0 {
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
		if p.now.Baseline, err = l.names.spell(profileName, p.now.Baseline); err != nil {
			return nil, placed(p.now.BaselineAt, "%v", err)
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

// fill reads the values of profiles, once where both states share them. The
// spelling of names is that of before, whose names are taken as they are: what
// is wrong with them a merge request must be able to mend.
func (l *loader) fill(pairs []pair) (err error) {
	l.names.lenient = true
	for _, p := range pairs {
		if p.old == nil {
			continue
		}
		if p.old.Values, err = l.values(l.before, p.name); err != nil {
			return err
		}
		if !p.changed {
			p.now.Values = p.old.Values
		}
	}
	l.names.lenient = false
	for _, p := range pairs {
		if !p.changed {
			continue
		}
		if p.now.Values, err = l.values(l.after, p.name); err != nil {
			return err
		}
	}
	return nil
}

// spellNames gives the profiles of after the spelling of before, and learns the
// names that the policy in force has in full.
func (l *loader) spellNames(policy *compare.Policy) error {
	l.names.lenient = true
	if policy != nil {
		for _, e := range policy.Entries {
			for kind, name := range map[nameKind]string{benchmarkName: e.Benchmark, metricName: e.Metric} {
				if !strings.Contains(name, "*") {
					l.names.spell(kind, name) // takes every name
				}
			}
		}
	}
	for _, name := range slices.Sorted(maps.Keys(l.before.profiles)) {
		l.names.spell(profileName, name)
	}
	l.names.lenient = false
	for _, name := range slices.Sorted(maps.Keys(l.after.profiles)) {
		at := placeOf(path.Join(l.repository.below, profilesFolder, name))
		spelled, err := l.names.spell(profileName, name)
		switch {
		case err != nil && l.before.profiles[name] == nil:
			return placed(at, "%v", err)
		case err != nil || spelled == name || l.before.profiles[name] != nil:
		case l.after.profiles[spelled] != nil:
			return placed(at, "this profile and %s have the same name, but for the case of letters; put them into one folder", excerpt(spelled))
		default:
			l.after.profiles[spelled] = l.after.profiles[name]
			delete(l.after.profiles, name)
		}
	}
	return nil
}

func (p *profileFiles) sortRuns() {
	sort.Slice(p.runs, func(a, b int) bool { return p.runs[a].path < p.runs[b].path })
}

// policy reads a state's policy; its text, too, to tell whether it changed.
func (l *loader) policy(s *state, into *gate.Snapshot) ([]byte, error) {
	if s.policy == nil {
		return nil, nil
	}
	data, err := l.small(s.policy, MaxPolicy)
	if err != nil {
		return nil, s.wrong(err)
	}
	into.PolicyFile = placeOf(s.policy.path).File
	file, err := Policy(data, into.PolicyFile)
	into.Policy, into.ReadingRules, into.PolicyAt = &file.Policy, file.Readings, file.At
	into.Words, into.Trust = file.Words, file.Trust
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

// readAs is a file that was read as runs of a profile, by so many words: those that a
// request adds come on top of the others.
type readAs struct {
	resultFile
	profile string
	words   int
}

// values reads all runs of a profile, file by file. Blobs that both states have are read
// and held once.
func (l *loader) values(s *state, name string) (*compare.Rows, error) {
	var files []*compare.Rows
	for _, file := range s.profiles[name].runs {
		words, err := l.wordsOf(s, &file)
		if err != nil {
			return compare.JoinRows(files...), s.wrong(err)
		}
		of := readAs{file, name, len(words)}
		values, known := l.done[of]
		if !known {
			from := l.rows.Len()
			err := l.valuesOf(l.rows, &file, name, words)
			values = l.rows.Tail(from)
			if err != nil {
				return compare.JoinRows(append(files, values)...), s.wrong(err)
			}
			if file.object != "" {
				l.done[of] = values
			}
		}
		files = append(files, values)
	}
	values := compare.JoinRows(files...)
	if s.base {
		return values, nil
	}
	return values, checkSlipsOf(name, values, l.trusted)
}

// checkSlipsOf is CheckSlips for values that are no series yet. What else is wrong with
// them is found where they are judged.
func checkSlipsOf(profile string, values *compare.Rows, trusted []string) error {
	var runs compare.Runs
	if runs.AddAll(profile, values) != nil {
		return nil
	}
	return CheckSlips(runs.Series(), trusted)
}

// valuesOf reads one file of a profile's runs behind values.
func (l *loader) valuesOf(values *compare.Rows, file *resultFile, name string, words Words) error {
	return l.read(file, func(r io.Reader) error { return l.readValues(r, values, file, name, words) })
}

// readValues is valuesOf for what the file holds.
func (l *loader) readValues(r io.Reader, values *compare.Rows, file *resultFile, name string, words Words) error {
	add := l.addTo(func() *compare.Rows { return values }, name)
	_, err := readRuns(r, placeOf(file.path).File, l.names, &options{words: words}, add)
	return err
}

// addTo adds the values of a profile's file to a list.
func (l *loader) addTo(list func() *compare.Rows, name string) func(*compare.Value) error {
	return func(v *compare.Value) error {
		if v.Profile != "" && !SameName(v.Profile, name) {
			v.At.Column = 0 // that of the value
			return placed(v.At, "this row is of the profile %s, but its file lies with %s; move the row to that profile's runs, or correct or "+
				"leave out the column profile",
				excerpt(v.Profile), excerpt(name))
		}
		v.Profile = name
		list().Append(*v)
		l.taken++
		return nil
	}
}

// small reads a file of at most so many bytes.
func (l *loader) small(file *resultFile, most int) (data []byte, err error) {
	err = l.read(file, func(r io.Reader) error {
		if data, err = io.ReadAll(io.LimitReader(r, int64(most)+1)); err == nil && len(data) > most {
			err = errTooLong(placeOf(file.path).File, most)
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
