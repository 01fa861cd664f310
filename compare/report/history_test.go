package report

import (
	"errors"
	"fmt"
	"io"
	"strings"
	"testing"
	"time"

	"tunegate/compare"
	"tunegate/compare/gate"
	"tunegate/compare/history"

	"tunegate/compare/report/doc"
)

// hostileHistory is a history with a clock, a cost, and names and messages with
// terminal escapes. The clock rises at the third commit, where the firmware
// changed. Runs have no sessions.
func hostileHistory(t *testing.T) HistoryPage {
	t.Helper()
	p := history.NewPast("boost\x1b[2J", compare.Options{Resamples: 1000, Seed: 1})
	var values []compare.Value
	for i := range 5 {
		for k, scatter := range []float64{0.9975, 0.9990, 0.9995, 1.0005, 1.0010, 1.0025} {
			clock := 4400.0
			if i >= 2 {
				clock = 4450
			}
			for column, v := range []compare.Value{
				{Benchmark: "tile\u202erender", Unit: "s", Value: 400 * scatter},
				{Benchmark: "tile\u202erender", Metric: "clock", Unit: "MHz", Value: clock * scatter},
				{Benchmark: "tile\u202erender", Metric: "power", Unit: "W", Value: 200 * scatter},
			} {
				v.At = compare.Place{File: fmt.Sprint(i, ".csv"), Line: k + 2, Column: column}
				values = append(values, v)
			}
		}
		c := history.Commit{Hash: fmt.Sprintf("%07x%033d", i+1, 0), Subject: "red \x1b[31m|<b>", Index: i, Of: 5, First: i == 0,
			State: gate.Snapshot{Profiles: map[string]*gate.Profile{}}}
		if i > 0 { // the first has an unreadable time
			c.Time = time.Date(2026, 1, i, 0, 0, 0, 0, time.UTC)
		}
		firmware := "2025-08"
		if i >= 2 {
			firmware = "2026-02\x07"
		}
		c.State.Profiles["boost\x1b[2J"] = &gate.Profile{Name: "boost\x1b[2J",
			Conditions: map[string]string{"firmware": firmware}, Values: compare.RowsOf(values...)}
		if err := p.Add(c); err != nil {
			t.Fatal(err)
		}
	}
	h, err := p.History()
	if err != nil {
		t.Fatal(err)
	}
	h.Points[3].Gate = &history.PointGate{Wrong: errors.New("a\x1b[31m.csv:3: no number")}
	return HistoryPage{History: h, Head: "main\x07 (0000005)", Commits: 5, Each: true, Commands: typed}
}

func TestHistoryForms(t *testing.T) {
	h := hostileHistory(t)
	text := textOf(t, HistoryDocument(h, Origin{}), doc.TextOptions{Width: 80, Detail: true})
	page := markdownOf(t, HistoryDocument(h, Origin{}))
	data := rendered(t, func(w io.Writer) error { return HistoryJSON(w, h) })
	for name, out := range map[string]string{"text": text, "markdown": page, "json": data} {
		checkPrintable(t, name, out)
	}
	checkContains(t, text,
		"\n|  0000003     6  +1.14 %  ", // a clock is never judged, so no sign of a verdict is printed
		"no\n    setting changed here, but what is recorded did: firmware: 2025-08 before,\n    2026-02 now\n",
		"| tilerender clock is 1.14 % higher",
		"! not judged",
		"0000004: not judged: a[31m.csv:3: no number <remedy>",
		"no session is recorded",
		"No score's last shift is a loss beyond the tolerance. There are shifts at 1\ncommit, see above.",
		"Caution:",
		"\n0000001                 6   first  ",
		"··········◆··········  ✔ passed\n     red [31m|<b>\n",
	)
	if !strings.Contains(page, `\<b`) && !strings.Contains(page, "&lt;b") || strings.Contains(page, "|<b") {
		t.Errorf("a message reaches the page: %s", page)
	}
	// No line is wider than the width asked for.
	for _, width := range []int{60, 72, 80, 100, 119, 120, 140, 200} {
		checkWidth(t, textOf(t, HistoryDocument(h, Origin{}), doc.TextOptions{Width: width}), width)
	}
}

// The picture draws the intervals at the values of the JSON. Commit messages
// are not markup on the page.
func TestHistoryStandsWhereTheJSONSays(t *testing.T) {
	h := hostileHistory(t)
	pictures := HistoryPictures(h)
	if len(pictures) != len(h.Tracks) {
		t.Fatalf("%d pictures of %d tracks", len(pictures), len(h.Tracks))
	}
	for i, track := range h.Tracks {
		all := elements(t, partSVG(pictures[i], 0, wideWidth))
		pixel := scaleOf(t, all, "tick-y", "y")
		found := 0
		for k, m := range track.Measured {
			if m == nil || m.Since == nil {
				continue
			}
			for _, e := range all {
				if e.attr["data-of"] == fmt.Sprintf("%.7s", h.Points[k].Commit) && e.attr["data-is"] == "interval" {
					found++
					_, factor := percentOr(m.Since)
					within(t, track.Name()+" low", e.num(t, "y1"), pixel(factor*m.Since.Interval[0]))
					within(t, track.Name()+" high", e.num(t, "y2"), pixel(factor*m.Since.Interval[1]))
				}
			}
		}
		if found != 4 {
			t.Errorf("%s: %d intervals, want 4", track.Name(), found)
		}
	}
	page := pageOf(t, HistoryDocument(h, Origin{Command: "tunegate history", Version: "x"}))
	for _, markup := range []string{"<b>red", "|<b>", "\x1b", "<script"} {
		if strings.Contains(page, markup) {
			t.Errorf("a commit's message reaches the page as markup: %q", markup)
		}
	}
}
