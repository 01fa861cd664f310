package report

import (
	"cmp"
	"crypto/sha256"
	"encoding/hex"
	"fmt"
	"slices"
	"strconv"
	"strings"

	"tunegate/compare"
	"tunegate/compare/gate"
)

// sitesOf are the lines that a reason is about, each once and at most n: its rows,
// else what the policy or the settings say, else the file of the profile's settings.
// Line 0 stands for a file as a whole, and for one that lies in the base.
func (p GatePage) sitesOf(r gate.Reason, n int) []compare.Place {
	var out []compare.Place
	add := func(at compare.Place) {
		at.Column = 0
		if at.File != "" && len(out) < n && !slices.Contains(out, at) {
			out = append(out, at)
		}
	}
	for _, v := range r.Rows.All() {
		if len(out) == n {
			break
		}
		at := v.Line()
		if r.Kind == gate.ReasonAltered { // it counts in the base's file
			at.Line = 0
		}
		add(at)
	}
	for _, c := range r.Changes {
		for _, at := range p.changedAt(c) {
			add(at)
		}
	}
	if len(out) > 0 {
		return out
	}
	if now := p.After.Profiles[r.Profile]; now != nil {
		add(now.At)
	} else if was := p.Before.Profiles[r.Profile]; was != nil {
		add(was.At)
	}
	return out
}

// changedAt is where the head says what a change of the policy, of a baseline or of an
// anchor is about; the file where the head no longer says it.
func (p GatePage) changedAt(c gate.PolicyChange) []compare.Place {
	if now := p.After.Profiles[c.Key]; now != nil && c.Kind == gate.BaselineChanged {
		return []compare.Place{cmp.Or(now.BaselineAt, now.At)}
	} else if now != nil && c.Kind == gate.AnchorChanged {
		return []compare.Place{cmp.Or(now.AnchorAt, now.At)}
	}
	if at, ok := p.After.PolicyAt[c.Key]; ok && len(c.Metrics) == 0 {
		return []compare.Place{at}
	}
	var out []compare.Place
	for _, name := range c.Metrics {
		if at, ok := p.statedAt(name, c.Key); ok {
			out = append(out, at)
		}
	}
	if len(out) == 0 {
		out = []compare.Place{{File: cmp.Or(p.After.PolicyFile, p.PolicyFile)}}
	}
	return out
}

// statedAt is where the head's policy states a key of a metric, or what else it says
// of that metric.
func (p GatePage) statedAt(name, key string) (compare.Place, bool) {
	if p.After.Policy == nil {
		return compare.Place{}, false
	}
	of := func(e compare.Entry) bool {
		return e.Exact() && e.ID().Name() == name || slices.ContainsFunc(p.metricsNamed(name), func(id compare.MetricID) bool {
			return compare.NameMatches(e.ID().Benchmark, id.Benchmark) && compare.NameMatches(e.ID().Metric, id.Metric)
		})
	}
	at := func(from, key string) (compare.Place, bool) {
		for i, e := range p.After.Policy.Entries {
			if place, ok := p.After.PolicyAt[strings.TrimSuffix("metric "+strconv.Itoa(i)+"."+key, ".")]; ok && e.From == from {
				return place, true
			}
		}
		return compare.Place{}, false
	}
	strongest := slices.DeleteFunc(p.After.Policy.Strongest(), func(e compare.Entry) bool { return !of(e) })
	for _, key := range []string{key, ""} {
		for _, e := range strongest {
			if place, ok := at(e.From, key); ok {
				return place, true
			}
		}
	}
	return compare.Place{}, false
}

// metricsNamed are the metrics of the head that people call so: two may have the same
// printed name.
func (p GatePage) metricsNamed(name string) []compare.MetricID {
	var out []compare.MetricID
	for _, profile := range p.After.Profiles {
		for _, v := range profile.Values.All() {
			if id := v.ID(); id.Name() == name && !slices.Contains(out, id) {
				out = append(out, id)
			}
		}
	}
	return out
}

// fingerprints name the reasons of a gate so that a forge knows the same reason again
// in the next commit: by what each is about, and not by lines, sizes or wording. A
// second reason about the same has a number.
func fingerprints(reasons []gate.Reason) []string {
	seen := map[string]int{}
	return each(reasons, func(r gate.Reason) string {
		about := []string{r.Kind, r.Profile, r.When, r.What, fmt.Sprint(r.Anchor)}
		if m := metricOf(r); m != nil {
			about = append(about, m.Benchmark, m.Metric)
		}
		if r.Result != nil && r.Result.Parts != nil {
			about = append(about, "pooled")
		}
		if r.Kind == gate.ReasonCopies {
			about = append(about, r.Detail) // whose rows they repeat
		}
		for _, c := range r.Changes {
			about = append(about, string(c.Kind), c.Key, strings.Join(c.Metrics, "\x01"))
		}
		text := strings.Join(about, "\x00")
		seen[text]++
		sum := sha256.Sum256([]byte(text + "\x00" + strconv.Itoa(seen[text])))
		return hex.EncodeToString(sum[:16])
	})
}

// metricOf is the one metric that a reason is about; nil where others may join it.
func metricOf(r gate.Reason) *compare.MetricID {
	var id compare.MetricID
	switch {
	case len(r.Names) > 0:
		return nil
	case r.Result != nil:
		id = r.Result.ID()
	case r.Metric != nil:
		id = r.Metric.ID()
	default:
		return nil
	}
	return &id
}
