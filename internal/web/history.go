package web

import (
	"encoding/json"
	"fmt"
	"slices"
	"strconv"
	"strings"

	"github.com/labstack/echo/v4"

	"kerfbook/internal/access"
	"kerfbook/internal/fault"
	"kerfbook/internal/show"
)

// recordKinds are the kinds of record (see places) by table, to lead back to a page.
var recordKinds = map[string]string{
	"party": "party", "enquiry": "enquiry", "quote": "quote", "sale_order": "order", "timber_species": "timber_species", "log": "log", "pack": "pack", "board_lot": "lot", "item": "item", "supplier": "supplier", "purchase": "purchase", "build": "build", "cutting": "cutting", "box": "box",
	"colony": "colony", "keeping": "keeping", "host_tree": "tree", "permit": "permit", "run": "run", "handover": "handover", "guarantee_claim": "claim",
}

// recordOf gives the table and id of an address, when the person may see the record.
func recordOf(c echo.Context) (table string, id int64, href string, err error) {
	table = c.Param("table")
	area, ok := access.AreaOf(table)
	if !ok {
		return "", 0, "", fault.New(fault.NotFound, "There is no page at this address.")
	}
	if !person(c).May(area) {
		return "", 0, "", fault.New(fault.Forbidden, "This page is not for your sign-in. Ask the owner of the workshop.")
	}
	if id, err = pathID(c); err != nil {
		return "", 0, "", err
	}
	if kind, ok := recordKinds[table]; ok {
		href = hrefOf(kind, id)
	}
	return table, id, href, nil
}

type historyView struct {
	Href    string
	Changes []changeRow
}

type changeRow struct{ When, Who, What, Was, Became string }

var historyPage = definePage[historyView]("history")

func (s *Server) registerHistoryPages(r *routes) {
	r.get(access.Day, "/history/:table/:id", s.handleHistory)
}

// historyMost is how many changes the page shows.
const historyMost = 200

func (s *Server) handleHistory(c echo.Context) error {
	table, id, href, err := recordOf(c)
	if err != nil {
		return err
	}
	list, err := s.House.HistoryOf(c.Request().Context(), table, id, historyMost)
	if err != nil {
		return err
	}
	set, err := s.settings(c)
	if err != nil {
		return err
	}
	v := historyView{Href: href}
	prices := person(c).May(access.Prices)
	for _, ch := range list {
		who := "the program"
		if ch.ActorName != nil {
			who = *ch.ActorName
		}
		v.Changes = append(v.Changes, changeRow{show.Time(ch.At, set.Location()), who, ch.Deed, fieldsOf(ch.Was, prices), fieldsOf(ch.Became, prices)})
	}
	return historyPage.show(s, c, "What changed", v)
}

// fieldsOf writes the changed fields of a row, one behind the other; amounts only for
// those who may see prices.
func fieldsOf(raw []byte, prices bool) string {
	var row map[string]any
	if len(raw) == 0 || json.Unmarshal(raw, &row) != nil {
		return ""
	}
	names := make([]string, 0, len(row))
	for name, value := range row {
		empty := value == nil || value == "" || value == false
		hidden := !prices && strings.HasSuffix(name, "_minor")
		if !empty && !hidden && !slices.Contains([]string{"id", "version", "updated_at", "recorded_at"}, name) {
			names = append(names, name)
		}
	}
	slices.Sort(names)
	parts := make([]string, len(names))
	for i, name := range names {
		parts[i] = strings.ReplaceAll(strings.TrimSuffix(name, "_id"), "_", " ") + ": " + short(row[name])
	}
	return strings.Join(parts, "; ")
}

// shortMost bounds how much of a long text the history shows, in characters.
const shortMost = 120

func short(value any) string {
	text := fmt.Sprint(value)
	switch v := value.(type) {
	case float64:
		text = strconv.FormatFloat(v, 'f', -1, 64)
	case map[string]any, []any:
		if b, err := json.Marshal(v); err == nil {
			text = string(b)
		}
	}
	if r := []rune(text); len(r) > shortMost {
		return string(r[:shortMost]) + "…"
	}
	return text
}
