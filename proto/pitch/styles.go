package pitch

import "strings"

// Styles are the styles that are offered, the usual one first.
var Styles = []Style{{}, {German, ""}, {German, Helmholtz}, {Dutch, ""}, {French, ""}, {French, Franco}, {Spanish, ""}, {Italian, ""}}

// Choice is a style as a page offers it.
type Choice struct {
	Value   string     `json:"value"`   // as Style.String writes it
	Label   string     `json:"label"`   // "German: C4, B3, H3"
	Classes [12]string `json:"classes"` // the usual names by pitch class, C first, told apart from English ones
}

// Choices lists Styles for a page. A style is told by how it names middle C, the
// B flat below and the B below.
func Choices() []Choice {
	var all []Choice
	for _, y := range Styles {
		language, _, _ := strings.Cut(y.String(), "-")
		c := Choice{Value: y.String(), Label: strings.ToUpper(language[:1]) + language[1:] + ": " + y.Of(60) + ", " + y.Of(58) + ", " + y.Of(59)}
		for class := range c.Classes {
			c.Classes[class] = y.Naming.Both(Usual(Note(60 + class)).Name)
		}
		all = append(all, c)
	}
	return all
}
