package player

import (
	"os"
	"strings"
	"testing"

	"golang.org/x/net/html"

	"bellrow/proto/phrase"
)

// TestPageIsItsCatalogue: the page is written in the English of the catalogue, and
// whatever is written in it can be translated.
func TestPageIsItsCatalogue(t *testing.T) {
	f, err := os.Open("assets/player.html")
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	doc, err := html.Parse(f)
	if err != nil {
		t.Fatal(err)
	}
	english := phrase.Tongue{}
	checked := 0
	for n := range doc.Descendants() {
		if n.Type == html.TextNode && strings.TrimSpace(n.Data) != "" {
			switch key := attr(n.Parent, "data-say"); {
			case n.Parent.Data == "script" || attr(n.Parent, "id") == "chair" || attr(n.Parent, "data-light") != "" || attr(n.Parent, "id") == "pause":
			case key == "":
				t.Errorf("%q is in no catalogue", n.Data)
			case english.Say(key) != n.Data:
				t.Errorf("%s is %q on the page, %q in the catalogue", key, n.Data, english.Say(key))
			default:
				checked++
			}
		}
		for of, say := range map[string]string{"aria-label": "data-say-label", "placeholder": "data-say-example"} {
			if text, key := attr(n, of), attr(n, say); text != "" && attr(n, "id") != "hub" && english.Say(key) != text {
				t.Errorf("%s is %q on the page, %q in the catalogue", key, text, english.Say(key))
			}
		}
	}
	if checked < 30 {
		t.Errorf("only %d texts were found", checked)
	}
}

func attr(n *html.Node, key string) string {
	for _, a := range n.Attr {
		if a.Key == key {
			return a.Val
		}
	}
	return ""
}
