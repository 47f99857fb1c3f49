package name

import (
	"regexp"
	"strconv"
)

// A spreadsheet takes for a formula what begins with one of these signs, the
// full-width ones too, and not all split a line at the same separator: a name
// may begin a cell in the middle.
var (
	beginsCell = regexp.MustCompile(`(^|[;,|\t\r\n])([ "]*)(['=+\-@＝＋－＠])`)
	marked     = regexp.MustCompile(`(^|[;,|\t\r\n])([ "]*)'`)
)

// Cell returns s as a table for spreadsheets may hold it: an apostrophe stands
// before whatever one of them could take for a formula, whichever separator it
// goes by. Numbers stay numbers. FromCell undoes it.
func Cell(s string) string {
	if _, err := strconv.ParseFloat(s, 64); err == nil {
		return s
	}
	return beginsCell.ReplaceAllString(s, "$1$2'$3")
}

// FromCell returns what Cell was given.
func FromCell(s string) string { return marked.ReplaceAllString(s, "$1$2") }
