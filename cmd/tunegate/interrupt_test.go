package main

import (
	"bytes"
	"fmt"
	"io"
	"os"
	"os/exec"
	"path/filepath"
	"runtime"
	"strings"
	"testing"
)

// Ctrl-C ends every command that can take time at once, with status 2 and
// nothing written. sheet, init and completion are done before anybody could
// press it; what they share is in TestInterruptLeavesNothingUnfinished.
func TestInterrupt(t *testing.T) {
	if runtime.GOOS == "windows" {
		t.Skip("a program cannot send Ctrl-C to another one there")
	}
	for _, args := range [][]string{
		{"compare", "-", "--before", "factory", "--after", "boost-lift"},
		{"reruns", "-", "--before", "factory", "--after", "boost-lift"},
		{"doubts", "-"},
		{"passes", "-"},
		{"policy", "-"},
	} {
		t.Run(args[0]+" that reads", func(t *testing.T) { interruptReading(t, args, false) })
		if args[0] == "compare" || args[0] == "reruns" { // the others are done in no time
			t.Run(args[0]+" that works", func(t *testing.T) { interruptReading(t, args, true) })
		}
	}
	for _, args := range [][]string{{"gate", "--base", "main"}, {"history"}} {
		t.Run(args[0], func(t *testing.T) { interruptGit(t, args) })
	}
}

// interruptReading stops a command while it waits for more runs, or while it
// works on all of them.
func interruptReading(t *testing.T, args []string, complete bool) {
	folder := t.TempDir()
	if args[0] != "policy" { // which writes no files
		args = append(args, "--write", "json=result.json", "--write", "text=result.txt")
	}
	if args[0] == "compare" {
		args = append(args, "--resamples", "10000000")
	}
	cmd := exec.Command("tunegate", args...)
	cmd.Dir = folder
	var stdout, stderr bytes.Buffer
	cmd.Stdout, cmd.Stderr = &stdout, &stderr
	stdin, err := cmd.StdinPipe()
	if err != nil {
		t.Fatal(err)
	}
	if err := cmd.Start(); err != nil {
		t.Fatal(err)
	}
	// Much more than a pipe holds: once it is taken, the program reads, and has
	// long been listening for the signal.
	var runs bytes.Buffer
	runs.WriteString("profile,benchmark,unit,value\n")
	for i := range 20000 {
		fmt.Fprintf(&runs, "%s,tile-render-%d,s,%d.%04d\n", []string{"factory", "boost-lift"}[i%2], i/2%500, 400+i%7, i*i%9973)
	}
	if _, err := io.Copy(stdin, &runs); err != nil {
		t.Fatal(err)
	}
	if complete {
		stdin.Close()
	}
	if err := cmd.Process.Signal(os.Interrupt); err != nil {
		t.Fatal(err)
	}
	endsInterrupted(t, cmd, &stdout, &stderr, folder)
}

func endsInterrupted(t *testing.T, cmd *exec.Cmd, stdout, stderr *bytes.Buffer, folder string) {
	t.Helper()
	cmd.Wait()
	if status := cmd.ProcessState.ExitCode(); status != exitInput {
		t.Errorf("ends with %d: %s", status, stderr)
	}
	if stdout.Len() > 0 || !strings.HasPrefix(stderr.String(), "tunegate: interrupted, nothing was written\n") {
		t.Errorf("prints %q and says %q", stdout, stderr)
	}
	left, err := os.ReadDir(folder)
	if err != nil || len(left) > 0 {
		t.Errorf("leaves %v, %v", left, err)
	}
}

// interruptGit stops a command while git works.
func interruptGit(t *testing.T, args []string) {
	bin, folder := t.TempDir(), t.TempDir()
	started := filepath.Join(bin, "asked")
	script := fmt.Sprintf("#!/bin/sh\nmkfifo '%s.fifo' 2>/dev/null\n: > '%s.fifo'\nexec sleep 600\n", started, started)
	if err := os.WriteFile(filepath.Join(bin, "git"), []byte(script), 0o755); err != nil {
		t.Fatal(err)
	}
	if out, err := exec.Command("mkfifo", started+".fifo").CombinedOutput(); err != nil {
		t.Skipf("no mkfifo: %v: %s", err, out)
	}
	program, err := exec.LookPath("tunegate")
	if err != nil {
		t.Fatal(err)
	}
	cmd := exec.Command(program, append(args, "--write", "json=result.json")...)
	cmd.Dir = folder
	cmd.Env = append(os.Environ(), "PATH="+bin+string(os.PathListSeparator)+os.Getenv("PATH"))
	var stdout, stderr bytes.Buffer
	cmd.Stdout, cmd.Stderr = &stdout, &stderr
	if err := cmd.Start(); err != nil {
		t.Fatal(err)
	}
	if _, err := os.ReadFile(started + ".fifo"); err != nil { // returns once git runs
		t.Fatal(err)
	}
	if err := cmd.Process.Signal(os.Interrupt); err != nil {
		t.Fatal(err)
	}
	endsInterrupted(t, cmd, &stdout, &stderr, folder)
}

