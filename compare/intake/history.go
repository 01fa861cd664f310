package intake

import (
	"bytes"
	"context"
	"encoding/hex"
	"errors"
	"fmt"
	"io"
	"maps"
	"path"
	"slices"
	"strconv"
	"strings"
	"time"

	"tunegate/compare"
	"tunegate/compare/gate"
	"tunegate/compare/history"
)

// Span is how far back a history was read.
type Span struct {
	Head    string // "HEAD (1a2b3c4)"
	Commits int    // read, of those that touch the profile or the policy
	Earlier bool   // there are older ones
	// Missing says what to run where the clone holds no older ones, because it
	// is shallow; empty else.
	Missing string
}

// Profiles lists the profiles of a commit of the repository by name; HEAD where
// rev is empty.
func (r *Repository) Profiles(ctx context.Context, rev string) ([]string, error) {
	p, err := r.past(ctx, rev)
	if err != nil {
		return nil, err
	}
	if err := p.open(); err != nil {
		return nil, err
	}
	defer p.end()
	s, err := p.state(p.head.commit, nil)
	if err != nil {
		return nil, err
	}
	if s.empty() {
		return nil, &NoResultsError{Root: r.Root, Commit: s.name}
	}
	return slices.Sorted(maps.Keys(s.profiles)), p.blobs.close()
}

// History reads what a profile and the policy were at the commits that changed
// them: along the first parents of rev (HEAD where it is empty), so that a
// merged branch is one commit, at most the limit newest of them, handed to visit
// oldest first. Nothing of the working tree is read. However many commits there
// are, git is called the same number of times: one git lists the commits, one
// hands out what they hold; a folder or file that did not change since the commit before
// is not read again, and of a file that was added to no more than what was added, see
// growing.
//
// A commit whose files cannot be read has the reason in Wrong, and the history
// goes on; of the newest it is an error. A state holds the profile and, where
// it is new, the one that it names as its baseline. Files are named as by Load.
func (r *Repository) History(ctx context.Context, rev, profile string, limit int, visit func(history.Commit) error) (Span, error) {
	if profile == "" || profile == "." || profile == ".." || strings.Contains(profile, "/") {
		return Span{}, fmt.Errorf("%s is no name of a profile", excerpt(profile))
	}
	p, err := r.past(ctx, rev)
	if err != nil {
		return Span{}, err
	}
	return p.history(profile, limit, visit)
}

func (p *past) history(profile string, limit int, visit func(history.Commit) error) (Span, error) {
	r := p.repository
	paths := []string{path.Join(r.below, policyName), path.Join(r.below, profilesFolder, profile)}
	commits, err := p.list(paths, limit+1)
	if err != nil {
		return Span{}, err
	}
	span := Span{Head: shownCommit(p.head.shown, p.head.commit), Earlier: len(commits) > limit}
	commits = commits[:min(len(commits), limit)]
	span.Commits = len(commits)
	if !span.Earlier {
		if span.Missing, err = r.missingHistory(p.ctx); err != nil {
			return span, err
		}
	}
	if err := p.open(); err != nil {
		return span, err
	}
	defer p.end()
	had := false // the state before has the profile
	for i, commit := range slices.Backward(commits) {
		c, err := p.commit(commit)
		if err != nil {
			return span, err
		}
		c.Index, c.Of = len(commits)-1-i, len(commits)
		c.First = c.Index == 0 && !span.Earlier && span.Missing == ""
		c.State, err = p.snapshot(commit, profile, had || c.Index == 0 && !c.First)
		c.Profiles = p.present
		var wrong *compare.PlacedError
		switch {
		case err != nil && i == 0:
			return span, fmt.Errorf("in %s: %w", shownCommit(p.head.shown, commit), err)
		case errors.As(err, &wrong):
			c.Wrong = err
		case err != nil:
			return span, err
		default:
			had = c.State.Profiles[profile] != nil
		}
		if err := visit(c); err != nil {
			return span, err
		}
	}
	return span, p.blobs.close()
}

