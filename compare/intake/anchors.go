package intake

import (
	"errors"
	"fmt"
	"path"
	"slices"
	"strings"

	"tunegate/compare"
	"tunegate/compare/gate"
)

// maxLandings is how many commits that brought files of a profile are searched
// for its first runs.
const maxLandings = 20

// anchors finds what profiles were when they first landed: at the oldest commit
// along the first parents of a commit, so that a merge is one, that has settings
// and a valid run of them. A profile that never had both, or whose oldest files
// cannot be read, has none. In a shallow clone the oldest commit there counts.
// git is called once, however many profiles there are.
func (l *loader) anchors(commit string, profiles []string) (map[string]*gate.Profile, error) {
	anchors := map[string]*gate.Profile{}
	if len(profiles) == 0 {
		return anchors, nil
	}
	root := path.Join(l.repository.below, profilesFolder)
	args := []string{"log", "--first-parent", "-m", "--no-renames", "--diff-filter=A", "--reverse", "-z", "--name-only", "--format=%H",
		commit, "--"}
	for _, name := range profiles {
		args = append(args, path.Join(root, name))
	}
	out, _, err := l.repository.git.run(l.ctx, args...)
	if err != nil {
		return nil, err
	}
	landings, err := landingsOf(out, root)
	if err != nil {
		return nil, err
	}
	p := &past{loader: &loader{ctx: l.ctx, repository: l.repository, blobs: l.blobs, names: lenientNames()},
		folders: map[string][]treeEntry{}, flat: map[string][]treeEntry{}}
	for _, name := range profiles {
		commits := landings[name]
		for _, c := range commits[:min(len(commits), maxLandings)] {
			found, err := p.landed(c, name)
			if err != nil {
				return nil, err
			}
			if found != nil {
				anchors[name] = found
				break
			}
		}
	}
	return anchors, nil
}

// landingsOf reads what git log prints with -z, --name-only and --format=%H: each
// commit's hash and an empty line before the first of its paths. It returns the
// commits that brought files, by profile below the folder root, oldest first.
func landingsOf(out []byte, root string) (map[string][]string, error) {
	landings := map[string][]string{}
	commit := ""
	for _, word := range splitZero(out) {
		name, behindHash := strings.CutPrefix(word, "\n")
		below, inside := strings.CutPrefix(name, root+"/")
		switch {
		case !behindHash && objectID.MatchString(word):
			commit = word
		case !inside || commit == "":
			return nil, fmt.Errorf("git log printed %s, expected hashes and paths below %s", excerpt(word), root)
		default:
			profile, _, _ := strings.Cut(below, "/")
			if found := landings[profile]; len(found) == 0 || found[len(found)-1] != commit {
				landings[profile] = append(found, commit)
			}
		}
	}
	return landings, nil
}

// landed reads a profile at a commit; nil where it has no settings, no valid run,
// or something that cannot be understood.
func (p *past) landed(commit, name string) (*gate.Profile, error) {
	s, err := p.state(commit, func(profile string) bool { return profile == name })
	if err == nil && (s.profiles[name] == nil || s.profiles[name].settings == nil) {
		return nil, nil
	}
	var found *gate.Profile
	if err == nil {
		found, err = p.settings(s, name)
	}
	if err == nil {
		s.profiles[name].sortRuns()
		found.Values, err = p.values(s, name)
	}
	var wrong *compare.PlacedError
	switch {
	case errors.As(err, &wrong):
		return nil, nil
	case err != nil:
		return nil, err
	case !slices.ContainsFunc(found.Values, func(v compare.Value) bool { return !v.Missing && !v.SetAside }):
		return nil, nil
	}
	return found, nil
}
