package web

import (
	"github.com/labstack/echo/v4"

	"kerfbook/internal/apiary"
	"kerfbook/internal/show"
)

// colonyPaper is the tree a colony was drawn from and the permit under which it was taken.
type colonyPaper struct {
	Tree, TreeHref, Permit, PermitHref string
	Mind                               string // the permit did not hold when it was taken
	Form                               *Form
	Permits                            []Choice
}

func (s *Server) colonyPaper(c echo.Context, x apiary.Colony) (colonyPaper, error) {
	ctx := c.Request().Context()
	v := colonyPaper{Form: formOf(c, "permit")}
	t, drawn, err := s.Apiary.TreeOfColony(ctx, x.ID)
	if err != nil {
		return v, err
	}
	if drawn {
		v.Tree, v.TreeHref = t.Name, hrefOf("tree", t.ID)
	}
	p, named, err := s.Apiary.PermitOfColony(ctx, x.ID)
	if err != nil {
		return v, err
	}
	var was *int64
	if named {
		was, v.Permit, v.PermitHref = &p.ID, p.Title(), hrefOf("permit", p.ID)
		v.Form.Fill("permit_id", idText(p.ID))
		if x.BeganOn != nil && p.Trouble(*x.BeganOn) != "" {
			v.Mind = p.Trouble(*x.BeganOn) + " The colony is of " + show.Date(*x.BeganOn) + "."
		}
	}
	v.Permits, err = s.permitChoices(c, was)
	return v, err
}

// nameColonyPermit notes under which permit a colony was taken.
func (s *Server) nameColonyPermit(c echo.Context, id int64) (string, error) {
	f := formOf(c, "permit")
	permit := idOr(f, "permit_id")
	if err := f.Err(); err != nil {
		return "", err
	}
	return "The permit is noted.", s.Apiary.ColonyPermit(c.Request().Context(), id, permit)
}
