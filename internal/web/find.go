package web

import (
	"net/http"
	"strconv"
	"strings"

	"github.com/labstack/echo/v4"

	"kerfbook/internal/access"
	"kerfbook/internal/answer"
)

// places are the pages of records by kind of hit; %d of the record's id stands at the end.
var places = map[string]struct{ word, path string }{
	"party":          {"Person", "/parties/"},
	"enquiry":        {"Enquiry", "/enquiries/"},
	"quote":          {"Quote", "/quotes/"},
	"order":          {"Order", "/orders/"},
	"build":          {"Build", "/bench/builds/"},
	"cutting":        {"Cutting", "/bench/cuttings/"},
	"box":            {"Box", "/bench/boxes/"},
	"colony":         {"Colony", "/bees/colonies/"},
	"keeping":        {"In our keeping", "/bees/keeping/"},
	"invoice":        {"Invoice", "/books/invoices/"},
	"payment":        {"Payment", "/books/payments/"},
	"log":            {"Log", "/timber/logs/"},
	"pack":           {"Pack", "/timber/packs/"},
	"timber_species": {"Timber", "/timber/species/"},
	"lot":            {"Boards", "/timber/lots/"},
	"item":           {"Fitting", "/timber/items/"},
	"supplier":       {"Supplier", "/timber/suppliers/"},
	"purchase":       {"Purchase", "/timber/purchases/"},
	"run":            {"Run", "/runs/"},
	"handover":       {"Handover", "/runs/handovers/"},
	"claim":          {"Claim", "/runs/claims/"},
	"tree":           {"Host tree", "/bees/trees/"},
	"permit":         {"Permit", "/bees/permits/"},
}

// hrefOf gives the page of a record.
func hrefOf(kind string, id int64) string {
	return places[kind].path + strconv.FormatInt(id, 10)
}

type findView struct {
	Asked string
	Hits  []findHit
}

type findHit struct{ Word, Title, About, Href string }

var findPage = definePage[findView]("find")

func (s *Server) registerFindPages(r *routes) {
	r.get(access.Find, "/find", s.handleFind)
}

// handleFind goes straight to the record when there is one only.
func (s *Server) handleFind(c echo.Context) error {
	v := findView{Asked: strings.TrimSpace(c.QueryParam("q"))}
	hits, err := s.Finder.Find(c.Request().Context(), person(c), v.Asked)
	if err != nil {
		return err
	}
	if h, ok := single(hits); ok {
		return c.Redirect(http.StatusSeeOther, hrefOf(h.Kind, h.ID))
	}
	for _, h := range hits {
		v.Hits = append(v.Hits, findHit{places[h.Kind].word, h.Title, h.About, hrefOf(h.Kind, h.ID)})
	}
	return findPage.show(s, c, "Find", v)
}

// single gives the only hit, or the only exact one.
func single(hits []answer.Hit) (answer.Hit, bool) {
	if len(hits) == 1 {
		return hits[0], true
	}
	var exact []answer.Hit
	for _, h := range hits {
		if h.Exact {
			exact = append(exact, h)
		}
	}
	if len(exact) == 1 {
		return exact[0], true
	}
	return answer.Hit{}, false
}
