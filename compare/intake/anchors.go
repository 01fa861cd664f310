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

// maxRenames is how many names of a profile are followed back.
const maxRenames = 20

// anchors finds what profiles have to hold against: the state at the commit that
// their settings name, where the commit belongs to the history of the given one, else
// at the oldest commit along its first parents, so that a merge is one, that has
// settings and a valid run of them, be it under an earlier name. A profile that never
// had both, or whose oldest files cannot be read, has none. In a shallow clone the
// oldest commit there counts. git log is called once, however many profiles there are.
func (l *loader) anchors(commit string, profiles []string, stated map[string]*gate.Profile) (map[string]*gate.Profile, error) {
	anchors := map[string]*gate.Profile{}
	if len(profiles) == 0 {
		return anchors, nil
	}
	root := path.Join(l.repository.below, profilesFolder)
	out, _, err := l.repository.git.run(l.ctx, "log", "--first-parent", "-m", "--no-renames", "--diff-filter=A", "--reverse", "-z",
		"--name-only", "--format=%H %P", commit, "--", root)
	if err != nil {
		return nil, err
	}
	brought, err := landingsOf(out, root, nil)
	if err != nil {
		return nil, err
	}
	landings := map[string][]landing{}
	for _, at := range brought {
		landings[at.profile] = append(landings[at.profile], at)
	}
	p := l.past()
	for _, name := range profiles {
		found, err := p.statedAnchor(commit, name, stated[name])
		if err == nil && found == nil {
			found, err = p.firstRuns(landings, name, maxRenames)
		}
		if err != nil {
			return nil, err
		}
		if found != nil {
			if found.Name != name {
				found.Name, found.Values = name, found.Values.Under(name)
			}
			anchors[name] = found
		}
	}
	return anchors, nil
}

// past reads what commits of old hold, with the names in play.
func (l *loader) past() *past {
	l.names.lenient = true
	return &past{loader: &loader{ctx: l.ctx, repository: l.repository, blobs: l.blobs, names: l.names, words: l.words, rows: l.rows,
		done: l.done}}
}

// statedAnchor reads a profile at the commit that its settings name as its anchor; nil
// where they name none, or none that the history of a commit holds with a valid run.
func (p *past) statedAnchor(commit, name string, profile *gate.Profile) (*gate.Profile, error) {
	if profile == nil || profile.Anchor == "" {
		return nil, nil
	}
	_, _, err := p.repository.git.run(p.ctx, "merge-base", "--is-ancestor", profile.Anchor, commit)
	switch {
	case refused(err, 1) || refused(err, 128):
		return nil, nil
	case err != nil:
		return nil, err
	}
	return p.landed(profile.Anchor, name)
}

// checkAnchors refuses a new anchor that is no earlier state of its profile.
func (l *loader) checkAnchors(pairs []pair) error {
	p := l.past()
	for _, x := range pairs {
		if x.old == nil || x.now.Anchor == "" || x.now.Anchor == x.old.Anchor {
			continue
		}
		found, err := p.statedAnchor(l.tip, x.name, x.now)
		if err == nil && found == nil {
			err = placed(x.now.AnchorAt, "anchor is %.12s, which is no commit of %s with runs of this profile; name one that was merged",
				x.now.Anchor, l.before.name)
		}
		if err != nil {
			return err
		}
	}
	return nil
}

// firstRuns reads a profile where it first landed. Where it did so as another one that
// went away, half of the rows being the same, that one's first runs are meant.
func (p *past) firstRuns(landings map[string][]landing, name string, renames int) (*gate.Profile, error) {
	commits := landings[name]
	for _, c := range commits[:min(len(commits), maxLandings)] {
		found, err := p.landed(c.commit, name)
		if err != nil {
			return nil, err
		}
		if found == nil {
			continue
		}
		if renames > 0 {
			was, err := p.nameBefore(c, found)
			if err != nil {
				return nil, err
			}
			if was != "" {
				if earlier, err := p.firstRuns(landings, was, renames-1); err != nil || earlier != nil {
					return earlier, err
				}
			}
		}
		return found, nil
	}
	return nil, nil
}

// nameBefore is the name of the profile of a commit's first parent that is gone in the
// commit, and whose rows a profile there has; empty for none.
func (p *past) nameBefore(at landing, profile *gate.Profile) (string, error) {
	if at.parent == "" {
		return "", nil
	}
	namesOf := func(commit string) ([]string, error) {
		_, err := p.state(commit, func(string) bool { return false })
		var wrong *compare.PlacedError
		if errors.As(err, &wrong) {
			return nil, nil
		}
		return slices.Clone(p.present), err
	}
	there, err := namesOf(at.commit)
	if err != nil {
		return "", err
	}
	before, err := namesOf(at.parent)
	if err != nil {
		return "", err
	}
	for _, name := range before {
		if slices.Contains(there, name) {
			continue
		}
		was, err := p.landed(at.parent, name)
		if err != nil {
			return "", err
		}
		if was != nil && gate.SameProfile(was.Values, profile.Values) {
			return name, nil
		}
	}
	return "", nil
}

// landing is a commit that brought or changed files of a profile, and its first parent;
// none for the first commit, and where a shallow clone ends.
type landing struct{ commit, parent, profile string }

// landingsOf reads what git log prints with -z, --name-only and --format=%H %P: each
// commit's hash, those of its parents, and an empty line before the first of its paths.
// It returns the commits with the profiles below the folder root that they have such
// files of, or files that are wanted, in the order of the log.
func landingsOf(out []byte, root string, wanted func(below string) bool) (landings []landing, err error) {
	var at landing
	seen := map[string]bool{} // profiles of the commit
	for _, word := range splitZero(out) {
		name, behindHash := strings.CutPrefix(word, "\n")
		below, inside := strings.CutPrefix(name, root+"/")
		hashes := strings.Fields(word)
		switch {
		case !behindHash && len(hashes) > 0 && !slices.ContainsFunc(hashes, func(h string) bool { return !objectID().MatchString(h) }):
			if at = (landing{commit: hashes[0]}); len(hashes) > 1 {
				at.parent = hashes[1]
			}
			clear(seen)
		case !inside || at.commit == "":
			return nil, fmt.Errorf("git log printed %s, expected hashes and paths below %s", excerpt(word), root)
		default:
			at.profile, _, _ = strings.Cut(below, "/")
			if !seen[at.profile] && (wanted == nil || wanted(below)) {
				seen[at.profile], landings = true, append(landings, at)
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
		s.base = true // it was merged: a slip in it is no fault of the request
		found.Values, err = p.values(s, name)
	}
	var wrong *compare.PlacedError
	switch {
	case errors.As(err, &wrong):
		return nil, nil
	case err != nil:
		return nil, err
	case !found.Values.HasRun():
		return nil, nil
	}
	return found, nil
}