// The temporary repository of a merge is gone after Ctrl-C.
func TestInterruptLeavesNoMerge(t *testing.T) {
	if runtime.GOOS == "windows" {
		t.Skip("a program cannot send Ctrl-C to another one there")
	}
	real, err := exec.LookPath("git")
	if err != nil {
		t.Skip("no git")
	}
	bin, folder, temporary := t.TempDir(), t.TempDir(), t.TempDir()
	reached := filepath.Join(bin, "reached")
	if out, err := exec.Command("mkfifo", reached).CombinedOutput(); err != nil {
		t.Skipf("no mkfifo: %v: %s", err, out)
	}
	script := fmt.Sprintf("#!/bin/sh\ncase \"$*\" in *merge-tree*) : > '%s'; exec sleep 600;; esac\nexec '%s' \"$@\"\n", reached, real)
	if err := os.WriteFile(filepath.Join(bin, "git"), []byte(script), 0o755); err != nil {
		t.Fatal(err)
	}
	for _, line := range []string{"init -q -b main", "add .", "commit -q -m a", "checkout -q -b work", "commit -q --allow-empty -m b",
		"checkout -q main", "commit -q --allow-empty -m c", "checkout -q work"} {
		if line == "add ." {
			if err := os.WriteFile(filepath.Join(folder, "tunegate.toml"), []byte("confidence = 95\n"), 0o644); err != nil {
				t.Fatal(err)
			}
		}
		cmd := exec.Command(real, append([]string{"-c", "user.name=a", "-c", "user.email=a@example.org"}, strings.Fields(line)...)...)
		cmd.Dir = folder
		if out, err := cmd.CombinedOutput(); err != nil {
			t.Fatalf("git %s: %v: %s", line, err, out)
		}
	}
	program, err := exec.LookPath("tunegate")
	if err != nil {
		t.Fatal(err)
	}
	cmd := exec.Command(program, "gate", "--base", "main")
	cmd.Dir = folder
	cmd.Env = append(os.Environ(), "PATH="+bin+string(os.PathListSeparator)+os.Getenv("PATH"), "TMPDIR="+temporary)
	if err := cmd.Start(); err != nil {
		t.Fatal(err)
	}
	if _, err := os.ReadFile(reached); err != nil { // returns once git merges
		t.Fatal(err)
	}
	left, err := os.ReadDir(temporary)
	if err != nil || len(left) != 1 {
		t.Fatalf("while it merges: %v, %v", left, err)
	}
	if err := cmd.Process.Signal(os.Interrupt); err != nil {
		t.Fatal(err)
	}
	cmd.Wait()
	if left, err := os.ReadDir(temporary); err != nil || len(left) > 0 || cmd.ProcessState.ExitCode() != exitInput {
		t.Errorf("leaves %v, %v and ends with %d", left, err, cmd.ProcessState.ExitCode())
	}
}

// What is unfinished when an interrupt comes is removed, and what is whole
// stays.
func TestInterruptLeavesNothingUnfinished(t *testing.T) {
	folder := t.TempDir()
	whole := filepath.Join(folder, "whole.json")
	if err := writeWhole([]content{{whole, []byte("{}\n")}}); err != nil {
		t.Fatal(err)
	}
	for _, name := range []string{"one", "two"} {
		f, err := begin(func() (*os.File, error) { return os.Create(filepath.Join(folder, name)) })
		if err != nil {
			t.Fatal(err)
		}
		f.Close()
	}
	if !abandonFiles() {
		t.Error("says that nothing was written")
	}
	if files.TryLock() {
		t.Error("more could be written after it")
	}
	files.unfinished, files.written = nil, false
	files.Unlock()
	left, err := os.ReadDir(folder)
	if err != nil || len(left) != 1 || left[0].Name() != "whole.json" {
		t.Errorf("leaves %v, %v", left, err)
	}
}
