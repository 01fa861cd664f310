package intake

import (
	"os"
	"path/filepath"
)

// profileFolder finds the profile of a results repository that a file or folder
// of runs belongs to: the nearest folder upwards that is named runs and lies
// beside a settings.toml. Empty where there is none.
func profileFolder(path string) string {
	here, err := filepath.Abs(path)
	if err != nil || path == "-" {
		return ""
	}
	for dir := here; dir != filepath.Dir(dir); dir = filepath.Dir(dir) {
		if filepath.Base(dir) != runsFolder {
			continue
		}
		info, err := os.Stat(filepath.Join(filepath.Dir(dir), settingsName))
		if err == nil && info.Mode().IsRegular() {
			return filepath.Dir(dir)
		}
	}
	return ""
}

// Conditions reads what the settings of a results repository record in
// [conditions] about the profiles that files of runs belong to, flattened as in
// Settings, by the profile's name. Files that lie elsewhere have none. An error
// is about a settings file.
func Conditions(paths []string) (map[string]map[string]string, error) {
	conditions := map[string]map[string]string{}
	read := map[string]bool{}
	for _, path := range paths {
		folder := profileFolder(path)
		if folder == "" || read[folder] {
			continue
		}
		read[folder] = true
		// Named in the way of the runs file: relative or absolute.
		name := filepath.Join(folder, settingsName)
		if here, err := os.Getwd(); err == nil && !filepath.IsAbs(path) {
			if below, err := filepath.Rel(here, name); err == nil {
				name = below
			}
		}
		data, err := ReadSmall(name, maxSettings)
		if err != nil {
			return nil, err
		}
		profile, err := Settings(data, filepath.ToSlash(name))
		if err != nil {
			return nil, err
		}
		conditions[filepath.Base(folder)] = profile.Conditions
	}
	return conditions, nil
}
