package intake

import "testing"

func TestSeparatorOf(t *testing.T) {
	for header, want := range map[string]byte{
		"benchmark,value":                  ',',
		"benchmark;value":                  ';',
		"benchmark\tvalue":                 '\t',
		"value":                            ',',
		`"a,b,c";value`:                    ';',
		"latency [ns, lower]":              ',',
		"latency [ns, lower];a [s, lower]": ';',
		"latency [ns; x],a [s]":            ',',
		"a, b;value":                       ';',
		"a, b, c;value":                    ',',
		"a;b\tc":                           '\t',
		`"a ""x;y"" b"` + "\tc":            '\t',
		"latency [ns,a":                    ',',
		"a],b":                             ',',
	} {
		if got := separatorOf([]byte(header)); got != want {
			t.Errorf("separatorOf(%q) = %q, want %q", header, got, want)
		}
	}
}

func TestSeparatorLine(t *testing.T) {
	runCases(t, []readCase{
		{name: "semicolon", in: "sep=;\r\nbenchmark;value\r\na;1,5\r\n", values: []string{"3:3 a=1.5"}},
		{name: "quoted", in: "\"sep=;\"\nbenchmark;value\na;1,5\n", values: []string{"3:3 a=1.5"}},
		{name: "tab", in: "SEP=\t\nbenchmark\tvalue\na\t1,5\n", values: []string{"3:3 a=1.5"}},
		{name: "comma over count", in: "sep=,\nbenchmark,value,\"a;b;c;d\"\na,1,\n", values: []string{"3:3 a=1"},
			notes: []string{`column "a;b;c;d" skipped: its name is none of those known`}},
		{name: "unknown", in: "sep=|\nbenchmark|value\n", err: `runs.csv:1:1: found the separator "|", expected a comma, a semicolon or a tab`},
		{name: "missing", in: "sep=\nbenchmark,value\n", err: `runs.csv:1:1: found the separator "", expected a comma, a semicolon or a tab`},
		{name: "alone", in: "sep=;\n", err: "runs.csv: the file is empty, expected " + wantHeader},
	})
}
