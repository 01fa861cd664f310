package fleet

import (
	"fmt"
	"maps"
	"slices"
	"strings"

	"tunegate/compare"
)

// Query says which runs to reduce, and how far.
type Query struct {
	Dialect Dialect
	Table   string
	// Columns are the table's names for the columns of runs; empty for one that it does
	// not have. Those of assumed that are not in it have their own name, and others are
	// not there.
	Columns   map[string]string
	ToMachine bool // to one row a machine, else to one a session
	FirstRuns int  // take only so many of each session; 0 for all
	Policy    compare.Policy
}

// labels are the columns that tell sessions of a metric apart, in the order of the rows;
// sessionLabels those of them that a machine has several of.
var (
	labels        = []string{"profile", "benchmark", "metric", "unit", "better", "machine", "block", "session"}
	sessionLabels = []string{"block", "session"}
	assumed       = []string{"benchmark", "value", "metric", "unit", "profile", "machine", "session", "block", "run", "valid"}
	known         = append([]string{"better", "time"}, assumed...)
)

// has reports whether the table has a column.
func (q Query) has(column string) bool {
	name, named := q.Columns[column]
	return name != "" || !named && slices.Contains(assumed, column)
}

// column is a column of the table, quoted.
func (q Query) column(column string) string {
	if name := q.Columns[column]; name != "" {
		return q.Dialect.name(name)
	}
	return q.Dialect.name(column)
}

// label is what a row of the table says under a column, as text: empty for nothing, and
// for a metric the one that a row without one is of.
func (q Query) label(column string) string {
	text := "trim(" + q.Dialect.text(q.column(column)) + ")"
	if column == "metric" {
		return "coalesce(nullif(" + text + ", ''), " + q.Dialect.literal(compare.DefaultMetric) + ")"
	}
	return "coalesce(" + text + ", '')"
}

// keys are the labels that the table has.
func (q Query) keys() []string {
	return slices.DeleteFunc(slices.Clone(labels), func(c string) bool { return !q.has(c) })
}

// list quotes names, in one line.
func (q Query) list(names []string) string { return strings.Join(q.Dialect.names(names), ", ") }

// SQL is the query. It is an error where the table lacks what the reduction needs.
func (q Query) SQL() (string, error) {
	for _, c := range slices.Sorted(maps.Keys(q.Columns)) {
		if !slices.Contains(known, c) {
			return "", fmt.Errorf("there is no column %q of runs that a query reads; expected one of %s", c, compare.List(known, len(known)))
		}
	}
	needed := []string{"benchmark", "value", "session"}
	if q.ToMachine {
		needed[2] = "machine"
	} else if !q.has("session") && q.has("block") {
		needed = needed[:2]
	}
	for _, c := range needed {
		if !q.has(c) {
			return "", fmt.Errorf("runs cannot be reduced without a column %q", c)
		}
	}
	if q.FirstRuns > 0 && !q.has("time") && !q.has("run") {
		return "", fmt.Errorf(`which runs of a session are its first only a column "time" or "run" says`)
	}
	runs, err := q.runs()
	if err != nil {
		return "", err
	}
	steps := append(runs, q.sessions()...)
	keys, from := q.keys(), "session_medians"
	if q.ToMachine {
		keys = q.machineKeys()
		steps, from = append(steps, q.machines()...), "machine_medians"
	}
	return q.Dialect.statement(append(steps, q.rows(keys, from))), nil
}

func (q Query) machineKeys() []string {
	return slices.DeleteFunc(q.keys(), func(c string) bool { return slices.Contains(sessionLabels, c) })
}

// runs are the valid runs: their labels, the value and the value as it is compared.
func (q Query) runs() ([]selection, error) {
	d, keys, value := q.Dialect, q.list(q.keys()), q.Dialect.name("value")
	interval, err := q.isInterval()
	if err != nil {
		return nil, err
	}
	labelled := selection{name: "labelled", from: d.table(q.Table), where: []string{q.column("value") + " is not null"}}
	for _, key := range q.keys() {
		labelled.columns = append(labelled.columns, d.as(q.label(key), key))
	}
	labelled.columns = append(labelled.columns, d.as(d.number(q.column("value")), "value"))
	valid := selection{name: "valid_runs", from: "labelled", columns: []string{keys, value, interval + " as is_interval"}}
	steps := []selection{labelled, valid}
	if q.has("run") {
		steps[0].columns = append(steps[0].columns, d.as(q.label("run"), "run"))
		steps[1].where = append(steps[1].where, "lower("+d.name("run")+") <> "+d.literal(compare.WarmUp))
	}
	if q.has("valid") {
		isNo := "lower(" + q.label("valid") + ") in ('no', 'false', '0', 'n')"
		steps[0].where = append(steps[0].where, "not "+isNo)
		if q.has("run") { // set aside under one metric, it is under all
			steps[1].where = append(steps[1].where, "not exists (select 1 from set_aside where "+strings.Join(q.sameRun(), " and ")+")")
			steps = slices.Insert(steps, 1, q.setAside(isNo))
		}
	}
	compared := selection{name: "compared_runs", from: "valid_runs", columns: []string{keys, value, "is_interval",
		"case when is_interval = 1 then " + value + " else ln(" + value + ") end as compared"}}
	if q.FirstRuns > 0 {
		labelled, valid := &steps[0], &steps[len(steps)-1]
		var order []string
		for _, c := range []string{"time", "run"} {
			if q.has(c) {
				labelled.columns = append(labelled.columns, q.column(c)+" as order_by_"+c)
				order = append(order, "order_by_"+c)
			}
		}
		valid.columns = append(valid.columns, "row_number() over (partition by "+keys+" order by "+
			strings.Join(order, ", ")+") as place")
		compared.where = []string{fmt.Sprintf("place <= %d", q.FirstRuns)}
	}
	return append(steps, compared), nil
}

