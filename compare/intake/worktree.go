package intake

import (
	"bytes"
	"context"
	"crypto/sha1"
	"crypto/sha256"
	"errors"
	"fmt"
	"hash"
	"io"
	"io/fs"
	"os"
	"path"
	"path/filepath"
	"slices"
	"strings"
	"syscall"

	"tunegate/compare/gate"
)

// listDisk files what lies on the disk, and reports whether that differs from
// the commit to in anything that is read, or that lies among it and looks like it.
func (l *loader) listDisk(to revision) (dirty bool, err error) {
	r := l.repository
	if l.disk, err = os.OpenRoot(r.Root); err != nil {
		return false, fmt.Errorf("%s: the folder of the results cannot be opened: %w", r.Root, err)
	}
	tracked, err := r.git.index(l.ctx)
	if err != nil {
		return false, err
	}
	untracked, err := r.git.untracked(l.ctx)
	if err != nil {
		return false, err
	}
	l.after = newState("the working tree")
	for _, e := range slices.Concat(tracked, untracked) {
		if err := l.addFromDisk(e); err != nil {
			return false, err
		}
	}
	tree, err := r.git.tree(l.ctx, to.commit, nil)
	if err != nil {
		return false, err
	}
	committed := newState("")
	if committed.addAll(r.below, tree) != nil { // what is wrong with it is mended on the disk
		return true, nil
	}
	same, err := l.sameFiles(committed, l.after, tracked)
	if !same {
		l.notes = append(l.notes, gate.Note{Kind: gate.NoteNotCommitted})
	}
	return !same, err
}

// addFromDisk files what git lists of the working tree, unless it is gone.
func (l *loader) addFromDisk(e treeEntry) error {
	below, inside := strings.CutPrefix(e.path, inFolder(l.repository.below))
	if nested, is := strings.CutSuffix(below, "/"); is {
		if inside && underProfiles(nested) {
			return errNested(e.path)
		}
		return nil
	}
	what, _ := useOf(below)
	if !inside || what == notUsed || e.mode == submoduleMode {
		if looksLike(below, inside) != likeNothing {
			info, err := os.Lstat(filepath.Join(l.repository.git.dir, filepath.FromSlash(e.path)))
			if err != nil && !e.skipped {
				return nil // gone
			}
			if err == nil && info.Mode().IsRegular() {
				e.object = ""
			}
		}
		if !inside {
			l.after.notice(e.path, false, e)
			return nil
		}
		return l.after.add(below, e)
	}
	info, err := l.lookAt(below, e.path)
	switch {
	case err != nil:
		return err
	case info == nil && e.skipped:
		return l.after.add(below, e) // as it is tracked
	case info == nil:
		return nil
	case e.mode == linkMode:
		return errLink(e.path)
	}
	if what, _ := useOf(below); what != onTheWay && !info.Mode().IsRegular() {
		return placed(placeOf(e.path), "found %s, expected a file", info.Mode().Type())
	}
	e.object = ""
	return l.after.add(below, e)
}

// lookAt tells what lies at a path below the root, nil where nothing does, or
// a folder that files of other names may lie in. A link, there or on the way,
// is an error.
func (l *loader) lookAt(below, shown string) (fs.FileInfo, error) {
	if parent := path.Dir(below); parent != "." {
		err, known := l.links[parent]
		if !known {
			_, err = l.lookAt(parent, path.Dir(shown))
			l.links[parent] = err
		}
		if err != nil {
			return nil, err
		}
	}
	info, err := l.disk.Lstat(filepath.FromSlash(below))
	switch {
	case errors.Is(err, fs.ErrNotExist), errors.Is(err, syscall.ENOTDIR):
		return nil, nil
	case err != nil:
		return nil, fmt.Errorf("%s: cannot be read: %w", placeOf(shown).File, err)
	case info.Mode()&fs.ModeSymlink != 0:
		return nil, errLink(shown)
	case info.IsDir():
		return nil, nil
	}
	return info, nil
}

func (l *loader) open(file *resultFile) (*os.File, error) {
	if err := l.ctx.Err(); err != nil {
		return nil, fmt.Errorf("reading the working tree was stopped: %w", context.Cause(l.ctx))
	}
	below := strings.TrimPrefix(file.path, inFolder(l.repository.below))
	f, err := l.disk.Open(filepath.FromSlash(below))
	if err != nil {
		return nil, fmt.Errorf("%s: cannot be opened: %w", placeOf(file.path).File, err)
	}
	return f, nil
}

// sameFiles reports whether the disk holds what a commit holds, in the files
// that are read or look like it, as git judges it.
func (l *loader) sameFiles(committed, disk *state, tracked []treeEntry) (bool, error) {
	index := map[string]string{}
	for _, e := range tracked {
		index[e.path] = e.object
	}
	a, b := committed.files(), disk.files()
	if len(a) != len(b) {
		return false, nil
	}
	for name, was := range a {
		now, there := b[name]
		if !there || now.object != "" && now.object != was.object {
			return false, nil
		}
		if now.object != "" {
			continue
		}
		same, err := l.unchanged(&now, was.object, index[name])
		if err != nil || !same {
			return false, err
		}
	}
	return true, nil
}