// missingHistory says how to get the commits that a shallow clone lacks.
func (r *Repository) missingHistory(ctx context.Context) (string, error) {
	shallow, err := r.git.shallow(ctx)
	if err != nil || !shallow {
		return "", err
	}
	remote, err := r.git.remote(ctx)
	if err != nil {
		return "", err
	}
	if remote == "" {
		return "the clone is shallow and has no remote to get the older commits from; clone it anew", nil
	}
	return "the clone is shallow, and older commits are missing; run: git fetch --unshallow " + remote, nil
}

// past reads commits, folders and files of the past through one git.
type past struct {
	*loader
	head    revision
	folders recent[[]treeEntry]          // entries by the hash of a tree
	flat    recent[[]treeEntry]          // what lies below a tree, by its hash
	parsed  map[resultFile]*compare.Rows // of the state read last
	paths   map[string]bool              // of these files
	growing map[string]*growing          // readers that go on with the next commit, by path
	turns   int                          // commits so far
	buffer  []byte                       // a file that changed, as a whole
	present []string                     // the profiles of the state read last
}

func (r *Repository) past(ctx context.Context, rev string) (*past, error) {
	head, err := revision{shown: "HEAD"}, error(nil)
	if rev != "" && rev != "HEAD" {
		head, err = r.git.resolve(ctx, rev)
	} else {
		head.commit, _, err = r.git.commit(ctx, "HEAD")
	}
	if err != nil {
		return nil, err
	}
	l := &loader{ctx: ctx, repository: r, names: lenientNames(), words: Words{}, rows: &compare.Rows{}, done: map[readAs]*compare.Rows{}}
	return &past{loader: l, head: head, growing: map[string]*growing{}}, nil
}

func (p *past) open() (err error) {
	p.blobs, err = p.repository.git.openBlobs(p.ctx)
	return err
}

func (p *past) end() {
	p.dropAll()
	p.blobs.end() // after an error git may still be writing
	p.blobs.close()
}

// list names the newest commits along first parents that touch the paths,
// newest first.
func (p *past) list(paths []string, limit int) ([]string, error) {
	out, _, err := p.repository.git.run(p.ctx, append([]string{"rev-list", "--first-parent", fmt.Sprintf("--max-count=%d", limit),
		"--end-of-options", p.head.commit, "--"}, paths...)...)
	if err != nil {
		return nil, err
	}
	commits := strings.Fields(string(out))
	for _, c := range commits {
		if !objectID().MatchString(c) {
			return nil, fmt.Errorf("git rev-list printed %s, expected hashes", excerpt(c))
		}
	}
	return commits, nil
}

// maxCommit is how much of a commit is read: beyond it only its message goes on.
const maxCommit = 64 << 10

// commit reads who, when and why. The header of a commit is lines of a word and
// the rest; its message follows an empty line.
func (p *past) commit(hash string) (history.Commit, error) {
	c := history.Commit{Hash: hash}
	var data []byte
	err := p.blobs.readKind("commit", hash, func(r io.Reader) (err error) {
		data, err = io.ReadAll(io.LimitReader(r, maxCommit))
		return err
	})
	if err != nil {
		return c, err
	}
	header, message, _ := strings.Cut(string(data), "\n\n")
	for _, line := range strings.Split(header, "\n") {
		if signature, is := strings.CutPrefix(line, "committer "); is {
			c.Time = signatureTime(signature)
		}
	}
	subject, _, _ := strings.Cut(strings.TrimLeft(message, "\r\n"), "\n")
	c.Subject = oneLine(subject)
	return c, nil
}

// signatureTime reads the time at the end of "Name <mail> 1773305100 +0100";
// zero where there is none.
func signatureTime(signature string) time.Time {
	fields := strings.Fields(signature[strings.LastIndexByte(signature, '>')+1:])
	if len(fields) != 2 {
		return time.Time{}
	}
	seconds, err := strconv.ParseInt(fields[0], 10, 64)
	zone, zoneErr := strconv.Atoi(fields[1])
	if err != nil || zoneErr != nil || seconds < 0 || seconds > 1<<36 || zone < -2400 || zone > 2400 {
		return time.Time{}
	}
	return time.Unix(seconds, 0).In(time.FixedZone("", (zone/100*60+zone%100)*60))
}

