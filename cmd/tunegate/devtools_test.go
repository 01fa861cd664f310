package main

import (
	"bufio"
	"encoding/base64"
	"encoding/json"
	"fmt"
	"os"
	"os/exec"
	"testing"
	"time"
)

// browser is a headless Chromium, driven by the DevTools protocol over a pair of
// pipes: no port, no module.
type browser struct {
	t       testing.TB
	in      *os.File
	replies chan message
	last    int
	session string
	heard   []message // events, in order
}

type message struct {
	ID        int             `json:"id,omitempty"`
	SessionID string          `json:"sessionId,omitempty"`
	Method    string          `json:"method,omitempty"`
	Params    json.RawMessage `json:"params,omitempty"`
	Result    json.RawMessage `json:"result,omitempty"`
	Error     *struct {
		Message string `json:"message"`
	} `json:"error,omitempty"`
}

// startBrowser starts the Chromium that TUNEGATE_BROWSER names, with variables
// added to its environment, or skips.
func startBrowser(t testing.TB, environment ...string) *browser {
	t.Helper()
	program := os.Getenv("TUNEGATE_BROWSER")
	if program == "" {
		t.Skip("pages are opened in a browser only where TUNEGATE_BROWSER names a Chromium, as .ci/run does: TUNEGATE_BROWSER=chromium go " +
			"test ./cmd/tunegate -run Browser")
	}
	theirs, in, err := os.Pipe()
	if err != nil {
		t.Fatal(err)
	}
	out, theirOut, err := os.Pipe()
	if err != nil {
		t.Fatal(err)
	}
	// A folder of its own, removed without complaint: the browser may still be
	// putting files into it.
	folder, err := os.MkdirTemp("", "tunegate-browser-")
	if err != nil {
		t.Fatal(err)
	}
	c := exec.Command(program, "--headless", "--no-sandbox", "--disable-gpu", "--disable-quic", "--no-first-run",
		"--disable-background-networking",
		"--disable-component-update", "--disable-sync", "--hide-scrollbars", "--force-color-profile=srgb",
		"--user-data-dir="+folder, "--remote-debugging-pipe", "about:blank")
	c.Env = append(os.Environ(), environment...)
	c.ExtraFiles = []*os.File{theirs, theirOut} // 3 and 4, as the browser expects
	if err := c.Start(); err != nil {
		t.Fatal(err)
	}
	theirs.Close()
	theirOut.Close()
	b := &browser{t: t, in: in, replies: make(chan message, 10_000)}
	go func() {
		defer close(b.replies)
		r := bufio.NewReader(out)
		for {
			text, err := r.ReadBytes(0)
			if err != nil {
				return
			}
			var m message
			if json.Unmarshal(text[:len(text)-1], &m) == nil {
				b.replies <- m
			}
		}
	}()
	t.Cleanup(func() {
		in.Close() // the browser ends when nobody speaks to it any more
		done := make(chan struct{})
		go func() { c.Wait(); close(done) }()
		select {
		case <-done:
		case <-time.After(10 * time.Second):
			c.Process.Kill()
			<-done
		}
		out.Close()
		os.RemoveAll(folder)
	})
	var target struct{ TargetID string }
	b.call("Target.createTarget", map[string]any{"url": "about:blank"}, &target)
	var attached struct{ SessionID string }
	b.call("Target.attachToTarget", map[string]any{"targetId": target.TargetID, "flatten": true}, &attached)
	b.session = attached.SessionID
	for _, domain := range []string{"Page", "Runtime", "Log", "Network", "Accessibility"} {
		b.call(domain+".enable", nil, nil)
	}
	return b
}