// files lists what is read, and what lies among it and looks like it, by path. Runs
// elsewhere are only named, so they make no difference.
func (s *state) files() map[string]resultFile {
	out := map[string]resultFile{}
	put := func(files ...resultFile) {
		for _, f := range files {
			out[f.path] = f
		}
	}
	put(s.overlooked...)
	if s.policy != nil {
		put(*s.policy)
	}
	for _, p := range s.profiles {
		put(p.runs...)
		if p.settings != nil {
			put(*p.settings)
		}
	}
	return out
}

// unchanged reports whether a file on the disk is the one of a commit: it holds
// the object, or git put it there from the object and nobody has written to it
// since, whatever attributes made of its bytes.
func (l *loader) unchanged(file *resultFile, object, tracked string) (bool, error) {
	name := filepath.Join(l.repository.git.dir, filepath.FromSlash(file.path))
	info, err := os.Lstat(name)
	if err != nil {
		return false, fmt.Errorf("%s: cannot be read: %w", placeOf(file.path).File, err)
	}
	if info.Mode().IsRegular() {
		f, err := os.Open(name)
		if err != nil {
			return false, fmt.Errorf("%s: cannot be opened: %w", placeOf(file.path).File, err)
		}
		defer f.Close()
		if same, err := holds(f, placeOf(file.path).File, object); err != nil || same {
			return same, err
		}
	}
	if tracked != object {
		return false, nil
	}
	if l.stamps == nil {
		if l.stamps, err = l.repository.git.stamps(l.ctx); err != nil {
			return false, err
		}
	}
	written := info.ModTime()
	stamp, noted := l.stamps[file.path]
	return noted && stamp.seconds == written.Unix() && stamp.size == info.Size()&(1<<32-1) &&
		(stamp.nanoseconds == 0 || stamp.nanoseconds == int64(written.Nanosecond())), nil
}

// same reports whether two states of a profile have the same files with the
// same bytes, but for CRLF on the disk, which a checkout may have put there and
// which no reader tells from LF.
func (l *loader) same(old, now *profileFiles) (bool, error) {
	a := append(slices.Clone(old.runs), *old.settings)
	b := append(slices.Clone(now.runs), *now.settings)
	if len(a) != len(b) {
		return false, nil
	}
	for i := range a {
		if a[i].path != b[i].path {
			return false, nil
		}
	}
	for i := range a {
		same := a[i].object == b[i].object
		if b[i].object == "" {
			var err error
			if same, err = l.holdsFile(&b[i], a[i].object); err != nil {
				return false, err
			}
		}
		if !same {
			return false, nil
		}
	}
	return true, nil
}

// holdsFile reports whether a file on the disk is the object, see holds.
func (l *loader) holdsFile(file *resultFile, object string) (bool, error) {
	f, err := l.open(file)
	if err != nil {
		return false, err
	}
	defer f.Close()
	return holds(f, placeOf(file.path).File, object)
}

// holds reports whether a file on the disk is the object, a blob: its hash is
// that of "blob", the size, a zero byte and the content (git-hash-object).
func holds(f *os.File, name, object string) (bool, error) {
	info, err := f.Stat()
	if err != nil {
		return false, fmt.Errorf("%s: cannot be read: %w", name, err)
	}
	sum := func(size int64, keepCR bool) (string, int64, error) {
		h := hash.Hash(sha1.New())
		if len(object) == 2*sha256.Size {
			h = sha256.New()
		}
		fmt.Fprintf(h, "blob %d\x00", size)
		lines := lineFeeder{to: h, keepCR: keepCR}
		n, err := io.Copy(&lines, f)
		if err == nil && n != info.Size() {
			err = errors.New("its size changed meanwhile; run this again")
		}
		if err != nil {
			return "", 0, fmt.Errorf("%s: cannot be read: %w", name, err)
		}
		lines.end()
		return fmt.Sprintf("%x", h.Sum(nil)), lines.pairs, nil
	}
	found, pairs, err := sum(info.Size(), true)
	if err != nil || found == object || pairs == 0 {
		return found == object, err
	}
	if _, err := f.Seek(0, io.SeekStart); err != nil {
		return false, fmt.Errorf("%s: cannot be read again: %w", name, err)
	}
	found, _, err = sum(info.Size()-pairs, false)
	return found == object, err
}

// lineFeeder hands bytes on, with or without the CR of each CRLF, and counts
// the pairs.
type lineFeeder struct {
	to     io.Writer // a hash, which takes everything
	keepCR bool
	pairs  int64
	held   bool // the write before ended with a CR
}

func (f *lineFeeder) Write(p []byte) (int, error) {
	n := len(p)
	if n == 0 {
		return 0, nil
	}
	if f.held {
		p = append([]byte{'\r'}, p...)
	}
	if f.held = p[len(p)-1] == '\r'; f.held {
		p = p[:len(p)-1]
	}
	f.pairs += int64(bytes.Count(p, []byte("\r\n")))
	if !f.keepCR {
		p = bytes.ReplaceAll(p, []byte("\r\n"), []byte{'\n'})
	}
	_, err := f.to.Write(p)
	return n, err
}

func (f *lineFeeder) end() {
	if f.held {
		f.to.Write([]byte{'\r'})
	}
}
