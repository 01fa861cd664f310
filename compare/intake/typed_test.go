package intake

import (
	"strconv"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"
	"pgregory.net/rapid"
)

func TestParseNumbers(t *testing.T) {
	for in, want := range map[string][]float64{
		"412 409 415 411":  {412, 409, 415, 411},
		"412, 409, 415":    {412, 409, 415},
		"412,409,415":      {412, 409, 415},
		"412\n409\r\n415":  {412, 409, 415},
		"412\t409":         {412, 409},
		" 412 , 409 ,\n":   {412, 409},
		"412;409;":         {412, 409},
		"412,3; 409,1":     {412.3, 409.1},
		"412,3;409,1\n7;8": {412.3, 409.1, 7, 8},
		"412,3;\n409,1;\n": {412.3, 409.1},
		"6:52.3 6:50":      {412.3, 410},
		"-1 0 1e3":         {-1, 0, 1000},
		"5":                {5},
	} {
		got, err := ParseNumbers(in, "--before")
		if diff := cmp.Diff(want, got); err != nil || diff != "" {
			t.Errorf("ParseNumbers(%q): %v (-want +got):\n%s", in, err, diff)
		}
	}
	const accepted = "; accepted are 1234.5, 1.2345e3 and 6:52.3, and 1234,5 with ; between the numbers"
	const doubt = ", where the comma may be a decimal mark or a separator; write a decimal point, a blank behind a separating comma, or " +
		"decimal commas with ; between the numbers"
	for in, want := range map[string]string{
		"":                  `--before: found no number, expected some such as "412 409 415"`,
		" \n":               `--before: found no number, expected some such as "412 409 415"`,
		";":                 `--before: found no number, expected some such as "412 409 415"`,
		",":                 `--before: found no number, expected some such as "412 409 415"`,
		"412 x 415":         `--before: number 2 of 3: found "x", expected a number` + accepted,
		"412 NaN":           `--before: number 2 of 2: found "NaN", expected a number` + accepted,
		"inf":               `--before: number 1 of 1: found "inf", expected a number` + accepted,
		"412s 409s":         `--before: number 1 of 2: found "412s", expected a number alone` + accepted,
		"1e999":             `--before: number 1 of 1: found "1e999", which is too large for a number here` + accepted,
		"412,,415":          "--before: number 2 of 3 is empty, expected one between each two separators",
		", 412":             "--before: number 1 of 2 is empty, expected one between each two separators",
		"412;;415":          "--before: number 2 of 3 is empty, expected one between each two separators",
		"412,3 409,1":       `--before: number 1 of 2: found "412,3"` + doubt,
		"412\n409,1":        `--before: number 2 of 2: found "409,1"` + doubt,
		"412,3; 409.1":      `--before: number 2 of 2: found "409.1", but number 1 has the other decimal mark; write all with the same`,
		"1\u00a0234 5":      `--before: number 1 of 2: found "1\u00a0234", which has a thousands separator or reads as if it had` + accepted,
		"1'234":             `--before: number 1 of 1: found "1'234", which has a thousands separator or reads as if it had` + accepted,
		"1,234.5 1,240.25 ": `--before: number 1 of 2: found "1,234.5"` + doubt,
		"1.234,5; 2":        `--before: number 1 of 2: found "1.234,5", which has a thousands separator or reads as if it had` + accepted,
	} {
		got, err := ParseNumbers(in, "--before")
		if got != nil {
			t.Errorf("ParseNumbers(%q) = %v, want an error", in, got)
		}
		t.Run(in, func(t *testing.T) { checkError(t, err, want) })
	}
}

func TestParseNumbersRoundTrip(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		want := rapid.SliceOfN(rapid.Float64Range(-maxMagnitude, maxMagnitude).Filter(readable), 1, 20).Draw(t, "numbers")
		between := rapid.SampledFrom([]string{" ", ", ", "\n", "; ", "\t"}).Draw(t, "between")
		words := make([]string, len(want))
		for i, v := range want {
			words[i] = strconv.FormatFloat(v, 'g', -1, 64)
		}
		got, err := ParseNumbers(strings.Join(words, between), "--before")
		if diff := cmp.Diff(want, got); err != nil || diff != "" {
			t.Fatalf("%v (-want +got):\n%s", err, diff)
		}
	})
}
