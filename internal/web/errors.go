package web

import (
	"errors"
	"fmt"
	"net/http"
	"runtime/debug"

	"github.com/labstack/echo/v4"

	"kerfbook/internal/door"
	"kerfbook/internal/fault"
)

type errorView struct {
	Status    int
	Detail    string
	Wrong     []string
	RequestID string
	SignIn    string
}

var errorPage = definePage[errorView]("error")

// fail is the one place where a failure becomes a page.
func (s *Server) fail(err error, c echo.Context) {
	if c.Response().Committed {
		return
	}
	err = ofEcho(err)
	s.note(c, err)
	p := door.ProblemOf(err)
	if p.RetryAfter != "" {
		c.Response().Header().Set("Retry-After", p.RetryAfter)
	}
	v := errorView{Status: p.Status, Detail: p.Detail, RequestID: door.RequestID(c.Request().Context())}
	for _, f := range p.Errors {
		v.Wrong = append(v.Wrong, f.Detail)
	}
	if len(v.Wrong) == 1 && v.Wrong[0] == v.Detail {
		v.Wrong = nil
	}
	if p.Status == http.StatusUnauthorized {
		v.SignIn = signInPath("/")
	}
	c.Set(statusIn, p.Status)
	if who, err := door.Who(c.Request(), s.Access); p.Status < 500 && err == nil {
		c.SetRequest(door.As(c.Request(), who)) // an unknown address has not been asked who comes
	}
	if p.Status >= 500 || errorPage.show(s, c, p.Title, v) != nil {
		s.apologise(c, p)
	}
}

// apologise sends the page that was rendered at start: it needs nothing.
func (s *Server) apologise(c echo.Context, p door.Problem) {
	status := p.Status
	if status < 500 {
		status = http.StatusInternalServerError
	}
	c.Response().Header().Set(echo.HeaderCacheControl, "no-store")
	if err := c.HTMLBlob(status, s.sorry); err != nil {
		s.Log.InfoContext(c.Request().Context(), "error page not sent", "error", err)
	}
}

// note writes our own mistakes to the log, once.
func (s *Server) note(c echo.Context, err error) {
	if door.StatusOf(err) < 500 {
		return
	}
	ctx := c.Request().Context()
	s.Log.ErrorContext(ctx, "page failed", "request", door.RequestID(ctx), "method", c.Request().Method, "path", c.Path(), "error", err)
}

func (s *Server) recoverPanic(next echo.HandlerFunc) echo.HandlerFunc {
	return func(c echo.Context) (err error) {
		defer func() {
			if p := recover(); p != nil {
				err = fmt.Errorf("panic: %v\n%s", p, debug.Stack())
			}
		}()
		return next(c)
	}
}

// ofEcho gives the router's own errors our words.
func ofEcho(err error) error {
	var he *echo.HTTPError
	if !errors.As(err, &he) {
		return err
	}
	switch he.Code {
	case http.StatusNotFound:
		return fault.New(fault.NotFound, "There is no page at this address.")
	case http.StatusMethodNotAllowed:
		return door.WithStatus(fault.New(fault.Invalid, "This page does not take that."), he.Code, "Not taken here")
	}
	if he.Code < 500 {
		return door.WithStatus(fault.Wrap(err, fault.Invalid, "The request cannot be read."), he.Code, "The request cannot be read")
	}
	return err
}
