package page

import (
	"bytes"
	"fmt"
	"html"
	"html/template"
	"net/http"
	"strings"
)

// Voice speaks the language of a page; phrase.Tongue is one.
type Voice interface {
	Language() string // a tag of BCP 47; empty for English
	Say(key string, figures ...any) string
	Texts(areas ...string) map[string]any
}

// ServePage writes the named file as a template in a language, or reports false
// when there is none. In it
//
//	{{lang}}               is the tag of the language
//	{{say "KEY"}}          is a text, with its figures after the key
//	{{mark "KEY" "/to"}}   is a text that holds <b>, <kbd> or <a>: each <a> leads to the next address
//	{{words "AREA" ...}}   are the texts for the page's scripts, to stand in
//	                       <script type="application/json" id="words">: there words.js says them
//
// and the dot is data.
func (f *Files) ServePage(w http.ResponseWriter, r *http.Request, name string, v Voice, data any) (bool, error) {
	text, ok := f.read(name)
	if !ok {
		return false, nil
	}
	var out bytes.Buffer
	t, err := f.template(name, string(text), v)
	if err == nil {
		err = t.Execute(&out, data)
	}
	if err != nil {
		return true, fmt.Errorf("page: %s: %w", name, err)
	}
	serve(w, r, name, out.Bytes())
	return true, nil
}

// parsed is a page that was read as a template.
type parsed struct {
	text string
	*template.Template
}

// template is a page in a language. It is read once, as long as its text stays; each
// reader gets a copy.
func (f *Files) template(name, text string, v Voice) (*template.Template, error) {
	kept, ok := f.pages.Load(name)
	if !ok || kept.(parsed).text != text {
		t, err := template.New(name).Funcs(Words(v)).Parse(text)
		if err != nil {
			return nil, err
		}
		kept = parsed{text, t}
		f.pages.Store(name, kept)
	}
	t, err := kept.(parsed).Clone()
	if err != nil {
		return nil, err
	}
	return t.Funcs(Words(v)), nil
}

// Words are the functions of ServePage for other templates.
func Words(v Voice) template.FuncMap {
	return template.FuncMap{
		"lang": func() string {
			if tag := v.Language(); tag != "" {
				return tag
			}
			return "en"
		},
		"say":   v.Say,
		"mark":  func(key string, links ...string) (template.HTML, error) { return mark(v.Say(key), links) },
		"words": v.Texts,
	}
}

// mark escapes a text but for <b>, <kbd> and <a>.
func mark(text string, links []string) (template.HTML, error) {
	s := html.EscapeString(text)
	for _, tag := range []string{"<b>", "</b>", "<kbd>", "</kbd>", "</a>"} {
		s = strings.ReplaceAll(s, html.EscapeString(tag), tag)
	}
	for _, to := range links {
		s = strings.Replace(s, "&lt;a&gt;", `<a href="`+html.EscapeString(to)+`">`, 1)
	}
	if n := strings.Count(s, "&lt;a&gt;"); n > 0 || strings.Count(s, "</a>") != len(links) {
		return "", fmt.Errorf("page: %q leads to %d addresses, need as many as it has links", text, len(links))
	}
	return template.HTML(s), nil
}