// runLabels are the columns that tell the runs of a benchmark apart.
func (q Query) runLabels() []string {
	return slices.DeleteFunc([]string{"profile", "benchmark", "machine", "block", "session", "run"}, func(c string) bool { return !q.has(c) })
}

// setAside lists the runs that any metric sets aside.
func (q Query) setAside(isNo string) selection {
	s := selection{name: "set_aside", from: q.Dialect.table(q.Table), where: []string{isNo, q.label("run") + " <> ''"}}
	for _, c := range q.runLabels() {
		s.columns = append(s.columns, q.Dialect.as(q.label(c), c))
	}
	return s
}

// sameRun are the conditions that a run is one of those that are set aside.
func (q Query) sameRun() (out []string) {
	for _, c := range q.Dialect.names(q.runLabels()) {
		out = append(out, "set_aside."+c+" = labelled."+c)
	}
	return out
}

// sessions reduce the runs of each session.
func (q Query) sessions() []selection {
	d := q.Dialect
	keys, value := q.list(q.keys())+", is_interval", d.name("value")
	return []selection{
		{name: "sessions", from: "compared_runs", groupBy: []string{keys}, columns: []string{keys,
			d.as("count(*)", "runs"), d.as("avg(compared)", "mean"), d.as("coalesce(stddev_samp(compared), 0)", "spread"),
			middle(value, "") + " as lower_middle", middle(value, " desc") + " as upper_middle",
			d.as("min("+value+")", "smallest"), d.as("max("+value+")", "largest")}},
		{name: "session_medians", from: "sessions", columns: []string{keys, q.list([]string{"runs", "mean", "spread", "smallest", "largest"}),
			d.as(median, "value")}},
	}
}

// middle is the lower middle value in an order, and the upper one in the other; they are
// one reading where the number is odd.
func middle(value, order string) string {
	return "percentile_disc(0.5) within group (order by " + value + order + ")"
}

// median is the mean of both middle values, as they are compared.
const median = "case when lower_middle = upper_middle then lower_middle when is_interval = 1 then (lower_middle + upper_middle) / 2 " +
	"else sqrt(lower_middle * upper_middle) end"

// machines reduce the sessions of each machine. Mean and spread are those of its runs.
func (q Query) machines() []selection {
	d := q.Dialect
	keys := q.list(q.machineKeys()) + ", is_interval"
	value, runs, mean, spread := d.name("value"), d.name("runs"), d.name("mean"), d.name("spread")
	return []selection{
		{name: "machines", from: "session_medians", groupBy: []string{keys}, columns: []string{keys,
			d.as("cast(sum("+runs+") as bigint)", "runs"), d.as("count(*)", "sessions"),
			d.as("sum("+runs+" * "+mean+") / sum("+runs+")", "mean"),
			"sum((" + runs + " - 1) * " + spread + " * " + spread + " + " + runs + " * " + mean + " * " + mean + ") as squares",
			middle(value, "") + " as lower_middle", middle(value, " desc") + " as upper_middle",
			d.as("min("+d.name("smallest")+")", "smallest"), d.as("max("+d.name("largest")+")", "largest")}},
		{name: "machine_medians", from: "machines", columns: []string{keys, q.list([]string{"runs", "sessions", "mean", "smallest", "largest"}),
			d.as("sqrt(greatest(0, squares - "+runs+" * "+mean+" * "+mean+") / greatest(1, "+runs+" - 1))", "spread"),
			d.as(median, "value")}},
	}
}

// rows are what is read here, in a fixed order.
func (q Query) rows(keys []string, from string) selection {
	d := q.Dialect
	s := selection{from: from, columns: []string{q.list(keys), d.name("value"), d.name("runs")}, orderBy: []string{q.list(keys)}}
	if q.ToMachine {
		s.columns = append(s.columns, d.name("sessions"))
	}
	s.columns = append(s.columns, d.as("case when is_interval = 1 then "+d.name("mean")+" else exp("+d.name("mean")+") end", "mean"),
		d.name("spread"), d.name("smallest"), d.name("largest"))
	return s
}
