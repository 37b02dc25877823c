package web

import (
	"net/http"
	"net/url"
	"strings"

	"github.com/labstack/echo/v4"

	"kerfbook/internal/access"
	"kerfbook/internal/door"
)

type signInView struct {
	Form *Form
	Next string
}

var signInPage = definePage[signInView]("signin")

func (s *Server) registerSignInPages(r *routes) {
	r.open(http.MethodGet, "/sign-in", s.handleSignIn)
	r.open(http.MethodPost, "/sign-in", s.handleSignInPost)
	r.open(http.MethodPost, "/sign-out", s.handleSignOut)
	r.open(http.MethodPost, "/cost", handleCost)
}

func signInPath(next string) string {
	if next == "/" {
		return "/sign-in"
	}
	return "/sign-in?next=" + url.QueryEscape(next)
}

// local gives an address of our own to go to, or the Day sheet.
func local(href string) string {
	u, err := url.Parse(href)
	if err != nil || u.Host != "" || u.Scheme != "" || !strings.HasPrefix(href, "/") || strings.HasPrefix(href, "//") || strings.ContainsAny(href, "\\\r\n") {
		return "/"
	}
	return href
}

func (s *Server) handleSignIn(c echo.Context) error {
	empty, err := s.emptyBook(c.Request().Context())
	if err != nil {
		return err
	}
	if empty {
		return c.Redirect(http.StatusSeeOther, "/set-up")
	}
	f := formOf(c)
	f.FillTick("known_phone", true)
	next := c.QueryParam("next")
	if f.Sent {
		next = f.Text("next")
	}
	return signInPage.show(s, c, "Sign in", signInView{Form: f, Next: local(next)})
}

func (s *Server) handleSignInPost(c echo.Context) error {
	f, r := formOf(c), c.Request()
	p, err := s.Access.SignIn(r.Context(), f.Text("sign_in"), f.Secret("password"), door.Address(r))
	if err != nil {
		return again(err, s.handleSignIn)
	}
	if err := s.openSession(c, p, f.Ticked("known_phone")); err != nil {
		return err
	}
	return c.Redirect(http.StatusSeeOther, local(f.Text("next")))
}

// openSession signs p in on this browser.
func (s *Server) openSession(c echo.Context, p access.Person, known bool) error {
	lasting := access.OneVisit
	if known {
		lasting = access.KnownPhone
	}
	secret, until, err := s.Access.SessionOpen(c.Request().Context(), p, lasting)
	if err != nil {
		return err
	}
	door.SetCookie(c.Response(), c.Request(), secret, until, known)
	return nil
}

func (s *Server) handleSignOut(c echo.Context) error {
	if secret := door.SessionSecret(c.Request()); secret != "" {
		if err := s.Access.SessionClose(c.Request().Context(), secret); err != nil {
			return err
		}
	}
	door.ClearCookie(c.Response(), c.Request())
	return c.Redirect(http.StatusSeeOther, "/sign-in")
}

// handleCost hides cost and margin on every page of this browser, or shows them again.
func handleCost(c echo.Context) error {
	f := formOf(c)
	ck := &http.Cookie{Name: costCookie, Value: costHidden, Path: "/", MaxAge: 400 * 24 * 3600, SameSite: http.SameSiteLaxMode, Secure: door.Encrypted(c.Request())}
	if f.Text("show") == "yes" {
		ck.Value, ck.MaxAge = "", -1
	}
	http.SetCookie(c.Response(), ck)
	return c.Redirect(http.StatusSeeOther, local(f.Text("next")))
}
