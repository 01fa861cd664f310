package compare

import "fmt"

// OrWord is the text, or the word where the text is empty.
func OrWord(text, word string) string {
	if text == "" {
		return word
	}
	return text
}

// List joins names with commas, at most n of them.
func List(names []string, n int) string {
	text := ""
	for i, name := range names {
		if i == n {
			return fmt.Sprintf("%s and %d more", text, len(names)-n)
		}
		if i > 0 {
			text += ", "
		}
		text += name
	}
	return text
}
