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
func caution(h hazard) string {
	const parts = "Caution: stay within the maker's limits and back up first. Speed shows nothing about stability: test that apart."
	switch h {
	case mainsHazard:
		return parts + " Leave mains wiring to licensed people."
	case partsHazard:
		return parts
	}
	return ""
}

// largestHazard is the largest hazard of a list.
func largestHazard[T any](list []T, hazard func(T) hazard) hazard {
	worst := noHazard
	for _, x := range list {
		worst = max(worst, hazard(x))
	}
	return worst
}

func comparisonHazard(c *compare.Comparison) hazard {
	return max(capsHazard(c.Caps), largestHazard(c.Results, func(r *compare.Result) hazard { return hazardOf(r.Unit) }))
}

func ladderHazard(l *ladder.Ladder) hazard {
	return largestHazard(l.Measured(), func(s *ladder.Step) hazard { return comparisonHazard(s.Comparison) })
}

// gateHazard is that of what was measured, is set differently, or is capped; none
// where nothing changed.
func gateHazard(g *gate.Gate) hazard {
	if len(g.Judged)+len(g.PolicyChanges) == 0 {
		return noHazard
	}
	judged := largestHazard(g.Judged, func(j *gate.Judgement) hazard {
		if j.Comparison == nil {
			return settingsHazard(j.Settings)
		}
		return max(settingsHazard(j.Settings), comparisonHazard(j.Comparison))
	})
	reasons := largestHazard(g.Reasons, func(r gate.Reason) hazard {
		if r.Kind != gate.ReasonCap {
			return noHazard
		}
		return hazardOf(r.Metric.Unit)
	})
	return max(capsHazard(g.Caps), judged, reasons, largestHazard(g.PolicyChanges, capChangeHazard))
}

// capChangeHazard is that of a cap which a policy changes.
func capChangeHazard(c gate.PolicyChange) hazard {
	if c.Key != "cap" {
		return noHazard
	}
	about := strings.Join(c.Metrics, " ")
	return max(hazardOfSetting(about, c.Before), hazardOfSetting(about, c.Now))
}

func settingsHazard(changed []gate.Difference) hazard {
	return largestHazard(changed, func(d gate.Difference) hazard {
		worst := noHazard
		for _, value := range []*string{d.Before, d.Now} {
			if value != nil {
				worst = max(worst, hazardOfSetting(d.Key, *value))
			}
		}
		return worst
	})
}

// historyHazard is that of what was measured, was set differently at a commit, or
// is capped.
func historyHazard(h HistoryPage) hazard {
	tracks := largestHazard(h.Tracks, func(t *history.Track) hazard { return hazardOf(t.Unit) })
	points := largestHazard(h.Points, func(p *history.Point) hazard { return settingsHazard(p.Settings) })
	return max(capsHazard(h.Caps), tracks, points)
}

func claimsHazard(c *claims.Page) hazard {
	return largestHazard(c.Held, func(h *claims.Held) hazard {
		worst := largestHazard([]*claims.Figure{h.Change, h.From, h.To}, func(f *claims.Figure) hazard {
			if f == nil {
				return noHazard
			}
			return hazardOf(f.Unit)
		})
		if h.Result != nil {
			worst = max(worst, hazardOf(h.Result.Unit))
		}
		return worst
	})
}

// sheetHazard is that of a run sheet, which has profiles applied: never none.
func sheetHazard(rows []advice.SheetRow) hazard {
	return max(partsHazard, largestHazard(rows, func(r advice.SheetRow) hazard { return hazardOf(r.Metric.Unit) }))
}

// policyHazard is that of what a policy caps.
func policyHazard(f InForce) hazard {
	return max(capsHazard(f.Policy.Caps()), largestHazard(f.Metrics, func(m compare.Metric) hazard {
		if m.Cap == nil {
			return noHazard
		}
		return hazardOf(m.Unit)
	}))
}
