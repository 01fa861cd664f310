package fleet

import (
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"

	"tunegate/compare"
)

// What a table has is what a query reads; tests in fixtures/fleet run the queries.
func TestColumns(t *testing.T) {
	q := Query{Dialect: Postgres, Table: "bench.all runs", FirstRuns: 3, Columns: map[string]string{"value": "score",
		"session": `the "sitting"`, "metric": "", "unit": "", "profile": "", "machine": "", "block": "", "valid": "", "run": "",
		"time": "started"}}
	got, err := q.SQL()
	if err != nil {
		t.Fatal(err)
	}
	want := `with labelled as (
  select
    coalesce(trim(cast("benchmark" as text)), '') as "benchmark",
    coalesce(trim(cast("the ""sitting""" as text)), '') as "session",
    cast("score" as double precision) as "value",
    "started" as order_by_time
  from "bench"."all runs"
  where
    "score" is not null
),
valid_runs as (
  select
    "benchmark", "session",
    "value",
    0 as is_interval,
    row_number() over (partition by "benchmark", "session" order by order_by_time) as place
  from labelled
),
compared_runs as (
  select
    "benchmark", "session",
    "value",
    is_interval,
    case when is_interval = 1 then "value" else ln("value") end as compared
  from valid_runs
  where
    place <= 3
),
`
	if d := cmp.Diff(want, got[:min(len(got), len(want))]); d != "" {
		t.Errorf("-want +got:\n%s", d)
	}
	if strings.Contains(got, "set_aside") || strings.Contains(got, "machine") {
		t.Errorf("it reads columns that are not there:\n%s", got)
	}
}

func TestDialects(t *testing.T) {
	for d, want := range map[Dialect][5]string{
		Postgres: {`"a""b"`, `"bench"."runs"`, `'it''s \n'`, `cast("x" as text)`, `cast("x" as double precision)`},
		DuckDB:   {`"a""b"`, `"bench"."runs"`, `'it''s \n'`, `cast("x" as varchar)`, `cast("x" as double)`},
		Spark:    {"`a\"b`", "`bench`.`runs`", `'it\'s \\n'`, "cast(`x` as string)", "cast(`x` as double)"},
	} {
		got := [5]string{d.name(`a"b`), d.table("bench.runs"), d.literal(`it's \n`), d.text(d.name("x")), d.number(d.name("x"))}
		if got != want {
			t.Errorf("%s: %q, want %q", d, got, want)
		}
	}
	for name, want := range map[string]string{"runs/*.parquet": `"runs/*.parquet"`, "runs.parquet": `"runs.parquet"`, "a.b": `"a"."b"`} {
		if got := DuckDB.table(name); got != want {
			t.Errorf("%s is %s, want %s", name, got, want)
		}
	}
	if got := Spark.name("a`b"); got != "`a``b`" {
		t.Errorf("a backquote in a name: %s", got)
	}
}

func TestScales(t *testing.T) {
	const units = `('%oftime', 'c', 'db', 'db(a)', 'dba', 'degc', 'degf', 'f', 'k', '°c', '°f', 'ºc', 'ºf')`
	unit := `when lower(replace("unit", ' ', '')) in ` + units + ` then 1`
	for name, c := range map[string]struct {
		entries []compare.Entry
		columns map[string]string
		want    string
	}{
		"by the unit": {nil, nil, "case " + unit + " else 0 end"},
		"no unit":     {nil, map[string]string{"unit": ""}, "0"},
		"by the policy, the strongest first": {[]compare.Entry{
			{Benchmark: "*", Metric: "*", Scale: compare.Ratio}, {Benchmark: "tile-*_x", Metric: "offset", Scale: compare.Interval},
			{Benchmark: "it's", Metric: "offset", Scale: compare.Ratio}, {Benchmark: "other", Weight: new(float64)}}, nil,
			`case when "benchmark" = 'it''s' and "metric" = 'offset' then 0 when "benchmark" like 'tile-%!_x' escape '!' and "metric" = 'offset' ` +
				`then 1 when 1 = 1 then 0 ` + unit + ` else 0 end`},
		"a unit of the policy": {[]compare.Entry{{Benchmark: "fan", Metric: "noise", Unit: "dB"}}, nil,
			`case ` + unit + ` when "unit" <> '' then 0 when "benchmark" = 'fan' and "metric" = 'noise' then 1 else 0 end`},
		"a metric that the table has not": {[]compare.Entry{{Benchmark: "fan", Metric: "noise", Unit: "dB"}},
			map[string]string{"unit": "", "metric": ""}, "0"},
	} {
		q := Query{Dialect: DuckDB, Policy: compare.Policy{Entries: c.entries}, Columns: c.columns}
		if got, err := q.isInterval(); got != c.want || err != nil {
			t.Errorf("%s: %v\n%s\nwant\n%s", name, err, got, c.want)
		}
	}
}

func TestUnstatable(t *testing.T) {
	for want, q := range map[string]Query{
		`there is no column "colour" of runs that a query reads; expected one of better, time, benchmark, value, metric, unit, profile, ` +
			`machine, session, block, run, valid`: {Columns: map[string]string{"colour": "x"}},
		`runs cannot be reduced without a column "benchmark"`:                      {Columns: map[string]string{"benchmark": ""}},
		`runs cannot be reduced without a column "session"`:                        {Columns: map[string]string{"session": "", "block": ""}},
		`runs cannot be reduced without a column "machine"`:                        {Columns: map[string]string{"machine": ""}, ToMachine: true},
		`which runs of a session are its first only a column "time" or "run" says`: {Columns: map[string]string{"run": ""}, FirstRuns: 3},
		`the pattern "tile-[ab]" of the policy cannot be stated in SQL, which knows * and ? only; state the scale of each name by itself`: {
			Policy: compare.Policy{Entries: []compare.Entry{{Benchmark: "tile-[ab]", Scale: compare.Interval}}}},
	} {
		q.Dialect, q.Table = Postgres, "runs"
		if got, err := q.SQL(); err == nil || err.Error() != want {
			t.Errorf("%v, want %s\n%s", err, want, got)
		}
	}
}
