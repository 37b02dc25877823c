package rest

import (
	"net/http"

	"github.com/labstack/echo/v4"

	"kerfbook/api"
	"kerfbook/internal/access"
	"kerfbook/internal/door"
	"kerfbook/internal/fault"
)

func (s *Server) registerAccessRoutes(g *echo.Group) {
	g.GET("/session", handleSession)
	g.POST("/session", s.handleSignIn)
	g.DELETE("/session", s.handleSignOut)
	g.POST("/password", s.handlePassword)
	g.GET("/accounts", s.handleAccountList)
	g.POST("/accounts", s.handleAccountAdd)
	g.GET("/accounts/:id", s.handleAccount)
	g.PATCH("/accounts/:id", s.handleAccountChange)
	g.GET("/tokens", s.handleTokenList)
	g.POST("/tokens", s.handleTokenMake)
	g.DELETE("/tokens/:id", s.handleTokenWithdraw)
}

func handleSession(c echo.Context) error {
	return reply(c, http.StatusOK, personOf(person(c)))
}

func (s *Server) handleSignIn(c echo.Context) error {
	var in api.SignIn
	if err := bind(c, &in); err != nil {
		return err
	}
	r := c.Request()
	p, err := s.Access.SignIn(r.Context(), in.SignIn, in.Password, door.Address(r))
	if err != nil {
		return err
	}
	known := in.KnownPhone != nil && *in.KnownPhone
	lasting := access.OneVisit
	if known {
		lasting = access.KnownPhone
	}
	secret, until, err := s.Access.SessionOpen(r.Context(), p, lasting)
	if err != nil {
		return err
	}
	door.SetCookie(c.Response(), r, secret, until, known)
	return reply(c, http.StatusCreated, personOf(p))
}

func (s *Server) handleSignOut(c echo.Context) error {
	if secret := door.SessionSecret(c.Request()); secret != "" {
		if err := s.Access.SessionClose(c.Request().Context(), secret); err != nil {
			return err
		}
	}
	door.ClearCookie(c.Response(), c.Request())
	return c.NoContent(http.StatusNoContent)
}

func (s *Server) handlePassword(c echo.Context) error {
	var in api.PasswordChange
	if err := bind(c, &in); err != nil {
		return err
	}
	if err := s.Access.PasswordChange(c.Request().Context(), person(c).ID, in.OldPassword, in.Password); err != nil {
		return err
	}
	return c.NoContent(http.StatusNoContent)
}

func (s *Server) handleAccountList(c echo.Context) error {
	list, err := s.Access.AccountList(c.Request().Context())
	if err != nil {
		return err
	}
	out := api.AccountList{Items: make([]api.Account, len(list))}
	for i, a := range list {
		out.Items[i] = accountOf(a)
	}
	return reply(c, http.StatusOK, out)
}

func (s *Server) handleAccountAdd(c echo.Context) error {
	var in api.AccountNew
	if err := bind(c, &in); err != nil {
		return err
	}
	n := access.NewAccount{SignIn: in.SignIn, Role: access.Role(in.Role), Password: in.Password}
	if in.Name != nil {
		n.Name = *in.Name
	}
	a, err := s.Access.AccountAdd(c.Request().Context(), n)
	if err != nil {
		return err
	}
	return replyVersion(c, http.StatusCreated, a.Version, accountOf(a))
}

func (s *Server) handleAccount(c echo.Context) error {
	a, err := s.Access.AccountGet(c.Request().Context(), pathID(c, "id"))
	if err != nil {
		return err
	}
	return replyVersion(c, http.StatusOK, a.Version, accountOf(a))
}

func (s *Server) handleAccountChange(c echo.Context) error {
	var in api.AccountChange
	if err := bind(c, &in); err != nil {
		return err
	}
	version, err := ifMatch(c)
	if err != nil {
		return err
	}
	ctx, id := c.Request().Context(), pathID(c, "id")
	if (in.Disabled == nil) == (in.Role == nil) {
		return fault.Bad("/disabled", "Send either disabled or role.")
	}
	var a access.Account
	if in.Role != nil {
		a, err = s.Access.AccountRoleSet(ctx, id, version, access.Role(*in.Role))
	} else {
		a, err = s.Access.AccountDisable(ctx, id, version, *in.Disabled)
	}
	if err != nil {
		return err
	}
	return replyVersion(c, http.StatusOK, a.Version, accountOf(a))
}

func (s *Server) handleTokenList(c echo.Context) error {
	list, err := s.Access.TokenList(c.Request().Context(), 0)
	if err != nil {
		return err
	}
	out := api.TokenList{Items: make([]api.Token, len(list))}
	for i, t := range list {
		out.Items[i] = tokenOf(t)
	}
	return reply(c, http.StatusOK, out)
}

func (s *Server) handleTokenMake(c echo.Context) error {
	var in api.TokenNew
	if err := bind(c, &in); err != nil {
		return err
	}
	secret, t, err := s.Access.TokenMake(c.Request().Context(), person(c).ID, in.Name)
	if err != nil {
		return err
	}
	return reply(c, http.StatusCreated, api.TokenMade{Token: tokenOf(t), Secret: secret})
}

func (s *Server) handleTokenWithdraw(c echo.Context) error {
	if err := s.Access.TokenWithdraw(c.Request().Context(), pathID(c, "id")); err != nil {
		return err
	}
	return c.NoContent(http.StatusNoContent)
}

func personOf(p access.Person) api.Person {
	out := api.Person{ID: p.ID, SignIn: p.SignIn, Name: p.Name, Role: api.Role(p.Role), Areas: []string{}}
	for _, a := range access.Areas {
		if p.May(a) {
			out.Areas = append(out.Areas, string(a))
		}
	}
	return out
}

func accountOf(a access.Account) api.Account {
	return api.Account{ID: a.ID, Version: a.Version, SignIn: a.SignIn, Name: a.Name, Role: api.Role(a.Role), Disabled: a.DisabledAt != nil, MadeAt: a.MadeAt}
}

func tokenOf(t access.Token) api.Token {
	return api.Token{ID: t.ID, Name: t.Name, MadeAt: t.MadeAt, UsedAt: t.UsedAt, Withdrawn: t.WithdrawnAt != nil}
}
