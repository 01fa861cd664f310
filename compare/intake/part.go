package intake

import (
	"bytes"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"strings"
	"unicode/utf8"

	"tunegate/compare"
)

// Parts reads the parts of a comparison that arguments name: files, folders (all
// .json below), patterns and "-", see Expand.
func Parts(args []string, stdin io.Reader) ([]*compare.Part, error) {
	paths, err := ExpandParts(args)
	if err != nil {
		return nil, err
	}
	var parts []*compare.Part
	for _, path := range paths {
		if err := openPath(path, stdin, func(r io.Reader, name string) error {
			p, err := Part(r, name)
			parts = append(parts, p)
			return err
		}); err != nil {
			return nil, err
		}
	}
	return parts, nil
}

// Part reads what report.Part writes. name is the file in error places.
func Part(r io.Reader, name string) (*compare.Part, error) {
	data, err := io.ReadAll(r)
	if err != nil {
		return nil, placed(compare.Place{File: name}, "cannot be read: %v", err)
	}
	data = bytes.TrimPrefix(data, []byte("\ufeff"))
	if bytes.HasPrefix(data, []byte("\xff\xfe")) || bytes.HasPrefix(data, []byte("\xfe\xff")) {
		return nil, placed(compare.Place{File: name}, "this file is UTF-16, as PowerShell's > may write it; make the part with --write json=FILE instead")
	}
	p := partReader{data: data, name: name, Decoder: json.NewDecoder(bytes.NewReader(data))}
	p.DisallowUnknownFields()
	return p.read()
}

type partReader struct {
	*json.Decoder
	data []byte
	name string
}

func (p *partReader) read() (*compare.Part, error) {
	out := &compare.Part{Name: p.name}
	if len(bytes.TrimSpace(p.data)) == 0 {
		return nil, placed(compare.Place{File: p.name}, "this file is empty; expected a part, as tunegate compare --part --json prints it")
	}
	if err := p.delim('{'); err != nil {
		return nil, err
	}
	var format string
	into := map[string]any{"format": &format, "terms": &out.Terms, "share": &out.Share, "shares": &out.Shares, "only": &out.Only, "leave_out": &out.LeaveOut,
		"idle": &out.Idle, "readings": &out.Readings, "notes": &out.Notes, "conditions": &out.Conditions, "metrics": nil}
	seen := map[string]bool{}
	for p.More() {
		at := p.skipped(p.InputOffset())
		token, err := p.Token()
		if err != nil {
			return nil, p.noJSON(at)
		}
		key, _ := token.(string)
		target, known := into[key]
		switch {
		case format == "" && key != "format":
			return nil, p.fail(at, "this is no part of a comparison: it does not begin with its format; expected what tunegate compare --part --json prints")
		case !known:
			return nil, p.fail(at, "found the key %s, which a part does not have; make the part anew with tunegate compare --part", excerpt(key))
		case seen[key]:
			return nil, p.fail(at, "the key %q stands twice; make the part anew with tunegate compare --part", key)
		case key == "metrics":
			err = p.metrics(out)
		default:
			err = p.decode(target)
		}
		if err != nil {
			return nil, err
		}
		seen[key] = true
		if key == "format" && format != compare.PartFormat {
			return nil, p.otherForm(at, format)
		}
	}
	if err := p.delim('}'); err != nil {
		return nil, err
	}
	if rest := bytes.TrimLeft(p.data[p.InputOffset():], " \t\r\n"); len(rest) > 0 {
		return nil, p.fail(int64(len(p.data)-len(rest)), "found more behind the part; expected one part a file")
	}
	for _, key := range []string{"format", "terms", "readings", "metrics"} {
		if !seen[key] {
			return nil, p.fail(int64(len(p.data)), "the key %q is missing; make the part anew with tunegate compare --part", key)
		}
	}
	return out, nil
}

