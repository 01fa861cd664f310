package main

import (
	"bytes"
	"encoding/csv"
	"io"
	"math"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"strconv"
	"strings"
	"testing"
)

// TestOfficeReadsWorkbooks opens the workbook of each command with LibreOffice: its
// figures are those of the CSV, and every number of the screen with digits behind the
// point stands in it as shown. It runs where TUNEGATE_OFFICE names the program.
func TestOfficeReadsWorkbooks(t *testing.T) {
	office := os.Getenv("TUNEGATE_OFFICE")
	if office == "" {
		t.Skip("TUNEGATE_OFFICE names no LibreOffice")
	}
	outsideActions(t)
	folder := t.TempDir()
	demo, err := filepath.Abs("../../fixtures/demo")
	if err != nil {
		t.Fatal(err)
	}
	repository := filepath.Join(folder, "repository")
	if _, err := demoRepository(repository); err != nil {
		t.Fatal(err)
	}
	factory, lift := filepath.Join(demo, "factory.csv"), filepath.Join(demo, "boost-lift.csv")
	for name, args := range map[string][]string{
		"compare": {"compare", factory, lift},
		"ladder":  {"ladder", factory, filepath.Join(demo, "cool-curve.csv"), lift, "--policy", filepath.Join(demo, "studio.toml")},
		"claims":  {"claims", filepath.Join(demo, "claims.toml"), factory, lift},
		"doubts":  {"doubts", factory, filepath.Join(demo, "studio.csv")},
		"gate":    {"gate", repository, "--base", "main", "--head", "regression"},
		"history": {"history", repository, "--head", "year", "--profile", "boost-lift"},
		"reruns":  {"reruns", factory, lift, "--hours", "12"},
	} {
		out := filepath.Join(folder, name)
		var screen, errs bytes.Buffer
		form := "csv"
		if name == "reruns" {
			form = "figures"
		}
		args = append([]string{"tunegate"}, append(args, "--write", "xlsx="+out+".xlsx", "--write", form+"="+out+".csv")...)
		if status := run(args, strings.NewReader(""), &screen, &errs); status == exitInput {
			t.Fatalf("%s: %s", name, errs.String())
		}
		figures := "Figures"
		if name == "claims" {
			figures = "Claims"
		}
		want := readCSV(t, out+".csv")
		got := readCSV(t, filepath.Join(sheetsOf(t, office, out+".xlsx", false), name+"-"+figures+".csv"))
		if len(got) != len(want) {
			t.Errorf("%s: %d rows, want %d", name, len(got), len(want))
			continue
		}
		for i := range want {
			for k := range want[i] {
				if !sameCell(want[i][k], got[i][k]) {
					t.Errorf("%s: row %d, %s is %q, want %q", name, i+1, want[0][k], got[i][k], want[i][k])
				}
			}
		}
		shown := ""
		sheets := sheetsOf(t, office, out+".xlsx", true)
		files, err := filepath.Glob(filepath.Join(sheets, "*.csv"))
		if err != nil || len(files) < 4 {
			t.Fatalf("%s: sheets %q, %v", name, files, err)
		}
		for _, file := range files {
			shown += readText(t, file)
		}
		for _, number := range regexp.MustCompile(`[0-9]+\.[0-9]+`).FindAllString(screen.String(), -1) {
			if !strings.Contains(shown, number) {
				t.Errorf("%s: the workbook lacks %s of the screen", name, number)
			}
		}
	}
}

// sheetsOf writes each sheet of a workbook as CSV, numbers as they are shown or as they
// are, and returns the folder.
func sheetsOf(t *testing.T, office, file string, shown bool) string {
	t.Helper()
	folder := t.TempDir()
	filter := "csv:Text - txt - csv (StarCalc):44,34,76,1,,0,false," + strconv.FormatBool(!shown) + "," + strconv.FormatBool(shown) + ",false,false,-1"
	out, err := exec.Command(office, "-env:UserInstallation=file://"+filepath.ToSlash(t.TempDir()), "--headless", "--convert-to", filter,
		"--outdir", folder, file).CombinedOutput()
	if err != nil {
		t.Fatalf("%v: %s", err, out)
	}
	return folder
}

func readCSV(t *testing.T, file string) [][]string {
	t.Helper()
	r := csv.NewReader(strings.NewReader(strings.TrimPrefix(readText(t, file), "\uFEFF")))
	var rows [][]string
	for {
		row, err := r.Read()
		if err == io.EOF {
			return rows
		}
		if err != nil {
			t.Fatalf("%s: %v", file, err)
		}
		rows = append(rows, row)
	}
}

// sameCell compares a cell of a CSV with that of a sheet, numbers to the ten digits that
// a CSV has. A text that is guarded in a CSV is not in a workbook.
func sameCell(csv, sheet string) bool {
	want, err := strconv.ParseFloat(csv, 64)
	got, bad := strconv.ParseFloat(strings.TrimSuffix(sheet, "%"), 64)
	if err == nil && bad == nil {
		return math.Abs(want-got) <= 1e-9*math.Abs(want)
	}
	return strings.TrimPrefix(csv, "'") == sheet
}
