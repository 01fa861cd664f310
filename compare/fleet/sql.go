package fleet

import (
	"slices"
	"strings"
)

// Dialect is a dialect of SQL.
type Dialect string

// The dialects.
const (
	Postgres Dialect = "postgres"
	DuckDB   Dialect = "duckdb"
	Spark    Dialect = "spark"
)

// Dialects lists them.
func Dialects() []Dialect { return []Dialect{Postgres, DuckDB, Spark} }

// name quotes an identifier.
func (d Dialect) name(s string) string {
	quote := `"`
	if d == Spark {
		quote = "`"
	}
	return quote + strings.ReplaceAll(s, quote, quote+quote) + quote
}

// names quotes several.
func (d Dialect) names(s []string) []string {
	out := slices.Clone(s)
	for i := range out {
		out[i] = d.name(out[i])
	}
	return out
}

// table quotes the name of a table, part by part. What DuckDB reads as a file is one
// part.
func (d Dialect) table(s string) string {
	if d == DuckDB && (strings.ContainsAny(s, `/\*?`) || strings.HasSuffix(s, ".parquet") || strings.HasSuffix(s, ".csv")) {
		return d.name(s)
	}
	return strings.Join(d.names(strings.Split(s, ".")), ".")
}

// literal quotes a text. In Spark a backslash escapes what follows it.
func (d Dialect) literal(s string) string {
	if d == Spark {
		return "'" + strings.NewReplacer(`\`, `\\`, "'", `\'`).Replace(s) + "'"
	}
	return "'" + strings.ReplaceAll(s, "'", "''") + "'"
}

func (d Dialect) literals(s []string) string {
	out := make([]string, len(s))
	for i := range s {
		out[i] = d.literal(s[i])
	}
	return "(" + strings.Join(out, ", ") + ")"
}

// text and number convert an expression of any type.
func (d Dialect) text(expression string) string {
	return "cast(" + expression + " as " + map[Dialect]string{Postgres: "text", DuckDB: "varchar", Spark: "string"}[d] + ")"
}

func (d Dialect) number(expression string) string {
	return "cast(" + expression + " as " + map[Dialect]string{Postgres: "double precision", DuckDB: "double", Spark: "double"}[d] + ")"
}

// selection is one SELECT.
type selection struct {
	name    string // in the statement; empty for the last
	columns []string
	from    string
	where   []string // all of them hold
	groupBy []string
	orderBy []string
}

// as names an expression.
func (d Dialect) as(expression, name string) string { return expression + " as " + d.name(name) }

// lines writes the SELECT, one expression a line.
func (s selection) lines() (out []string) {
	clause := func(word, between string, parts []string) {
		if len(parts) == 0 {
			return
		}
		out = append(out, word)
		for i, part := range parts {
			if i > 0 && between != "," {
				part = between + " " + part
			}
			if between == "," && i < len(parts)-1 {
				part += ","
			}
			out = append(out, "  "+part)
		}
	}
	clause("select", ",", s.columns)
	out = append(out, "from "+s.from)
	clause("where", "and", s.where)
	clause("group by", ",", s.groupBy)
	clause("order by", ",", s.orderBy)
	return out
}

// statement joins SELECTs: each may use those before it by their names.
func (d Dialect) statement(steps []selection) string {
	var b strings.Builder
	last := len(steps) - 1
	for i, s := range steps[:last] {
		if i == 0 {
			b.WriteString("with ")
		}
		b.WriteString(s.name + " as (\n  " + strings.Join(s.lines(), "\n  ") + "\n)")
		if i < last-1 {
			b.WriteByte(',')
		}
		b.WriteByte('\n')
	}
	return b.String() + strings.Join(steps[last].lines(), "\n") + "\n"
}
