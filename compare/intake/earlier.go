package intake

import (
	"path"

	"tunegate/compare"
	"tunegate/compare/gate"
)

// maxEarlier is how many earlier states of profiles are read, the newest first.
const maxEarlier = 100

// earlier reads what profiles were before their settings changed, or before they went
// away, along the first parents of a commit and newest first: their rows are gone from
// the tree, and git still has them. now are the rows that the commit has. States of the
// same rows are read once.
func (l *loader) earlier(commit string, now func(name string) *compare.Rows) ([]*gate.Profile, error) {
	root := path.Join(l.repository.below, profilesFolder)
	out, _, err := l.repository.git.run(l.ctx, "log", "--first-parent", "-m", "--no-renames", "--diff-filter=MD", "-z",
		"--name-only", "--format=%H %P", commit, "--", root)
	if err != nil {
		return nil, err
	}
	changes, err := landingsOf(out, root, func(below string) bool {
		what, _ := useOf(path.Join(profilesFolder, below))
		return what == usedSettings
	})
	if err != nil {
		return nil, err
	}
	newest, p := map[string]*compare.Rows{}, l.past()
	var states []*gate.Profile
	for _, at := range changes {
		if len(states) == maxEarlier || at.parent == "" {
			break
		}
		found, err := p.landed(at.parent, at.profile)
		if err != nil {
			return nil, err
		}
		if found == nil {
			continue
		}
		later, known := newest[at.profile]
		if !known {
			later = now(at.profile)
		}
		newest[at.profile] = found.Values
		if later.Len() == 0 || !gate.SameProfile(found.Values, later) {
			states = append(states, found)
		}
	}
	return states, nil
}