// snapshot reads the policy, a profile and, unless it was there before, its
// baseline.
func (p *past) snapshot(commit, profile string, had bool) (gate.Snapshot, error) {
	only := func(names ...string) func(string) bool {
		return func(name string) bool { return slices.Contains(names, name) }
	}
	p.folders.turn()
	p.flat.turn()
	p.turns++
	out := gate.Snapshot{Name: fmt.Sprintf("%.7s", commit), Profiles: map[string]*gate.Profile{}}
	s, err := p.state(commit, only(profile))
	if err != nil {
		return out, err
	}
	if _, err := p.policy(s, &out); err != nil {
		return out, err
	}
	maps.Copy(p.words, out.Words)
	parsed := map[resultFile]*compare.Rows{}
	add := func(s *state, name string) (*gate.Profile, error) {
		if s.profiles[name] == nil {
			return nil, nil
		}
		made, err := p.settings(s, name)
		if err != nil {
			return nil, err
		}
		s.profiles[name].sortRuns()
		var files []*compare.Rows // joined at once: grown file by file, all of them would be copied several times
		for _, file := range s.profiles[name].runs {
			values, known := p.parsed[file]
			if !known {
				read := p.valuesOfFile
				if p.paths[file.path] {
					read = p.valuesOfChanged
				}
				if values, err = read(&file, name); err != nil {
					return nil, err
				}
			}
			parsed[file] = values
			files = append(files, values)
		}
		made.Values = compare.JoinRows(files...)
		out.Profiles[name] = made
		return made, nil
	}
	now, err := add(s, profile)
	if err != nil || now == nil {
		return out, err
	}
	if !had && now.Baseline != "" && now.Baseline != profile {
		s, err := p.state(commit, only(now.Baseline))
		if err == nil {
			_, err = add(s, now.Baseline)
		}
		if err != nil {
			return out, err
		}
	}
	p.forget(parsed)
	p.parsed, p.paths = parsed, map[string]bool{}
	for file := range parsed {
		p.paths[file.path] = true
	}
	return out, nil
}

// valuesOfFile reads a file of a profile's runs as a whole.
func (p *past) valuesOfFile(file *resultFile, profile string) (*compare.Rows, error) {
	from := p.rows.Len()
	err := p.valuesOf(p.rows, file, profile, p.words)
	return p.rows.Tail(from), err
}

// state files what a commit has of the profiles that are wanted, all where
// wanted is nil.
func (p *past) state(commit string, wanted func(profile string) bool) (*state, error) {
	s := newState(fmt.Sprintf("%.7s", commit))
	p.present = nil
	entries, err := p.below(commit, p.repository.below)
	if err != nil {
		return nil, err
	}
	var files []treeEntry
	for _, e := range entries {
		switch {
		case e.path == profilesFolder && e.mode == treeMode:
			profiles, err := p.folder(e.object)
			if err != nil {
				return nil, err
			}
			for _, e := range profiles {
				if e.mode == treeMode && !hidden(e.path) {
					p.present = append(p.present, placeOf(e.path).File)
				}
				switch {
				case wanted != nil && !wanted(e.path):
				case e.mode != treeMode:
					files = append(files, e.in(profilesFolder))
				default:
					below, err := p.all(e.object, 0)
					if err != nil {
						return nil, err
					}
					for _, f := range below {
						files = append(files, f.in(path.Join(profilesFolder, e.path)))
					}
				}
			}
		case e.mode != treeMode:
			files = append(files, e)
		}
	}
	for _, f := range files {
		if err := s.add(f.path, f.in(p.repository.below)); err != nil {
			return nil, err
		}
	}
	return s, nil
}

