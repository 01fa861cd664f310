package intake

import (
	"bytes"
	"errors"
	"fmt"
	"math"
	"slices"
	"sort"
	"strconv"
	"strings"
	"time"
	"unicode/utf8"

	"github.com/pelletier/go-toml/v2"
	"github.com/pelletier/go-toml/v2/unstable"

	"tunegate/compare"
	"tunegate/compare/gate"
)

// settingsKeys are the keys at the top of a settings file and what each
// expects.
var settingsKeys = map[string]string{
	"anchor":     "the full hash of a commit in quotes, as git rev-parse prints it",
	"baseline":   `the name of a profile in quotes, such as "factory"`,
	"notes":      "a text in quotes",
	"settings":   "a table [settings]",
	"conditions": "a table [conditions]",
}

// Settings reads a profile's settings.toml: what is set, under which
// conditions it was measured, and the profile it is judged against. It fills
// all of a Profile but Name and Values; the notes are for people and left out.
//
// The keys below [settings] and [conditions] are free. Nested tables are
// flattened, "memory.pace" to "5270", and every value becomes a text that is
// equal where the values are: strings as they are, numbers in their shortest
// form (5270, 0.5; 1.0 is 1), true and false, dates as in RFC 3339, arrays as
// [a, b] and tables in them as {a = 1, b = 2}. A part of a key that holds a dot
// or a quote stands in quotes, and so does a text in an array that could be
// taken for more than one.
//
// It is strict: a syntax error, an unknown key at the top and a wrong type are
// a *compare.PlacedError with line and column, and where a key looks like a
// known one it is named.
func Settings(data []byte, name string) (gate.Profile, error) {
	profile := gate.Profile{At: compare.Place{File: name}}
	if len(data) > maxSettings {
		return profile, placed(profile.At, "found %d bytes, expected at most %d; settings are a few lines, leave the rest out", len(data),
			maxSettings)
	}
	data = tomlText(data)
	err := walkTOML(data, name, func(k tomlKey) error {
		top := k.path[0]
		expected, known := settingsKeys[top]
		if !known {
			return errUnknownKey(k.at, top, settingsKeys, "")
		}
		table := top == "settings" || top == "conditions"
		right := k.kind == unstable.String && len(k.path) == 1
		if table {
			right = len(k.path) > 1 || k.kind == unstable.Table || k.kind == unstable.InlineTable
		}
		if !right {
			return placed(k.valueAt, "%s has the wrong type; expected %s", top, expected)
		}
		if err := k.checkSize(len(k.path)); err != nil {
			return err
		}
		switch top {
		case "baseline":
			profile.BaselineAt = k.at
		case "anchor":
			profile.AnchorAt = k.valueAt
		}
		return nil
	})
	if err != nil {
		return profile, err
	}
	var f struct {
		Anchor     string         `toml:"anchor"`
		Baseline   string         `toml:"baseline"`
		Settings   map[string]any `toml:"settings"`
		Conditions map[string]any `toml:"conditions"`
	}
	if err := toml.Unmarshal(data, &f); err != nil {
		return profile, tomlError(err, data, name)
	}
	profile.Baseline, profile.Anchor = f.Baseline, f.Anchor
	if f.Anchor != "" && !objectID().MatchString(f.Anchor) {
		return profile, placed(profile.AnchorAt, "anchor is %s; expected %s", excerpt(f.Anchor), settingsKeys["anchor"])
	}
	profile.Settings, profile.Conditions = map[string]string{}, map[string]string{}
	flatten(profile.Settings, "", f.Settings)
	flatten(profile.Conditions, "", f.Conditions)
	return profile, nil
}

func flatten(into map[string]string, prefix string, table map[string]any) {
	for key, value := range table {
		key = prefix + keyPart(key)
		if below, ok := value.(map[string]any); ok {
			flatten(into, key+".", below)
			continue
		}
		into[key] = settingText(value)
	}
}

// keyPart keeps "a.b" as one key apart from b below a.
func keyPart(key string) string {
	if key == "" || strings.ContainsAny(key, `."`) {
		return strconv.Quote(key)
	}
	return key
}