// metrics reads them one by one, so that each knows its line.
func (p *partReader) metrics(out *compare.Part) error {
	if err := p.delim('['); err != nil {
		return err
	}
	line, from := 1, int64(0)
	for p.More() {
		var m compare.PartMetric
		if err := p.decode(&m); err != nil {
			return err
		}
		line += bytes.Count(p.data[from:p.InputOffset()], []byte{'\n'})
		from = p.InputOffset()
		m.Line = line
		if m.Before == nil && m.After == nil {
			return placed(compare.Place{File: p.name, Line: line}, "a metric has runs on neither side; make the part anew with tunegate compare --part")
		}
		out.Metrics = append(out.Metrics, m)
	}
	return p.delim(']')
}

// delim takes a bracket.
func (p *partReader) delim(want json.Delim) error {
	at := p.skipped(p.InputOffset())
	token, err := p.Token()
	if err != nil {
		return p.noJSON(at)
	}
	if token != want {
		return p.fail(at, "found %s, expected %v; this is no part of a comparison, as tunegate compare --part --json prints it", excerpt(fmt.Sprint(token)), want)
	}
	return nil
}

// otherForm words a file that something else wrote.
func (p *partReader) otherForm(at int64, format string) error {
	switch stem := strings.TrimRight(format, "0123456789"); {
	case stem == strings.TrimRight(compare.PartFormat, "0123456789"):
		return p.fail(at, "this part is of the form %s, and this program reads %s; make and join all parts with the same version of tunegate", excerpt(format), compare.PartFormat)
	case stem == "tunegate-comparison-":
		return p.fail(at, "this is a comparison that is judged already, not a part of one; make parts with tunegate compare --part --json")
	}
	return p.fail(at, "this is of the form %s, not a part of a comparison; make parts with tunegate compare --part --json", excerpt(format))
}

// decode takes the next value.
func (p *partReader) decode(into any) error {
	start := p.skipped(p.InputOffset())
	err := p.Decode(into)
	var kind *json.UnmarshalTypeError
	var syntax *json.SyntaxError
	switch {
	case err == nil:
		return nil
	case errors.As(err, &kind):
		return p.fail(start+kind.Offset-1, "found a %s for the key %q, which holds something else in a part; make it anew with tunegate compare --part", kind.Value, kind.Field)
	case errors.As(err, &syntax), errors.Is(err, io.EOF), errors.Is(err, io.ErrUnexpectedEOF):
		return p.noJSON(start)
	}
	return p.fail(start, "%s; make the part anew with tunegate compare --part", strings.TrimPrefix(err.Error(), "json: "))
}

// skipped is where the next token begins.
func (p *partReader) skipped(at int64) int64 {
	for at < int64(len(p.data)) && strings.IndexByte(" \t\r\n:,", p.data[at]) >= 0 {
		at++
	}
	return at
}

// noJSON says where what follows stops being JSON; the decoder counts only some
// of the bytes.
func (p *partReader) noJSON(start int64) error {
	var raw json.RawMessage
	var syntax *json.SyntaxError
	at, message := start, "a bracket or a comma is missing or stands where it should not"
	if err := json.Unmarshal(p.data[start:], &raw); errors.As(err, &syntax) && !strings.HasSuffix(syntax.Error(), "after top-level value") {
		at, message = start+syntax.Offset-1, syntax.Error()
	}
	if end := int64(len(bytes.TrimRight(p.data, " \t\r\n"))); at >= end || strings.HasPrefix(message, "unexpected end") {
		return p.fail(end, "the file breaks off before the part is complete; copy it again, or make it anew with tunegate compare --part")
	}
	return p.fail(at, "this is no JSON: %s; copy the file again, or make it anew with tunegate compare --part", message)
}

// fail is an error at a byte of the file.
func (p *partReader) fail(at int64, format string, args ...any) error {
	before := p.data[:max(0, min(at, int64(len(p.data))))]
	line := before[bytes.LastIndexByte(before, '\n')+1:]
	return placed(compare.Place{File: p.name, Line: 1 + bytes.Count(before, []byte{'\n'}), Column: 1 + utf8.RuneCount(line)}, format, args...)
}
