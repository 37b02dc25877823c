package web

import (
	"github.com/labstack/echo/v4"

	"kerfbook/internal/access"
	"kerfbook/internal/house"
)

func (s *Server) registerStandInPages(r *routes) {
	r.get(access.Settings, "/settings/stand-in", s.handleStandIn)
	r.post(access.Settings, "/settings/stand-in", s.handleStandInPost)
	r.get(access.Settings, "/settings/stand-in/sheet.pdf", s.handleStandInPDF)
}

// handleStandIn is what somebody must know who stands in, and the sheet to print.
func (s *Server) handleStandIn(c echo.Context) error {
	w, err := s.House.StandInGet(c.Request().Context())
	if err != nil {
		return err
	}
	f := formOf(c)
	f.FillVersion(w.Version)
	for name, text := range map[string]string{"first_to_do": w.FirstToDo, "who_decides": w.WhoDecides, "backups": w.Backups, "starting": w.Starting} {
		f.Fill(name, text)
	}
	form := sheetForm{Form: f, Action: "/settings/stand-in", Button: "Keep it", Parts: one(area(f.Field("first_to_do", "First of all", "hint=Such as: open what is closed, feed the dog, ring Odell.")),
		area(f.Field("who_decides", "Who decides, and who can be asked")), area(f.Field("backups", "Where the backups lie", "hint=And where their password is. Not the password itself.")), area(f.Field("starting", "How this book is started, and who can help with it")))}
	return s.showSheet(c, "For who stands in", sheetView{Lead: "If you cannot: the sheet says what is promised, whose money and whose bees are here, and how to go on. Print it now and then, and put it where it is found.",
		Links: []sheetLink{{"The sheet (PDF)", "/settings/stand-in/sheet.pdf"}, {"Who may sign in", "/settings/people"}}, Forms: []sheetForm{form}})
}

func (s *Server) handleStandInPost(c echo.Context) error {
	f := formOf(c)
	w := house.StandIn{Version: f.Version, FirstToDo: f.Text("first_to_do"), WhoDecides: f.Text("who_decides"), Backups: f.Text("backups"), Starting: f.Text("starting")}
	if _, err := s.House.StandInPut(c.Request().Context(), w); err != nil {
		return again(err, s.handleStandIn)
	}
	return goTo(c, "/settings/stand-in", "Kept.")
}

func (s *Server) handleStandInPDF(c echo.Context) error {
	pdf, err := s.Answer.StandInSheet(c.Request().Context())
	if err != nil {
		return err
	}
	return sendPDF(c, "stand-in", pdf)
}
