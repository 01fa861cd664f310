package report

import (
	"cmp"
	"fmt"

	"tunegate/compare"
	"tunegate/compare/gate"
)

// settingText says how a setting or a condition differs.
func settingText(d gate.Difference) string {
	word := func(value *string) string {
		if value == nil {
			return "not set"
		}
		return cmp.Or(*value, "empty")
	}
	return fmt.Sprintf("%s: %s before, %s now", d.Key, word(d.Before), word(d.Now))
}

// policyChangeText says what a policy says differently.
func policyChangeText(c gate.PolicyChange) string {
	switch c.Kind {
	case gate.PolicyRemoved:
		return "the policy is removed"
	case gate.BaselineChanged:
		return fmt.Sprintf("the baseline of %s: %s before, %s now", c.Key, c.Before, c.Now)
	case gate.AnchorChanged:
		return fmt.Sprintf("the anchor of %s: %.14s before, %.14s now", c.Key, c.Before, c.Now)
	case gate.ReadingRulesChanged:
		return "readings: other rules for monitoring logs than before; they act when a log is read, not here"
	case gate.NoEffect:
		if c.Loosens {
			return "entries are gone, without effect on anything measured so far"
		}
		return "entries, without effect on anything measured so far"
	case gate.NotJudgedAnyMore:
		return fmt.Sprintf("%s: can no longer be judged: %v", compare.List(c.Metrics, 4), c.Err)
	case gate.JudgedAgain:
		return fmt.Sprintf("%s: can be judged now; before: %v", compare.List(c.Metrics, 4), c.Err)
	}
	if len(c.Metrics) > 0 {
		return fmt.Sprintf("%s: %s %s before, %s now", compare.List(c.Metrics, 4), c.Key, c.Before, c.Now)
	}
	return fmt.Sprintf("%s: %s before, %s now", c.Key, c.Before, c.Now)
}