func settingText(value any) string {
	switch v := value.(type) {
	case string:
		return v
	case bool:
		return strconv.FormatBool(v)
	case int64:
		return strconv.FormatInt(v, 10)
	case float64:
		return numberText(v)
	case time.Time:
		return v.Format(time.RFC3339Nano)
	case []any:
		var parts []string
		for _, e := range v {
			parts = append(parts, elementText(e))
		}
		return "[" + strings.Join(parts, ", ") + "]"
	case map[string]any:
		var parts []string
		for key, e := range v {
			parts = append(parts, keyPart(key)+" = "+elementText(e))
		}
		sort.Strings(parts)
		return "{" + strings.Join(parts, ", ") + "}"
	}
	return fmt.Sprint(value) // dates and times without a zone
}

// elementText is settingText within an array: ["a, b"] is not ["a", "b"].
func elementText(value any) string {
	s := settingText(value)
	if _, ok := value.(string); ok && (s == "" || strings.TrimSpace(s) != s || strings.ContainsAny(s, `,[]{}="`)) {
		return strconv.Quote(s)
	}
	return s
}

// numberText is the shortest decimal that reads back as v, without an exponent
// where that stays readable; a whole number looks like an integer.
func numberText(v float64) string {
	a := math.Abs(v)
	switch {
	case v == 0:
		return "0" // and not -0
	case math.IsNaN(v):
		return "nan"
	case math.IsInf(v, 0):
		return strings.ToLower(strings.TrimPrefix(strconv.FormatFloat(v, 'g', -1, 64), "+"))
	case a < 1e-6 || a >= 1e21:
		return strconv.FormatFloat(v, 'g', -1, 64)
	}
	return strconv.FormatFloat(v, 'f', -1, 64)
}

// tomlText takes a byte-order mark off and makes every line end a line feed,
// so that a checkout with CRLF gives the same strings of several lines.
func tomlText(data []byte) []byte {
	return bytes.ReplaceAll(bytes.TrimPrefix(data, []byte("\xef\xbb\xbf")), []byte("\r\n"), []byte("\n"))
}

// tomlKey is a key of a TOML document: one that is given a value, or the
// heading of a table.
type tomlKey struct {
	path    []string       // from the top: metric, role
	kind    unstable.Kind  // of the value; Table or ArrayTable for a heading
	value   *unstable.Node // nil for a heading
	at      compare.Place  // of the first part of the path that is written here
	valueAt compare.Place  // of the value; a heading's is at
	walk    *tomlWalk
}

// tomlWalk finds the places of keys. Asked in the order of the document it
// goes through it once.
type tomlWalk struct {
	parser               unstable.Parser
	name                 string
	offset, line, column int
}

// walkTOML calls visit for each key in order and stops at the first error. A
// syntax error ends it without one: decoding finds it again and says it better.
func walkTOML(data []byte, name string, visit func(tomlKey) error) error {
	w := &tomlWalk{name: name, line: 1, column: 1}
	w.parser.Reset(data)
	var table []string
	for w.parser.NextExpression() {
		e := w.parser.Expression()
		if e.Kind != unstable.KeyValue {
			table = nil
		}
		k := w.key(table, e)
		if e.Kind != unstable.KeyValue {
			table = k.path
		}
		if err := visit(k); err != nil {
			return err
		}
	}
	return nil
}

func (w *tomlWalk) key(table []string, e *unstable.Node) tomlKey {
	k := tomlKey{path: slices.Clone(table), kind: e.Kind, walk: w}
	for it := e.Key(); it.Next(); {
		if k.at.Line == 0 {
			k.at = w.place(it.Node().Raw)
		}
		k.path = append(k.path, string(it.Node().Data))
	}
	k.valueAt = k.at
	if e.Kind == unstable.KeyValue {
		k.value = e.Value()
		k.kind = k.value.Kind
		if k.value.Raw.Length > 0 { // an array has none
			k.valueAt = w.place(k.value.Raw)
		}
	}
	return k
}

