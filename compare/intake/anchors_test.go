package intake

import (
	"strings"
	"testing"

	"tunegate/compare/gate"
)

// The anchor of a profile is what it was when it first landed with runs, along the
// first parents of the base, however often it was measured since.
func TestAnchors(t *testing.T) {
	r := newGitRepo(t)
	r.write("tunegate.toml", "confidance = 95\n") // a policy that is wrong stops nobody
	r.write("profiles/factory/settings.toml", "[settings]\nlift = \"auto\"\n")
	r.write("profiles/broken/settings.toml", "[settings\n")
	r.commit("settings only")
	r.git("checkout", "-q", "-b", "request")
	r.profile("factory", "auto", 500) // within a request, never on main as such
	r.commit("a try")
	r.profile("factory", "auto", 412, 409)
	r.profile("odd\tname", "low", 402)
	r.write("profiles/broken/runs/1.csv", runs(1))
	r.commit("measured")
	r.git("checkout", "-q", "main")
	r.git("merge", "-q", "--no-ff", "-m", "first runs", "request")
	for _, v := range []float64{413, 414, 415} {
		r.profile("factory", "up", v)
		r.profile("odd\tname", "low", v)
		r.write("tunegate.toml", "confidence = 95\n")
		r.remove("profiles/broken")
		r.commit("downhill")
	}
	calls := fakeGit(t, "")
	r.git("checkout", "-q", "-b", "next")
	r.profile("factory", "further", 416)
	r.remove("profiles/odd\tname")
	r.profile("boost-lift", "new", 300)
	r.commit("one step more")
	calls()
	before, after := r.mustLoad("main", "next")
	wantTold(t, "anchors", gate.Snapshot{Profiles: before.Anchors},
		"factory: lift=auto 412@factory/runs/first.csv:2 409@factory/runs/first.csv:3", "odd\tname: lift=low 402@odd\tname/runs/first.csv:2")
	if after.Anchors != nil {
		t.Errorf("the head has anchors: %v", after.Anchors)
	}
	logs := 0
	for _, c := range calls() {
		if c == "log" {
			logs++
		}
	}
	if logs != 2 { // for anchors, and for earlier states
		t.Errorf("git log was called %d times", logs)
	}

}

// A profile's earlier names count, so that a new name forgets no loss. An anchor that the
// settings name takes the place of the first runs, once it has landed.
func TestAnchorsOfOtherNames(t *testing.T) {
	r := newGitRepo(t)
	r.profile("factory", "auto", 412, 409, 411)
	r.commit("first")
	r.profile("factory", "up", 414, 416)
	agreed := r.commit("slower, and agreed to")
	for _, names := range [][2]string{{"factory", "calm"}, {"calm", "quiet"}} {
		r.git("mv", "profiles/"+names[0], "profiles/"+names[1])
		r.commit("another name")
	}
	r.git("checkout", "-q", "-b", "next")
	r.profile("quiet", "further", 420)
	r.commit("a step")
	before, _ := r.mustLoad("main", "next")
	wantTold(t, "under its first name", gate.Snapshot{Profiles: before.Anchors},
		"quiet: lift=auto 412@factory/runs/first.csv:2 409@factory/runs/first.csv:3 411@factory/runs/first.csv:4")

	r.write("profiles/quiet/settings.toml", "anchor = \""+agreed+"\"\n[settings]\nlift = \"further\"\n")
	r.commit("an anchor of another name")
	if _, _, err := r.load("main", "next"); err == nil || !strings.Contains(err.Error(), "profiles/quiet/settings.toml:1:10: anchor is ") {
		t.Errorf("an anchor without runs of the profile: %v", err)
	}
	r.git("checkout", "-q", "main")
	hash := strings.TrimSpace(r.git("rev-parse", "HEAD"))
	r.write("profiles/quiet/settings.toml", "anchor = \""+hash+"\"\n[settings]\nlift = \"up\"\n")
	r.commit("an anchor")
	r.git("checkout", "-q", "-B", "next")
	r.profile("quiet", "further", 420)
	r.commit("a step")
	before, _ = r.mustLoad("main", "next")
	wantTold(t, "as agreed to", gate.Snapshot{Profiles: before.Anchors},
		"quiet: lift=up 414@quiet/runs/first.csv:2 416@quiet/runs/first.csv:3")
}
