package main

import (
	"fmt"
	"io"
	"slices"
	"strings"

	"github.com/urfave/cli/v2"

	"tunegate/compare/fleet"
)

func queryCommand() *cli.Command {
	return &cli.Command{
		Name:      "query",
		Usage:     "print the SQL that reduces runs in a database to rows that compare reads",
		ArgsUsage: " ",
		Description: `For runs that stay where they are, in a warehouse or in Parquet: one SELECT that
gives one row a session and metric (with --to machine one a machine): the median
of the valid runs, their number, mean, spread and ends. Save what it gives as a
CSV with a header, and hand that to compare, ladder, claims, reruns or a gate.

It reads the columns benchmark, value, metric, unit, profile, machine, session,
block, run and valid. Name those that are called otherwise, and leave those
empty that are not there. It reads better and time only where they are named.

Examples:
   tunegate query --dialect duckdb --table runs.parquet --column block= > reduce.sql
   tunegate query --dialect postgres --column value=score --column time=started --first-runs 3
   tunegate query --dialect spark --table bench.runs --to machine --policy tunegate.toml

Exit status: 0 printed; 2 bad usage.`,
		Flags: flags(
			under(groupWhat,
				&cli.StringFlag{Name: "dialect", Usage: "`DIALECT` of SQL: postgres, duckdb or spark"},
				&cli.StringFlag{Name: "table", Value: "runs", Usage: "`NAME` of the table, schema.table, or a file that duckdb reads"},
				&cli.StringSliceFlag{Name: "column", Usage: "what a column is called there, as `COLUMN=NAME`; nothing behind the = " +
					"for one that is not there; repeatable"},
				&cli.StringFlag{Name: "to", Value: "session", Usage: "one row a `LEVEL`: session or machine"},
				&cli.IntFlag{Name: "first-runs", Usage: "take only the first `RUNS` of each session, by time, then run", DefaultText: "all"},
				&cli.StringFlag{Name: "policy", Usage: "read from a `FILE` such as tunegate.toml which metrics are on an interval scale"},
			),
		),
		OnUsageError:    usageError,
		HideHelpCommand: true,
		Action:          runQuery,
	}
}

func runQuery(c *cli.Context) error {
	if c.NArg() > 0 {
		return fmt.Errorf("found %q; query reads no files, and --table names the table", c.Args().First())
	}
	q := fleet.Query{Dialect: fleet.Dialect(strings.ToLower(c.String("dialect"))), Table: c.String("table"),
		Columns: map[string]string{}, FirstRuns: c.Int("first-runs")}
	switch to := c.String("to"); {
	case !slices.Contains(fleet.Dialects(), q.Dialect):
		return fmt.Errorf("--dialect %q; expected postgres, duckdb or spark", c.String("dialect"))
	case q.Table == "":
		return fmt.Errorf("--table is empty; expected the name of a table")
	case to != "session" && to != "machine":
		return fmt.Errorf("--to %q; expected session or machine", to)
	case q.FirstRuns < 0 || c.IsSet("first-runs") && q.FirstRuns == 0:
		return fmt.Errorf("--first-runs %d; expected 1 or more", q.FirstRuns)
	default:
		q.ToMachine = to == "machine"
	}
	for _, s := range c.StringSlice("column") {
		column, name, ok := strings.Cut(s, "=")
		if !ok {
			return fmt.Errorf("--column %q; expected COLUMN=NAME, such as value=score", s)
		}
		q.Columns[strings.ToLower(strings.TrimSpace(column))] = strings.TrimSpace(name)
	}
	file, err := policyFileOf(c)
	if err != nil {
		return err
	}
	q.Policy = file.Policy
	text, err := q.SQL()
	if err != nil {
		return err
	}
	_, err = io.WriteString(c.App.Writer, text)
	return err
}
