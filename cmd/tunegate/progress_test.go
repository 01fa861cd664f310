package main

import (
	"bytes"
	"os"
	"runtime"
	"strings"
	"sync"
	"testing"

	"github.com/urfave/cli/v2"
)

// Nothing is ever drawn where nobody looks: in a pipe, a file or a test.
func TestBarKeepsOutOfPipes(t *testing.T) {
	read, write, err := os.Pipe()
	if err != nil {
		t.Fatal(err)
	}
	defer read.Close()
	file, err := os.Create(t.TempDir() + "/stderr")
	if err != nil {
		t.Fatal(err)
	}
	defer file.Close()
	app := cli.NewApp()
	c := cli.NewContext(app, nil, nil)
	for _, app.ErrWriter = range []interface{ Write([]byte) (int, error) }{write, file, &bytes.Buffer{}} {
		b := startBar(c)
		if b.timer != nil || !b.stopped {
			t.Errorf("a bar waits to be drawn on %T", app.ErrWriter)
		}
		b.step(1, 2)
		b.stop()
	}
	if err := write.Close(); err != nil {
		t.Fatal(err)
	}
	var printed bytes.Buffer
	if _, err := printed.ReadFrom(read); err != nil || printed.Len() > 0 {
		t.Errorf("says %q, %v", printed.String(), err)
	}
	if info, err := file.Stat(); err != nil || info.Size() > 0 {
		t.Errorf("the file holds %v bytes, %v", info.Size(), err)
	}
}

// screenBuffer signals the first thing that is drawn.
type screenBuffer struct {
	sync.Mutex
	bytes.Buffer
	once  sync.Once
	drawn chan struct{}
}

func (s *screenBuffer) Write(p []byte) (int, error) {
	s.Lock()
	defer s.Unlock()
	s.once.Do(func() { close(s.drawn) })
	return s.Buffer.Write(p)
}

// What was drawn is one line, and it is taken off the screen at the end.
func TestBarIsGoneAtTheEnd(t *testing.T) {
	screen := &screenBuffer{drawn: make(chan struct{})}
	b := newBar()
	b.out = screen
	b.step(1, 4)
	go b.draw(60)
	<-screen.drawn
	b.stop()
	b.stop()
	got := screen.String()
	if !strings.Contains(got, "25 %") || !strings.Contains(got, "working") {
		t.Errorf("draws %q", got)
	}
	const back = "\x1b[1A\x1b[K"
	got = strings.ReplaceAll(got, "\x1b[A\x1b[K", back)
	if lines := strings.Count(got, "\n"); strings.Count(got, back) != lines || !strings.HasSuffix(got, back) {
		t.Errorf("draws %d lines and does not take each of them back: %q", lines, got)
	}
}

// A command that ends before anything was drawn leaves the screen alone, even
// where the drawing is just about to begin.
func TestBarOfAShortCommand(t *testing.T) {
	for name, end := range map[string]func(*bar){
		"before the drawing": func(b *bar) {
			b.stop()
			b.draw(60)
		},
		"between beginning and drawing": func(b *bar) {
			w := b.begin(60)
			stopped := make(chan struct{})
			go func() {
				b.stop()
				close(stopped)
			}()
			for b.lock.TryLock() { // until stop holds it and waits for the drawing
				b.lock.Unlock()
				runtime.Gosched()
			}
			w.Render()
			close(b.ended)
			<-stopped
		},
		"whenever": func(b *bar) {
			go b.draw(60)
			b.stop()
		},
	} {
		screen := &screenBuffer{drawn: make(chan struct{})}
		b := newBar()
		b.out = screen
		end(b)
		if got := screen.String(); strings.Count(got, "\n") != strings.Count(got, "\x1b[K") {
			t.Errorf("%s: leaves %q", name, got)
		}
	}
}
