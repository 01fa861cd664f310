package intake

import (
	"fmt"
	"testing"

	"tunegate/compare/gate"
)

// What a profile was before its settings changed, or before it went away, is read from
// the history, once where its rows stayed; what a request did on its way is no part of it.
func TestEarlier(t *testing.T) {
	r := newGitRepo(t)
	r.profile("factory", "auto", 412, 409)
	r.profile("quiet", "low", 420, 421)
	r.commit("first")
	r.profile("factory", "up", 413, 414)
	r.commit("settings")
	r.write("profiles/factory/settings.toml", "[settings]\nlift = \"up\"\n[conditions]\nroom = \"24\"\n")
	r.remove("profiles/quiet")
	r.commit("conditions")
	r.git("checkout", "-q", "-b", "on-its-way")
	r.profile("factory", "try", 500)
	r.commit("a try")
	r.profile("factory", "top", 415, 416)
	r.commit("settings again")
	r.git("checkout", "-q", "main")
	r.git("merge", "-q", "--no-ff", "-m", "merged", "on-its-way")
	r.git("checkout", "-q", "-b", "next")
	r.profile("boost-lift", "new", 300)
	r.commit("one more")
	before, after := r.mustLoad("main", "next")
	wantTold(t, "earlier", gate.Snapshot{Profiles: numbered(before.Earlier)},
		"0 but named factory: lift=up 413@factory/runs/first.csv:2 414@factory/runs/first.csv:3",
		"1 but named quiet: lift=low 420@quiet/runs/first.csv:2 421@quiet/runs/first.csv:3",
		"2 but named factory: lift=auto 412@factory/runs/first.csv:2 409@factory/runs/first.csv:3")
	if after.Earlier != nil {
		t.Errorf("the head has earlier states: %v", after.Earlier)
	}
	r.git("checkout", "-q", "-B", "next", "main")
	r.write("tunegate.toml", "confidence = 95\n")
	r.commit("no profile changed")
	if before, _ := r.mustLoad("main", "next"); before.Earlier != nil {
		t.Errorf("read for nothing: %v", before.Earlier)
	}
}

func numbered(profiles []*gate.Profile) map[string]*gate.Profile {
	out := map[string]*gate.Profile{}
	for i, p := range profiles {
		out[fmt.Sprint(i)] = p
	}
	return out
}