// call sends a command and waits for its answer; events that come meanwhile are
// kept.
func (b *browser) call(method string, params, result any) {
	b.t.Helper()
	b.last++
	m := map[string]any{"id": b.last, "method": method}
	if params != nil {
		m["params"] = params
	}
	if b.session != "" {
		m["sessionId"] = b.session
	}
	text, err := json.Marshal(m)
	if err != nil {
		b.t.Fatal(err)
	}
	if _, err := b.in.Write(append(text, 0)); err != nil {
		b.t.Fatalf("%s: %v", method, err)
	}
	reply := b.wait(method, func(m message) bool { return m.ID == b.last })
	if reply.Error != nil {
		b.t.Fatalf("%s: %s", method, reply.Error.Message)
	}
	if result != nil {
		if err := json.Unmarshal(reply.Result, result); err != nil {
			b.t.Fatalf("%s: %v", method, err)
		}
	}
}

// wait reads until a message is the one that is wanted.
func (b *browser) wait(what string, wanted func(message) bool) message {
	b.t.Helper()
	late := time.After(2 * time.Minute) // against a browser that hangs
	for {
		select {
		case m, ok := <-b.replies:
			if !ok {
				b.t.Fatalf("%s: the browser has gone", what)
			}
			if m.ID == 0 {
				b.heard = append(b.heard, m)
			}
			if wanted(m) {
				return m
			}
		case <-late:
			b.t.Fatalf("%s: no answer", what)
		}
	}
}

// open loads a page in a window of the given width and forgets what was heard
// before.
func (b *browser) open(url string, width int) {
	b.t.Helper()
	b.resize(width)
	b.heard = nil
	b.call("Page.navigate", map[string]any{"url": url}, nil)
	for _, m := range b.heard {
		if m.Method == "Page.loadEventFired" {
			return
		}
	}
	b.wait("loading "+url, func(m message) bool { return m.Method == "Page.loadEventFired" })
}

func (b *browser) resize(width int) {
	b.t.Helper()
	b.call("Emulation.setDeviceMetricsOverride",
		map[string]any{"width": width, "height": 900, "deviceScaleFactor": 1, "mobile": width < 600}, nil)
}

func (b *browser) dark(dark bool) {
	b.t.Helper()
	scheme := "light"
	if dark {
		scheme = "dark"
	}
	b.call("Emulation.setEmulatedMedia",
		map[string]any{"features": []map[string]string{{"name": "prefers-color-scheme", "value": scheme}}}, nil)
}

// paper lays the page out as print does, or as a screen does.
func (b *browser) paper(paper bool) {
	b.t.Helper()
	medium := "screen"
	if paper {
		medium = "print"
	}
	b.call("Emulation.setEmulatedMedia", map[string]any{"media": medium}, nil)
}

// ask evaluates an expression in the page and reads its value.
func (b *browser) ask(expression string, into any) {
	b.t.Helper()
	var out struct {
		Result struct {
			Value json.RawMessage `json:"value"`
		} `json:"result"`
		ExceptionDetails *struct {
			Text string `json:"text"`
		} `json:"exceptionDetails"`
	}
	b.call("Runtime.evaluate", map[string]any{"expression": expression, "returnByValue": true}, &out)
	if out.ExceptionDetails != nil {
		b.t.Fatalf("%s: %s", expression, out.ExceptionDetails.Text)
	}
	if err := json.Unmarshal(out.Result.Value, into); err != nil {
		b.t.Fatalf("%s: %v", expression, err)
	}
}

// save takes a picture of the whole page, or prints it to paper.
func (b *browser) save(name string, paper bool) {
	b.t.Helper()
	var out struct {
		Data string `json:"data"`
	}
	if paper {
		b.call("Page.printToPDF", map[string]any{"printBackground": true, "preferCSSPageSize": false}, &out)
	} else {
		b.call("Page.captureScreenshot", map[string]any{"format": "png", "captureBeyondViewport": true}, &out)
	}
	data, err := base64.StdEncoding.DecodeString(out.Data)
	if err == nil {
		err = os.WriteFile(name, data, 0o644)
	}
	if err != nil {
		b.t.Fatal(fmt.Errorf("%s: %w", name, err))
	}
}
