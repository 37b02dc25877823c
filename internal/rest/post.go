package rest

import (
	"net/http"

	"github.com/labstack/echo/v4"

	"kerfbook/api"
	"kerfbook/internal/answer"
	"kerfbook/internal/mail"
)

func (s *Server) registerMailRoutes(g *echo.Group) {
	g.GET("/mails", s.handleMailList)
	g.POST("/mails", s.handleMailNew)
	g.POST("/mails/:id/again", s.handleMailAgain)
}

func mailOf(m mail.Mail) api.Mail {
	return api.Mail{ID: m.ID, Paper: m.Paper, Number: m.Number, To: m.To, Subject: m.Subject, State: api.MailState(m.State()), QueuedAt: m.QueuedAt, SentAt: m.SentAt, Tries: m.Tries, Said: m.Said}
}

func (s *Server) handleMailList(c echo.Context) error {
	list, err := s.Answer.Mail.Of(c.Request().Context(), c.QueryParam("paper"), c.QueryParam("number"))
	if err != nil {
		return err
	}
	out := api.MailList{Items: make([]api.Mail, len(list))}
	for i, m := range list {
		out.Items[i] = mailOf(m)
	}
	return reply(c, http.StatusOK, out)
}

func (s *Server) handleMailNew(c echo.Context) error {
	var in api.MailNew
	if err := bind(c, &in); err != nil {
		return err
	}
	m, err := s.Answer.MailPaper(c.Request().Context(), string(in.Paper), in.Number, answer.Letter{To: val(in.To), Subject: val(in.Subject), Body: val(in.Body)})
	if err != nil {
		return err
	}
	return reply(c, http.StatusCreated, mailOf(m))
}

func (s *Server) handleMailAgain(c echo.Context) error {
	m, err := s.Answer.Mail.Again(c.Request().Context(), pathID(c, "id"))
	if err != nil {
		return err
	}
	return reply(c, http.StatusOK, mailOf(m))
}
