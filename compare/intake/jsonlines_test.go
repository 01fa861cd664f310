package intake

import (
	"strings"
	"testing"
)

func TestJSONLines(t *testing.T) {
	runCases(t, []readCase{
		{name: "least", in: `{"benchmark":"a","value":412.3}`, values: []string{"1:26 a=412.3"}},
		{name: "every key, any case, any order",
			in: "\n" + ` { "Reason" : "fan" , "VALID":false,"time":"2026-03-01T14:05:00Z","run":2,"block":"b1","session":"x",` +
				`"profile":"factory","better":"lower","unit":"C","metric":"heat","value":"41.5","benchmark":"a"}` + "\r\n\r\n",
			values: []string{`2:174 a/heat=41.5 °C better=lower profile=factory session=x block=b1 run=2 time=2026-03-01T14:05:00Z aside="fan"`}},
		{name: "valid in words and numbers", in: `{"benchmark":"a","value":1,"valid":"Yes"}` + "\n" +
			`{"benchmark":"a","value":1,"valid":0,"reason":"r"}` + "\n" + `{"benchmark":"a","value":1,"valid":true}`,
			values: []string{"1:26 a=1", `2:26 a=1 aside="r"`, "3:26 a=1"}},
		{name: "nothing yet", in: `{"benchmark":"a","value":null}` + "\n" + `{"benchmark":"a","value":" ","session":null}`,
			values: []string{"1:26 a=?", "2:26 a=?"}},
		{name: "time as a value", in: `{"benchmark":"a","value":"6:52.3"}`, values: []string{"1:26 a=412.3 s"}},
		{name: "escapes", in: `{"benchm\u0061rk":"\"a\u00e9\\","value":1}`, values: []string{`1:41 "aé\=1`}},
		{name: "columns count characters", in: `{"benchmark":"é猫","value":x}`,
			err: "runs.csv:1:27: this is no JSON: invalid character 'x' looking for beginning of value; expected one object a line"},
		// RFC 8259, section 13, the first example, with what a row needs.
		{name: "unknown keys of any depth",
			in: `{"Image":{"Width":800,"Thumbnail":{"Url":"http://www.example.com/image/481989943"},` +
				`"Animated":false,"IDs":[116,943,234,38793]},"benchmark":"a","value":1,"x":"}\"{"}`,
			values: []string{"1:152 a=1"}, notes: []string{`key "Image" skipped: its name is none of those known`,
				`key "x" skipped: its name is none of those known`}},
		{name: "byte-order mark", in: "\ufeff{\"benchmark\":\"a\",\"value\":1}", values: []string{"1:26 a=1"}},

		{name: "key without value", in: `{"benchmark":"a"}`,
			err: `runs.csv:1:1: the key "value" is missing; expected an object such as {"benchmark":"tile-render","unit":"s","value":412.3}`},
		{name: "empty object", in: `{"benchmark":"a","value":1}` + "\n{}", values: []string{"1:26 a=1"},
			err: `runs.csv:2:1: the key "benchmark" is missing; expected an object such as {"benchmark":"tile-render","unit":"s","value":412.3}`},
		{name: "empty benchmark", in: `{"benchmark":" ","value":1}`, err: "runs.csv:1:14: found no benchmark, expected its name"},
		{name: "mistyped key", in: `{"benchmark":"a","value":1,"sesion":1}`,
			err: `runs.csv:1:28: key "sesion" is unknown and close to "session"; write "session" if that is meant, else rename it to ` +
				`something less alike`},
		{name: "key twice", in: `{"benchmark":"a","value":1,"Value":2}`,
			err: `runs.csv:1:28: the key "value" stands twice in this object; delete one of the two`},
		{name: "list as value", in: `{"benchmark":"a","value":[1,2]}`,
			err: `runs.csv:1:26: found "[1,2]" for the key "value", expected a number, or a string that holds one`},
		{name: "truth as value", in: `{"benchmark":"a","value":true}`,
			err: `runs.csv:1:26: found "true" for the key "value", expected a number, or a string that holds one`},
		{name: "number as name", in: `{"benchmark":5,"value":1}`, err: `runs.csv:1:14: found "5" for the key "benchmark", expected a string`},
		{name: "truth as session", in: `{"benchmark":"a","value":1,"session":false}`,
			err: `runs.csv:1:38: found "false" for the key "session", expected a string or a number`},
		{name: "list as valid", in: `{"benchmark":"a","value":1,"valid":[]}`,
			err: `runs.csv:1:36: found "[]" for the key "valid", expected true or false`},
		{name: "too large", in: `{"benchmark":"a","value":1e999}`,
			err: `runs.csv:1:26: found "1e999", which is too large for a number here; use a larger unit`},
		{name: "decimal comma", in: `{"benchmark":"a","value":"412,3"}`,
			err: `runs.csv:1:26: found "412,3", a decimal comma; it is accepted only where ; or tab separates the columns; write a decimal point`},
		{name: "not a number", in: `{"benchmark":"a","value":"NaN"}`,
			err: `runs.csv:1:26: found "NaN", expected a number; leave the cell empty where there is no result`},
		{name: "no without reason", in: `{"benchmark":"a","value":1,"valid":false}`,
			err: `runs.csv:1:36: valid = no needs a reason, found none; say in "reason" why the run does not count`},
		{name: "valid unclear", in: `{"benchmark":"a","value":1,"valid":"so so"}`,
			err: `runs.csv:1:36: found "so so", expected yes or no, or nothing for yes`},
		{name: "better unclear", in: `{"benchmark":"a","value":1,"better":"up"}`,
			err: `runs.csv:1:37: found "up", expected higher or lower, or nothing`},
		{name: "time unclear", in: `{"benchmark":"a","value":1,"time":"now"}`,
			err: `runs.csv:1:35: found the time "now", expected RFC 3339 with a zone, such as 2026-03-01T14:05:00Z or ` +
				`2026-03-01T15:05:00+01:00; correct it or leave it empty`},
		{name: "line break in a name", in: `{"benchmark":"a\nb","value":1}`,
			err: `runs.csv:1:14: found a line break inside "a\nb", expected one only in a reason; write it on one line`},
		{name: "not closed", in: "{\"benchmark\":\"a\",\n\"value\":1}\n",
			err: "runs.csv:1:18: the line ends before its object is closed; write each object on one line"},
		{name: "two objects", in: `{"benchmark":"a","value":1} {}`,
			err: "runs.csv:1:29: found more behind the object, expected one JSON object a line"},
		{name: "not an object", in: "{\"benchmark\":\"a\",\"value\":1}\n[1]\n", values: []string{"1:26 a=1"},
			err: `runs.csv:2:1: found "[1]", expected one JSON object a line`},
		{name: "too deep", in: `{"x":` + strings.Repeat("[", 20000) + strings.Repeat("]", 20000) + "}",
			err: "runs.csv:1:10005: this is no JSON: invalid character '[' exceeded max depth; expected one object a line"},
		{name: "line over the limit", in: `{"benchmark":"a","value":1}` + "\n" + `{"benchmark":"` + strings.Repeat("x", maxLine) + `"}`,
			values: []string{"1:26 a=1"},
			err:    "runs.csv:2: this line is longer than 1048576 bytes; a file of runs has one row a line"},
		{name: "line longer than a chunk", in: `{"benchmark":"a","value":1,"reason":"` + strings.Repeat("x",
			3*chunkSize) + `"}` + "\n" + `{"benchmark":"b","value":2}`, values: []string{"1:26 a=1", "2:26 b=2"}},
	})
}
