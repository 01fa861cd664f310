package report

import (
	"strings"

	"tunegate/compare"
	"tunegate/compare/advice"
	"tunegate/compare/claims"
	"tunegate/compare/gate"
	"tunegate/compare/history"
	"tunegate/compare/ladder"
)

// caution is the line that a hazard needs: empty for none, and with the mains only
// where something is shown that may be measured there.
func caution(h compare.Hazard) string {
	const limits, stability = "Caution: stay within the maker's limits, back up first", "test stability separately (speed says nothing about it)"
	switch h {
	case compare.MainsHazard:
		return limits + ", " + stability + ", and leave mains wiring to licensed people."
	case compare.PartsHazard:
		return limits + ", and " + stability + "."
	}
	return ""
}

// largestHazard is the largest hazard of a list.
func largestHazard[T any](list []T, hazard func(T) compare.Hazard) compare.Hazard {
	worst := compare.NoHazard
	for _, x := range list {
		worst = max(worst, hazard(x))
	}
	return worst
}

func comparisonHazard(c *compare.Comparison) compare.Hazard {
	return max(c.CapHazard, largestHazard(c.Results, func(r *compare.Result) compare.Hazard { return compare.HazardOf(r.Unit) }))
}

func ladderHazard(l *ladder.Ladder) compare.Hazard {
	return largestHazard(l.Measured(), func(s *ladder.Step) compare.Hazard { return comparisonHazard(s.Comparison) })
}

// gateHazard is that of what was measured, is set differently, or is capped; none
// where nothing changed.
func gateHazard(g *gate.Gate) compare.Hazard {
	if len(g.Judged)+len(g.PolicyChanges) == 0 {
		return compare.NoHazard
	}
	judged := largestHazard(g.Judged, func(j *gate.Judgement) compare.Hazard {
		if j.Comparison == nil {
			return settingsHazard(j.Settings)
		}
		return max(settingsHazard(j.Settings), comparisonHazard(j.Comparison))
	})
	reasons := largestHazard(g.Reasons, func(r gate.Reason) compare.Hazard {
		if r.Kind != gate.ReasonCap {
			return compare.NoHazard
		}
		return compare.HazardOf(r.Metric.Unit)
	})
	return max(g.CapHazard, judged, reasons, largestHazard(g.PolicyChanges, capChangeHazard))
}

// capChangeHazard is that of a cap which a policy changes.
func capChangeHazard(c gate.PolicyChange) compare.Hazard {
	if c.Key != "cap" {
		return compare.NoHazard
	}
	about := strings.Join(c.Metrics, " ")
	return max(compare.HazardOfSetting(about, c.Before), compare.HazardOfSetting(about, c.Now))
}

func settingsHazard(changed []gate.Difference) compare.Hazard {
	return largestHazard(changed, func(d gate.Difference) compare.Hazard {
		worst := compare.NoHazard
		for _, value := range []*string{d.Before, d.Now} {
			if value != nil {
				worst = max(worst, compare.HazardOfSetting(d.Key, *value))
			}
		}
		return worst
	})
}

// historyHazard is that of what was measured, was set differently at a commit, or
// is capped.
func historyHazard(h HistoryPage) compare.Hazard {
	tracks := largestHazard(h.Tracks, func(t *history.Track) compare.Hazard { return compare.HazardOf(t.Unit) })
	points := largestHazard(h.Points, func(p *history.Point) compare.Hazard { return settingsHazard(p.Settings) })
	return max(h.CapHazard, tracks, points)
}

func claimsHazard(c *claims.Page) compare.Hazard {
	return largestHazard(c.Held, func(h *claims.Held) compare.Hazard {
		worst := largestHazard([]*claims.Figure{h.Change, h.From, h.To}, func(f *claims.Figure) compare.Hazard {
			if f == nil {
				return compare.NoHazard
			}
			return compare.HazardOf(f.Unit)
		})
		if h.Result != nil {
			worst = max(worst, compare.HazardOf(h.Result.Unit))
		}
		return worst
	})
}

// sheetHazard is that of a run sheet, which has profiles applied: never none.
func sheetHazard(rows []advice.SheetRow) compare.Hazard {
	return max(compare.PartsHazard, largestHazard(rows, func(r advice.SheetRow) compare.Hazard { return compare.HazardOf(r.Metric.Unit) }))
}

// policyHazard is that of what a policy caps.
func policyHazard(f InForce) compare.Hazard {
	return max(f.Policy.CapHazard(), largestHazard(f.Metrics, func(m compare.Metric) compare.Hazard {
		if m.Cap == nil {
			return compare.NoHazard
		}
		return compare.HazardOf(m.Unit)
	}))
}
