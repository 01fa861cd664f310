package intake

import (
	"fmt"
	"io"
	"io/fs"
	"os"

	"tunegate/compare"
)

// The largest files, in bytes, that are read whole. The time that TOML's decoder
// takes for settings grows with the square of their size.
const (
	MaxPolicy   = 1 << 20
	MaxClaims   = 1 << 20
	MaxPage     = 16 << 20
	maxSettings = 64 << 10
)

// ReadSmall reads a whole file of at most so many bytes. It is an error where
// there is more, and where the name leads to something else than a file, such as
// a device, which may never end.
func ReadSmall(name string, most int) ([]byte, error) {
	file, err := openRegular(name)
	if err != nil {
		return nil, err
	}
	defer file.Close()
	data, err := io.ReadAll(io.LimitReader(file, int64(most)+1))
	switch {
	case err != nil:
		return nil, placed(compare.Place{File: name}, "cannot be read: %v", err)
	case len(data) > most:
		return nil, errTooLong(name, most)
	}
	return data, nil
}

func errTooLong(name string, most int) error {
	return placed(compare.Place{File: name}, "found more than %d bytes, expected a short file", most)
}

// openRegular opens a file. What is none is refused before it is opened, since
// opening a named pipe waits for somebody to write.
func openRegular(name string) (*os.File, error) {
	info, err := os.Stat(name)
	if err != nil {
		return nil, fmt.Errorf("%s: cannot be opened: %w", name, err)
	}
	if !info.Mode().IsRegular() {
		return nil, fmt.Errorf("%s: found %s, expected a file", name, kindOf(info.Mode()))
	}
	file, err := os.Open(name)
	if err != nil {
		return nil, fmt.Errorf("%s: cannot be opened: %w", name, err)
	}
	return file, nil
}

// kindOf names what is no regular file.
func kindOf(mode fs.FileMode) string {
	switch {
	case mode.IsDir():
		return "a folder"
	case mode&fs.ModeNamedPipe != 0:
		return "a named pipe (- is standard input)"
	case mode&fs.ModeDevice != 0:
		return "a device"
	case mode&fs.ModeSocket != 0:
		return "a socket"
	}
	return "something that is no file"
}
