package web

import (
	"html/template"
	"net/url"
	"strings"

	"github.com/labstack/echo/v4"

	"kerfbook/internal/access"
	"kerfbook/internal/answer"
	"kerfbook/internal/mail"
	"kerfbook/internal/postgres"
	"kerfbook/internal/show"
)

func (s *Server) registerMailPages(r *routes) {
	r.get(access.Books, "/mail", s.handleMail)
	r.post(access.Books, "/mail", s.handleMailPost)
	r.post(access.Books, "/mail/:id/again", s.handleMailAgain)
}

type mailView struct {
	Form              *Form
	Configured        bool
	Action, Back, PDF string
	What              string
	MailTo            template.URL // mailto: with the words; made here, of escaped parts
	Mails             []mailRow
}

type mailRow struct {
	ID                 int64
	Tries              int
	To, Written, State string
	Lost               bool
}

var mailPage = definePage[mailView]("mail")

// mailBack gives the page of a paper's record, and its file.
var mailBack = map[string]struct{ table, kind, pdf string }{
	"quote": {"quote", "quote", "/pdf"}, "order": {"sale_order", "order", "/pdf"}, "site": {"sale_order", "order", "/site-sheet.pdf"}, "invoice": {"invoice", "invoice", "/pdf"}, "receipt": {"payment", "payment", "/pdf"}, "handover": {"handover", "handover", "/sheet.pdf"}}

func (s *Server) handleMail(c echo.Context) error {
	ctx := c.Request().Context()
	paper, number := c.QueryParam("paper"), c.QueryParam("number")
	l, err := s.Answer.LetterOf(ctx, paper, number)
	if err != nil {
		return err
	}
	set, err := s.settings(c)
	if err != nil {
		return err
	}
	back := mailBack[paper]
	base, _, _ := strings.Cut(number, " ")
	id, err := postgres.Value[int64](ctx, s.DB, `SELECT max(id) FROM `+back.table+` WHERE number = $1`, base)
	if err != nil {
		return err
	}
	v := mailView{Form: formOf(c), Configured: s.Answer.Mail.Configured(), Action: "/mail?" + url.Values{"paper": {paper}, "number": {number}}.Encode(), What: "the " + paper + " " + number, Back: hrefOf(back.kind, id), PDF: hrefOf(back.kind, id) + back.pdf}
	if paper == "site" {
		v.What = "the site sheet"
	}
	v.Form.Fill("to", l.To)
	v.Form.Fill("subject", l.Subject)
	v.Form.Fill("body", l.Body)
	v.MailTo = mailTo(l)
	list, err := s.Answer.Mail.Of(ctx, paper, number)
	for _, m := range list {
		v.Mails = append(v.Mails, mailRow{m.ID, m.Tries, m.To, show.Time(m.QueuedAt, set.Location()), mailState(m, func() string { return show.Time(*m.SentAt, set.Location()) }), m.GaveUpAt != nil})
	}
	if err != nil {
		return err
	}
	return mailPage.show(s, c, "Mail "+v.What, v)
}

func mailState(m mail.Mail, sent func() string) string {
	switch m.State() {
	case "sent":
		return "sent " + sent()
	case "given up":
		return m.Said
	}
	if m.Said != "" {
		return "waits to be tried again: " + m.Said
	}
	return "waits to be sent"
}

// inLink writes words as they stand in a mailto or sms address.
func inLink(words string) string { return strings.ReplaceAll(url.QueryEscape(words), "+", "%20") }

// mailTo is a mailto address (RFC 6068) with the words.
func mailTo(l answer.Letter) template.URL {
	return template.URL("mailto:" + inLink(l.To) + "?subject=" + inLink(l.Subject) + "&body=" + inLink(strings.ReplaceAll(l.Body, "\n", "\r\n"))) //nolint:gosec // every part is escaped
}

// smsTo is an sms address (RFC 5724) with the words; number holds digits and a plus only.
func smsTo(number, words string) template.URL {
	return template.URL("sms:" + number + "?body=" + inLink(words)) //nolint:gosec // every part is escaped
}

func (s *Server) handleMailPost(c echo.Context) error {
	f := formOf(c)
	paper, number := c.QueryParam("paper"), c.QueryParam("number")
	if _, err := s.Answer.MailPaper(c.Request().Context(), paper, number, answer.Letter{To: f.Text("to"), Subject: f.Text("subject"), Body: f.Text("body")}); err != nil {
		return again(err, s.handleMail)
	}
	return goTo(c, "/mail?"+url.Values{"paper": {paper}, "number": {number}}.Encode(), "It goes out now.")
}

func (s *Server) handleMailAgain(c echo.Context) error {
	id, err := pathID(c)
	if err != nil {
		return err
	}
	m, err := s.Answer.Mail.Again(c.Request().Context(), id)
	if err != nil {
		return err
	}
	return goTo(c, "/mail?"+url.Values{"paper": {m.Paper}, "number": {m.Number}}.Encode(), "It is tried again.")
}

// mailed is what a record's page says of the mail with its paper.
type mailed struct {
	Href  string
	Lines []string
}

// mailedOf says what went out with a paper; nil for who may not send it.
func (s *Server) mailedOf(c echo.Context, paper, number string) (*mailed, error) {
	if !person(c).May(access.Books) || number == "" {
		return nil, nil
	}
	set, err := s.settings(c)
	if err != nil {
		return nil, err
	}
	list, err := s.Answer.Mail.Of(c.Request().Context(), paper, number)
	out := &mailed{Href: "/mail?" + url.Values{"paper": {paper}, "number": {number}}.Encode()}
	for _, m := range list {
		out.Lines = append(out.Lines, "Mail to "+m.To+": "+mailState(m, func() string { return show.Time(*m.SentAt, set.Location()) }))
	}
	return out, err
}
