package web

import (
	"bytes"
	"fmt"
	"html/template"
	"io/fs"
	"net/http"
	"net/url"
	"path"
	"strings"

	"github.com/labstack/echo/v4"

	"kerfbook/internal/access"
	"kerfbook/internal/house"
	"kerfbook/internal/show"
	"kerfbook/templates"
)

// page is a template with the type of what it shows, so that neither can change alone.
type page[T any] struct{ name string }

// pageTypes has a value of each page's struct by name, for the test that type-checks
// every template.
var pageTypes = map[string]any{}

// definePage names the folder of templates/pages and the struct it is given as .Page.
func definePage[T any](name string) page[T] {
	if _, twice := pageTypes[name]; twice {
		panic("web: page " + name + " is defined twice")
	}
	pageTypes[name] = whole[T]{}
	return page[T]{name}
}

// whole is what a template's dot is: the frame's fields, and the page's under .Page.
type whole[T any] struct {
	Frame
	Page T
}

// Frame is what the layout shows around every page.
type Frame struct {
	Title     string
	Workshop  string
	Day       string // today, such as Tue 3 Mar 2026
	Nav       []navItem
	Person    access.Person
	Prices    bool   // whether the person may see prices and costs
	CostShown bool   // whether cost and margin stand open; a tap hides them everywhere
	MayAsk    bool   // whether a buyer's wish may be taken down
	Said      string // what the last form did
	Static    string // where style and script lie
	Path      string // of this page, to come back to
	Find      string // what stands in the find line
	Changes   string // on a record's page: where its changes stand
	Photos    string // on a record's page: where its photos stand
}

type navItem struct {
	Name, Href string
	Here       bool
}

// contents are the pages of the ledger, in its order.
var contents = []struct {
	name, href string
	area       access.Area
}{
	{"Day sheet", "/", access.Day},
	{"Enquiries", "/enquiries", access.Enquiries},
	{"Orders", "/orders", access.Orders},
	{"Bench", "/bench", access.Bench},
	{"Timber", "/timber", access.Timber},
	{"Bees", "/bees", access.Bees},
	{"Runs", "/runs", access.Runs},
	{"Books", "/books", access.Books},
	{"Settings", "/settings", access.Settings},
}

const (
	costCookie = "kerfbook_cost"
	costHidden = "hidden"
)

// frame fills what the layout shows.
func (s *Server) frame(c echo.Context, title string) (Frame, error) {
	set, err := s.settings(c)
	if err != nil {
		return Frame{}, err
	}
	p := person(c)
	f := Frame{Title: title, Workshop: set.Name, Day: show.Date(set.Today(s.DB.Now())), Person: p, Prices: p.May(access.Prices),
		MayAsk: p.May(access.Enquiries), CostShown: true, Static: staticPath, Path: c.Request().URL.RequestURI(), Said: takeSaid(c)}
	if f.Workshop == "" {
		f.Workshop = "kerfbook"
	}
	if ck, err := c.Cookie(costCookie); err == nil && ck.Value == costHidden {
		f.CostShown = false
	}
	if c.Path() == "/find" {
		f.Find = c.QueryParam("q")
	}
	f.Changes, f.Photos = besideRecord(c)
	for _, i := range contents {
		if p.Known() && p.May(i.area) {
			f.Nav = append(f.Nav, navItem{i.name, i.href, within(c.Request().URL.Path, i.href)})
		}
	}
	return f, nil
}

// besideRecord gives the pages of changes and photos of the record whose page this is.
func besideRecord(c echo.Context) (changes, photos string) {
	for table, kind := range recordKinds {
		if c.Path() != places[kind].path+":id" {
			continue
		}
		at := table + "/" + url.PathEscape(c.Param("id"))
		if house.KeepsPhotos(table) {
			photos = "/photos/of/" + at
		}
		return "/history/" + at, photos
	}
	return "", ""
}

// within reports whether a path is the page at href or one below it.
func within(at, href string) bool {
	return at == href || (href != "/" && strings.HasPrefix(at, href+"/"))
}

// show renders the page into a buffer and sends it. After an error of a form the status
// is that of the error.
func (p page[T]) show(s *Server, c echo.Context, title string, view T) error {
	f, err := s.frame(c, title)
	if err != nil {
		return err
	}
	var b bytes.Buffer
	if err := s.templates[p.name].ExecuteTemplate(&b, "layout", whole[T]{f, view}); err != nil {
		return fmt.Errorf("page %s: %w", p.name, err)
	}
	status := http.StatusOK
	if st, ok := c.Get(statusIn).(int); ok {
		status = st
	}
	c.Response().Header().Set(echo.HeaderCacheControl, "no-store")
	return c.HTMLBlob(status, b.Bytes())
}

// parsePages reads every folder of templates/pages with the shared partials.
func parsePages() (map[string]*template.Template, error) {
	files, err := fs.Sub(templates.FS, "pages")
	if err != nil {
		return nil, err
	}
	shared, err := template.New("").Option("missingkey=error").Funcs(templateFuncs).ParseFS(files, "_*.html")
	if err != nil {
		return nil, fmt.Errorf("shared page templates: %w", err)
	}
	folders, err := fs.ReadDir(files, ".")
	if err != nil {
		return nil, err
	}
	pages := map[string]*template.Template{}
	for _, d := range folders {
		if !d.IsDir() {
			continue
		}
		t, err := shared.Clone()
		if err == nil {
			t, err = t.ParseFS(files, path.Join(d.Name(), "*.html"))
		}
		if err != nil {
			return nil, fmt.Errorf("page template %s: %w", d.Name(), err)
		}
		pages[d.Name()] = t
	}
	for name := range pageTypes {
		if pages[name] == nil {
			return nil, fmt.Errorf("page %s has no folder in templates/pages", name)
		}
	}
	return pages, nil
}

// templateFuncs are the few functions templates may call; amounts and dates arrive
// formatted.
var templateFuncs = template.FuncMap{
	"add":   func(a, b int) int { return a + b },
	"lines": func(s string) []string { return strings.Split(s, "\n") },
	"query": url.QueryEscape,
}
