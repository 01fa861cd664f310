package report

import (
	"fmt"
	"io"
)

// Build is what a program knows of how it was built; what it does not know is
// empty.
type Build struct {
	Version    string // v1.2.3
	Commit     string // all 40 digits
	Time       string // of the commit, RFC 3339
	Modified   bool   // files differed from the commit
	Repository string // URL of the repository whose release this is
	Module     string // path under which Go fetched it
	Go         string // version of Go
	System     string // operating system and processor, as linux/amd64
}

// buildFormat names the JSON form of a build. Its schema is
// schema/version.schema.json.
const buildFormat = "tunegate-version-1"

type buildJSON struct {
	Format     string `json:"format"`
	Version    string `json:"version,omitempty"`
	Commit     string `json:"commit,omitempty"`
	Time       string `json:"commit_time,omitempty"`
	Modified   bool   `json:"modified"`
	Repository string `json:"repository,omitempty"`
	Module     string `json:"module,omitempty"`
	Go         string `json:"go"`
	System     string `json:"system"`
}

// BuildJSON writes a build as JSON.
func BuildJSON(w io.Writer, b Build) error {
	return encode(w, buildJSON{buildFormat, b.Version, b.Commit, b.Time, b.Modified, b.Repository, b.Module, b.Go, b.System})
}

// BuildText writes a build as lines for people.
func BuildText(w io.Writer, b Build) error {
	version, commit, repository := b.Version, b.Commit, b.Repository
	if version == "" {
		version = "(unversioned build)"
	}
	switch {
	case commit == "":
		commit = "not recorded"
	case b.Modified:
		commit += ", with changes"
	case b.Time != "":
		commit += " of " + b.Time
	}
	if repository == "" {
		repository = "not recorded; this is no release"
	}
	_, err := fmt.Fprintf(w, "tunegate %s\ncommit      %s\nrepository  %s\nbuilt with  %s for %s\n",
		version, commit, repository, b.Go, b.System)
	return err
}
