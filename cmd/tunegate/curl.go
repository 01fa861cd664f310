package main

import (
	"bytes"
	"errors"
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"strconv"
	"strings"
)

// A call of a forge's API is made by the program curl, as git reads repositories: this
// program has no network code. The token goes to curl's standard input, where no list of
// processes shows it.
type call struct {
	method  string
	url     string
	headers []string
	body    []byte // nil for none
}

// refusal is an answer other than the expected one.
type refusal struct {
	call   call
	status int
}

func (r *refusal) Error() string {
	return fmt.Sprintf("%s %s: the answer is %d", r.call.method, r.call.url, r.status)
}

const (
	maxAnswer   = 32 << 20 // bytes
	callSeconds = 60
)

// configurable matches what may stand in a line of curl's configuration.
var configurable = regexp.MustCompile(`^[ !#-\[\]-~]*$`)

// do makes the call and returns the answer. Redirections are followed without the token
// once they lead to another host, which is what curl does since 7.58.
func (c call) do() (answer []byte, err error) {
	config := []string{"silent", "show-error", "location", "globoff", fmt.Sprintf("max-time = %d", callSeconds), `proto = "=https,http"`,
		`write-out = "\n%{http_code}"`, configLine("request", c.method), configLine("url", c.url)}
	for _, h := range c.headers {
		config = append(config, configLine("header", h))
	}
	for _, line := range append(c.headers, c.method, c.url) {
		if !configurable.MatchString(line) {
			return nil, errors.New("the token or an address of the forge holds a quote or an unprintable character")
		}
	}
	if c.body != nil {
		folder, err := beginFolder()
		if err != nil {
			return nil, err
		}
		defer os.RemoveAll(folder)
		path := filepath.Join(folder, "body")
		if err := os.WriteFile(path, c.body, 0o600); err != nil {
			return nil, err
		}
		config = append(config, configLine("data-binary", "@"+filepath.ToSlash(path)), configLine("header", "Content-Type: application/json"))
	}
	command := exec.Command("curl", "--disable", "--config", "-")
	command.Stdin = strings.NewReader(strings.Join(config, "\n") + "\n")
	out, errs := &bounded{room: maxAnswer}, &bounded{room: 1 << 16}
	command.Stdout, command.Stderr = out, errs
	if err := command.Run(); err != nil {
		if errors.Is(err, exec.ErrNotFound) {
			return nil, errors.New("curl is not on this machine; install it")
		}
		return nil, fmt.Errorf("curl: %w: %s", err, strings.TrimSpace(errs.String()))
	}
	text := out.Bytes()
	at := bytes.LastIndexByte(text, '\n')
	status, err := strconv.Atoi(string(text[at+1:]))
	if err != nil {
		return nil, fmt.Errorf("curl ends without a status: %w", err)
	}
	if status < 200 || status > 299 {
		return nil, &refusal{c, status}
	}
	return text[:at], nil
}

// configLine is a line of curl's configuration.
func configLine(name, value string) string {
	return name + ` = "` + strings.ReplaceAll(value, `\`, `\\`) + `"`
}

// bounded keeps what is written to it up to so many bytes.
type bounded struct {
	bytes.Buffer
	room int
}

func (b *bounded) Write(p []byte) (int, error) {
	if b.Len()+len(p) > b.room {
		return 0, fmt.Errorf("the answer is longer than %d bytes", b.room)
	}
	return b.Buffer.Write(p)
}
