package main

import (
	"bytes"
	"os"
	"testing"
)

func TestLocaleReadsUnicode(t *testing.T) {
	for _, c := range []struct {
		all, ctype, lang string
		unicode, stated  bool
	}{
		{},
		{lang: "C.UTF-8", unicode: true, stated: true},
		{lang: "de_DE.utf8@euro", unicode: true, stated: true},
		{ctype: "UTF-8", unicode: true, stated: true},
		{lang: "C", stated: true},
		{lang: "de_DE.ISO-8859-1", stated: true},
		{lang: "de_DE@euro", stated: true},
		{all: "POSIX", lang: "C.UTF-8", stated: true},
		{ctype: "en_US.UTF-8", lang: "C", unicode: true, stated: true},
		{all: "en_US.UTF-8", ctype: "C", unicode: true, stated: true},
	} {
		env := map[string]string{"LC_ALL": c.all, "LC_CTYPE": c.ctype, "LANG": c.lang}
		unicode, stated := localeReadsUnicode(func(name string) string { return env[name] })
		if unicode != c.unicode || stated != c.stated {
			t.Errorf("%+v: %v, %v", c, unicode, stated)
		}
	}
}

// A file is read by programs that know UTF-8; a pipe in the locale.
func TestReadsUnicode(t *testing.T) {
	outsideActions(t)
	t.Setenv("LC_ALL", "C")
	file, err := os.Create(t.TempDir() + "/out.txt")
	if err != nil {
		t.Fatal(err)
	}
	defer file.Close()
	reader, writer, err := os.Pipe()
	if err != nil {
		t.Fatal(err)
	}
	defer reader.Close()
	defer writer.Close()
	if !readsUnicode(file) || readsUnicode(writer) || !readsUnicode(&bytes.Buffer{}) {
		t.Errorf("in the locale C: file %v, pipe %v, memory %v", readsUnicode(file), readsUnicode(writer), readsUnicode(&bytes.Buffer{}))
	}
	if got := readable(writer, "5 °C → ▲ größe"); got != "5 degC ->   gr??e" {
		t.Errorf("%q", got)
	}
	t.Setenv("LC_ALL", "C.UTF-8")
	if !readsUnicode(writer) {
		t.Error("a pipe is not UTF-8 in a locale that is")
	}
	t.Setenv("LC_ALL", "C")
	t.Setenv("GITHUB_ACTIONS", "true")
	if !readsUnicode(writer) {
		t.Error("the log of GitHub Actions is not UTF-8")
	}
}
