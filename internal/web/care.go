package web

import (
	"net/http"
	"strings"

	"github.com/labstack/echo/v4"

	"kerfbook/internal/fault"
	"kerfbook/internal/paper"
)

func (s *Server) registerCarePages(r *routes) {
	r.open(http.MethodGet, "/care/:key", s.handleCare)
}

type careView struct {
	Serial, Kind, Model, Workshop, Phone string
	StolenOn                             string
	Stolen                               bool
	Parts                                []carePart
}

// carePart is a heading with what stands under it, kind by kind.
type carePart struct {
	Heading                string
	Texts, Items, Cautions []string
	Rows                   []careRow
}

type careRow struct {
	Head  string
	Lines []string
}

var carePage = definePage[careView]("care")

// handleCare is the public page behind the code on a handover sheet. It needs no
// sign-in and names nobody.
func (s *Server) handleCare(c echo.Context) error {
	v, err := s.Answer.CareByKey(c.Request().Context(), c.Param("key"))
	if fault.Is(err, fault.NotFound) {
		return fault.New(fault.NotFound, "There is no care page at this address. Look at the sheet again, or ring the workshop.")
	}
	if err != nil {
		return err
	}
	c.Response().Header().Set("X-Robots-Tag", "noindex")
	return carePage.show(s, c, "Keeping the hive", careView{Serial: v.Serial, Kind: v.Kind, Model: v.Model, Workshop: v.Workshop, Phone: v.Phone, Stolen: v.Stolen, StolenOn: v.StolenOn, Parts: careParts(v.Text)})
}

func careParts(list []paper.Passage) []carePart {
	var out []carePart
	for _, p := range list {
		if p.Kind == "heading" || len(out) == 0 {
			out = append(out, carePart{})
		}
		last := &out[len(out)-1]
		switch p.Kind {
		case "heading":
			last.Heading = p.Text
		case "item":
			last.Items = append(last.Items, p.Text)
		case "caution":
			last.Cautions = append(last.Cautions, p.Text)
		case "row":
			row := careRow{Head: p.Cells[0]}
			for _, cell := range p.Cells[1:] {
				row.Lines = append(row.Lines, strings.Split(cell, "\n")...)
			}
			last.Rows = append(last.Rows, row)
		default:
			last.Texts = append(last.Texts, p.Text)
		}
	}
	return out
}
