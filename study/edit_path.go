package study

import (
	"fmt"
	"strconv"
	"strings"
	"unicode"
	"unicode/utf8"
)

// A Path leads from the root of a file to a node: keys, and for list items
// "#0", "#1" and so on.
//
//	Path{"lines", "N1-N2", "length"}
//	Path{"conditions", "tie-fed", "open", "#0"}
type Path []string

const pathSeparator = " / "

// String writes the path as it is shown to people: lines / N1-N2 / length.
// A key that would be misread in that form is written in double quotes.
func (p Path) String() string {
	parts := make([]string, len(p))
	for i, key := range p {
		parts[i] = key
		if pathKeyNeedsQuotes(key) {
			parts[i] = strconv.Quote(key)
		}
	}
	return strings.Join(parts, pathSeparator)
}

func pathKeyNeedsQuotes(key string) bool {
	if key == "" || key != strings.TrimSpace(key) || !utf8.ValidString(key) {
		return true
	}
	// "/ x" and "x /" would make a separator together with their neighbours.
	if strings.Contains(" "+key+" ", pathSeparator) || strings.HasPrefix(key, `"`) {
		return true
	}
	return strings.ContainsFunc(key, func(r rune) bool { return !unicode.IsPrint(r) })
}

// ParsePath reads what String writes. The empty text is the path of the root.
func ParsePath(text string) (Path, error) {
	p := Path{}
	if strings.TrimSpace(text) == "" {
		return p, nil
	}
	rest := text
	for {
		var key string
		if strings.HasPrefix(rest, `"`) {
			quoted, err := strconv.QuotedPrefix(rest)
			if err != nil {
				return nil, fmt.Errorf("path %q: the quotes of key %d are not closed", text, len(p)+1)
			}
			if key, err = strconv.Unquote(quoted); err != nil {
				return nil, fmt.Errorf("path %q: key %d: %w", text, len(p)+1, err)
			}
			rest = rest[len(quoted):]
			if rest != "" && !strings.HasPrefix(rest, pathSeparator) {
				return nil, fmt.Errorf("path %q: want %q after key %d", text, pathSeparator, len(p)+1)
			}
		} else {
			end := strings.Index(rest, pathSeparator)
			if end < 0 {
				end = len(rest)
			}
			key, rest = strings.TrimSpace(rest[:end]), rest[end:]
			if key == "" {
				return nil, fmt.Errorf("path %q: key %d is empty; write it as \"\" if that is meant", text, len(p)+1)
			}
		}
		p = append(p, key)
		if rest == "" {
			return p, nil
		}
		rest = rest[len(pathSeparator):]
	}
}

// with returns the path of a child.
func (p Path) with(key string) Path {
	return append(p[:len(p):len(p)], key)
}

// listIndex reads "#3".
func listIndex(key string) (int, bool) {
	digits, ok := strings.CutPrefix(key, "#")
	if !ok || digits == "" || len(digits) > 9 {
		return 0, false
	}
	for _, r := range digits {
		if r < '0' || r > '9' {
			return 0, false
		}
	}
	n, err := strconv.Atoi(digits)
	return n, err == nil
}
