package intake

// wordsOf are the words that a file is read by. Those that the request adds hold in
// files that the base lacks, so that none changes what was merged.
func (l *loader) wordsOf(s *state, file *resultFile) (Words, error) {
	if s != l.after || len(l.newWords) == len(l.words) {
		return l.words, nil
	}
	if l.merged == nil {
		l.merged = map[string]bool{}
		for _, p := range l.before.profiles {
			for _, f := range p.runs {
				l.merged[f.object] = true
			}
		}
	}
	old := l.merged[file.object]
	if file.object == "" {
		var err error
		if old, err = l.isMerged(file); err != nil {
			return nil, err
		}
	}
	if old {
		return l.words, nil
	}
	return l.newWords, nil
}

// isMerged reports whether a file on the disk is there in the base.
func (l *loader) isMerged(file *resultFile) (bool, error) {
	for _, p := range l.before.profiles {
		for _, f := range p.runs {
			if f.path == file.path {
				return l.holdsFile(file, f.object)
			}
		}
	}
	return false, nil
}