func (w *tomlWalk) place(raw unstable.Range) compare.Place {
	if int(raw.Offset) < w.offset {
		w.offset, w.line, w.column = 0, 1, 1
	}
	for _, b := range w.parser.Data()[w.offset:raw.Offset] {
		switch {
		case b == '\n':
			w.line, w.column = w.line+1, 1
		case utf8.RuneStart(b):
			w.column++
		}
	}
	w.offset = int(raw.Offset)
	return compare.Place{File: w.name, Line: w.line, Column: w.column}
}

// inline lists the keys of inline tables that are the value or, in an array,
// its elements.
func (k tomlKey) inline(table *unstable.Node) []tomlKey {
	var keys []tomlKey
	for it := table.Children(); it.Next(); {
		if it.Node().Kind == unstable.KeyValue {
			keys = append(keys, k.walk.key(k.path, it.Node()))
		}
	}
	return keys
}

// maxNesting is how many tables and arrays may stand within each other.
const maxNesting = 32

// checkSize refuses what would take memory or time out of proportion once it
// is flattened. depth is how many tables and arrays the key's value stands in.
func (k tomlKey) checkSize(depth int) error {
	size := 0
	for _, part := range k.path {
		size += len(part) + 1
	}
	if size > maxName {
		return placed(k.at, "found a key that has %d bytes with the tables around it, expected at most %d; shorten it", size, maxName)
	}
	return k.checkNesting(k.value, depth)
}

func (k tomlKey) checkNesting(value *unstable.Node, depth int) error {
	if depth > maxNesting {
		return placed(k.at, "found tables or arrays nested %d deep, expected at most %d; flatten them", depth, maxNesting)
	}
	if value == nil {
		return nil
	}
	switch value.Kind {
	case unstable.InlineTable:
		for _, below := range k.inline(value) {
			if err := below.checkSize(depth + len(below.path) - len(k.path)); err != nil {
				return err
			}
		}
	case unstable.Array:
		for it := value.Children(); it.Next(); {
			if err := k.checkNesting(it.Node(), depth+1); err != nil {
				return err
			}
		}
	}
	return nil
}

// tomlError gives a decoder's error its file, line and column.
func tomlError(err error, data []byte, name string) error {
	var wrong *toml.DecodeError
	if !errors.As(err, &wrong) {
		return fmt.Errorf("%s: cannot be read as TOML: %w", name, err)
	}
	line, column := wrong.Position()
	msg := strings.TrimPrefix(wrong.Error(), "toml: ")
	msg = strings.Replace(msg, "strconv.ParseFloat: ", "", 1)
	if strings.Contains(msg, "already") {
		msg += "; delete one of the two"
	}
	return &compare.PlacedError{At: characterPlace(data, name, line, column), Msg: msg}
}

// characterPlace turns a column counted in bytes into one in characters.
func characterPlace(data []byte, name string, line, column int) compare.Place {
	at := compare.Place{File: name, Line: line, Column: column}
	for range line - 1 {
		_, data, _ = bytes.Cut(data, []byte{'\n'})
	}
	if before := column - 1; before >= 0 && before <= len(data) {
		at.Column = 1
		for _, b := range data[:before] { // the decoder may stop within a character
			if utf8.RuneStart(b) {
				at.Column++
			}
		}
	}
	return at
}

// errUnknownKey is the error about a key that is none of those known, whose
// names begin with level. It names the one that is probably meant, or all of
// the level.
func errUnknownKey(at compare.Place, key string, keys map[string]string, level string) error {
	var known []string
	for k := range keys {
		if below, ok := strings.CutPrefix(k, level); ok && !strings.Contains(below, ".") {
			known = append(known, below)
		}
	}
	sort.Strings(known)
	best, bestEdits := "", 4
	for _, k := range known {
		// A third of the letters: "foo" is not meant for "cap".
		most := min(3, max(1, len(k)/3))
		if edits := columnEdits(strings.ToLower(key), k, most); edits <= most && edits < bestEdits {
			best, bestEdits = k, edits
		}
	}
	if key == "sensors" && level == "" && keys["readings"] != "" {
		return placed(at, "unknown key %s; the table is called [readings] now", excerpt(key))
	}
	if best != "" {
		return placed(at, "unknown key %s; did you mean %q?", excerpt(key), best)
	}
	return placed(at, "unknown key %s; known here: %s", excerpt(key), strings.Join(known, ", "))
}
