package main

import (
	"io"
	"os"
	"sync"
	"time"

	"github.com/jedib0t/go-pretty/v6/progress"
	"github.com/jedib0t/go-pretty/v6/text"
	"github.com/urfave/cli/v2"
	"golang.org/x/term"
)

// progressDelay is how long a command runs before it shows its progress.
const progressDelay = time.Second

// bar shows on standard error how far a command is, after progressDelay. It shows
// nothing unless standard error is a terminal, and removes itself at the end.
type bar struct {
	timer    *time.Timer
	out      io.Writer
	tracker  *progress.Tracker
	ended    chan struct{} // closed when nothing more will be drawn
	lock     sync.Mutex
	writer   progress.Writer // nil until progressDelay is over
	stopped  bool
	anything bool // was drawn
}

// startBar begins to wait for a command. The caller ends it with stop, which
// may be called more than once, before anything is printed.
func startBar(c *cli.Context) *bar {
	b := newBar()
	f, ok := c.App.ErrWriter.(*os.File)
	if !ok || !term.IsTerminal(int(f.Fd())) || os.Getenv("TERM") == "dumb" {
		b.stopped = true
		return b
	}
	b.out = f
	width, _, err := term.GetSize(int(f.Fd()))
	if err != nil || width < 1 {
		width = 80
	}
	b.timer = time.AfterFunc(progressDelay, func() { b.draw(width) })
	return b
}

func newBar() *bar {
	return &bar{tracker: &progress.Tracker{Message: "working", AutoStopDisabled: true}, ended: make(chan struct{})}
}

// step tells how much is done; until it is called that is not known.
func (b *bar) step(done, total int) {
	b.tracker.UpdateTotal(int64(total))
	b.tracker.SetValue(int64(done))
}

// draw shows the bar until it is stopped.
func (b *bar) draw(width int) {
	if w := b.begin(width); w != nil {
		w.Render()
		close(b.ended)
	}
}

// begin prepares the drawing; nil where the bar was stopped before. From here
// on stop waits for the drawing to end.
func (b *bar) begin(width int) progress.Writer {
	b.lock.Lock()
	defer b.lock.Unlock()
	if b.stopped {
		return nil
	}
	w := progress.NewWriter()
	w.SetOutputWriter(drawing{b})
	w.SetTerminalWidth(width)
	w.Style().Visibility.Value = false
	w.Style().Options.PercentFormat = "%3.0f %%"
	w.Style().Options.PercentIndeterminate = "  ? %"
	w.Style().Visibility.Time = false
	w.Style().Options.Separator = " "
	w.AppendTracker(b.tracker)
	b.writer = w
	return w
}

// drawing notes that something was drawn.
type drawing struct{ *bar }

func (d drawing) Write(p []byte) (int, error) {
	d.anything = true
	return d.out.Write(p)
}

// stop ends the drawing and takes it off the screen.
func (b *bar) stop() {
	b.lock.Lock()
	defer b.lock.Unlock()
	if b.stopped {
		return
	}
	b.stopped = true
	if b.timer != nil {
		b.timer.Stop()
	}
	if b.writer == nil {
		return
	}
	for done := false; !done; {
		b.writer.Stop() // does nothing before the first tick is prepared
		select {
		case <-b.ended:
			done = true
		case <-time.After(5 * time.Millisecond):
		}
	}
	if b.anything {
		io.WriteString(b.out, text.CursorUp.Sprint()+text.EraseLine.Sprint())
	}
}
