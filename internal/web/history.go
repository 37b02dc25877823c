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

// histories are the tables whose records have a page of their changes: who may see it,
// and the kind of record (see places) it leads back to.
var histories = map[string]struct {
	area access.Area
	kind string
}{
	"workshop": {access.Settings, ""}, "account": {access.Settings, ""}, "buyer_class": {access.Settings, ""}, "tax_registration": {access.Settings, ""},
	"party": {access.Enquiries, "party"}, "contact": {access.Enquiries, ""}, "site": {access.Enquiries, ""}, "enquiry": {access.Enquiries, "enquiry"}, "quote": {access.Enquiries, "quote"},
	"sale_order": {access.Orders, "order"}, "order_line": {access.Orders, ""}, "order_unit": {access.Orders, ""},
	"log": {access.Timber, "log"}, "pack": {access.Timber, "pack"}, "board_lot": {access.Timber, ""}, "item": {access.Timber, ""},
	"box_model": {access.Bench, ""}, "build": {access.Bench, "build"}, "box": {access.Bench, "box"},
	"colony": {access.Bees, "colony"}, "host_tree": {access.Bees, ""}, "run": {access.Runs, "run"}, "handover": {access.Runs, "handover"},
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
	h, ok := histories[c.Param("table")]
	if !ok {
		return fault.New(fault.NotFound, "There is no page at this address.")
	}
	if !person(c).May(h.area) {
		return fault.New(fault.Forbidden, "This page is not for your sign-in. Ask the owner of the workshop.")
	}
	id, err := pathID(c)
	if err != nil {
		return err
	}
	list, err := s.House.HistoryOf(c.Request().Context(), c.Param("table"), id, historyMost)
	if err != nil {
		return err
	}
	set, err := s.settings(c)
	if err != nil {
		return err
	}
	v := historyView{}
	if h.kind != "" {
		v.Href = hrefOf(h.kind, id)
	}
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