const treeMode = "40000"

func (e treeEntry) in(folder string) treeEntry {
	e.path = inFolder(folder) + e.path
	return e
}

// below lists the entries of a folder of a commit; none where there is none.
func (p *past) below(commit, folder string) ([]treeEntry, error) {
	tree := ""
	err := p.blobs.readKind("commit", commit, func(r io.Reader) error {
		line := make([]byte, 256)
		n, err := io.ReadFull(r, line)
		if err != nil && !errors.Is(err, io.ErrUnexpectedEOF) {
			return err
		}
		first, _, _ := strings.Cut(string(line[:n]), "\n")
		if tree = strings.TrimPrefix(first, "tree "); !objectID().MatchString(tree) {
			return fmt.Errorf("git cat-file printed %s for the commit %s, expected its tree", excerpt(first), commit)
		}
		return nil
	})
	if err != nil {
		return nil, err
	}
	for _, name := range strings.FieldsFunc(folder, func(r rune) bool { return r == '/' }) {
		entries, err := p.folder(tree)
		if err != nil {
			return nil, err
		}
		i := slices.IndexFunc(entries, func(e treeEntry) bool { return e.path == name && e.mode == treeMode })
		if i < 0 {
			return nil, nil
		}
		tree = entries[i].object
	}
	return p.folder(tree)
}

// folder reads one tree: for each entry its mode, a space, its name, a zero byte
// and its hash as bytes.
func (p *past) folder(tree string) ([]treeEntry, error) {
	if entries, known := p.folders.get(tree); known {
		return entries, nil
	}
	var data []byte
	err := p.blobs.readKind("tree", tree, func(r io.Reader) (err error) {
		data, err = io.ReadAll(r)
		return err
	})
	if err != nil {
		return nil, err
	}
	entries, err := treeEntries(data, len(tree)/2)
	if err != nil {
		return nil, fmt.Errorf("the folder %s of the repository: %w; git fsck tells more", tree, err)
	}
	p.folders.put(tree, entries)
	return entries, nil
}

func treeEntries(data []byte, hash int) ([]treeEntry, error) {
	var entries []treeEntry
	seen := map[string]bool{}
	for len(data) > 0 {
		about, rest, ok := bytes.Cut(data, []byte{0})
		mode, name, named := strings.Cut(string(about), " ")
		switch {
		case !ok || !named || len(rest) < hash:
			return nil, errors.New("an entry breaks off")
		case name == "" || strings.Contains(name, "/"):
			return nil, fmt.Errorf("found an entry named %s", excerpt(name))
		case seen[name]:
			return nil, fmt.Errorf("found two entries %s", excerpt(name))
		}
		seen[name] = true
		entries = append(entries, treeEntry{path: name, mode: mode, object: hex.EncodeToString(rest[:hash])})
		data = rest[hash:]
	}
	return entries, nil
}

// What one profile may hold: folders that hold each other many times over could
// else be made to fill the memory.
const (
	maxFiles = 100_000
	maxDepth = 100
)

// all lists the files below a tree, with their paths from there.
func (p *past) all(tree string, depth int) ([]treeEntry, error) {
	if files, known := p.flat.get(tree); known {
		return files, nil
	}
	if depth > maxDepth {
		return nil, fmt.Errorf("a profile holds folders more than %d deep; expected runs in few", maxDepth)
	}
	entries, err := p.folder(tree)
	if err != nil {
		return nil, err
	}
	var files []treeEntry
	for _, e := range entries {
		if e.mode != treeMode {
			files = append(files, e)
			continue
		}
		below, err := p.all(e.object, depth+1)
		if err != nil {
			return nil, err
		}
		if len(files)+len(below) > maxFiles {
			return nil, fmt.Errorf("a profile holds more than %d files; expected fewer", maxFiles)
		}
		for _, f := range below {
			files = append(files, f.in(e.path))
		}
	}
	p.flat.put(tree, files)
	return files, nil
}
