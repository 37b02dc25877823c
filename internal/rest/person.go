package rest

import (
	"bytes"
	"errors"
	"fmt"
	"io"
	"net/http"
	"runtime/debug"

	"github.com/labstack/echo/v4"

	"kerfbook/internal/access"
	"kerfbook/internal/door"
	"kerfbook/internal/fault"
)

// withPerson finds out who asks and whether they may, by the operation's area.
func (s *Server) withPerson(next echo.HandlerFunc) echo.HandlerFunc {
	return func(c echo.Context) error {
		op := operationOf(c)
		if op == nil || op.public {
			return next(c)
		}
		p, err := door.Who(c.Request(), s.Access)
		if err != nil {
			return err
		}
		if !p.Known() {
			return fault.New(fault.Signin, "Sign in with POST /api/v1/session, or send a token as: Authorization: Bearer TOKEN.")
		}
		if !p.May(op.area) {
			return forbidden(op.area)
		}
		c.SetRequest(door.As(c.Request(), p))
		return next(c)
	}
}

func forbidden(a access.Area) error {
	return fault.New(fault.Forbidden, "This sign-in may not see or change %s. Ask the owner.", a)
}

// person gives who asks.
func person(c echo.Context) access.Person { return access.PersonFrom(c.Request().Context()) }

// withKey answers a POST that carries an Idempotency-Key once.
func (s *Server) withKey(next echo.HandlerFunc) echo.HandlerFunc {
	return func(c echo.Context) error {
		op, r := operationOf(c), c.Request()
		values, sent := r.Header[keyHeader]
		if op == nil || !op.once || !sent {
			return next(c)
		}
		body, _ := c.Get(bodyIn).([]byte)
		w := c.Response()
		err := door.Once(w, r, s.Answers, person(c).ID, values[0], body, func(rec http.ResponseWriter, inner *http.Request) error {
			inner.Body = io.NopCloser(bytes.NewReader(body))
			c.SetRequest(inner)
			c.SetResponse(echo.NewResponse(rec, s.echo))
			defer func() { c.SetRequest(r); c.SetResponse(w) }()
			return next(c)
		})
		return err
	}
}

// recoverPanic makes a panic an error like any other.
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

// fail is the one place where a failure is written.
func (s *Server) fail(err error, c echo.Context) {
	if c.Response().Committed {
		return
	}
	err = ofEcho(err)
	if door.StatusOf(err) >= 500 {
		s.Log.ErrorContext(c.Request().Context(), "request failed", "request", door.RequestID(c.Request().Context()),
			"method", c.Request().Method, "path", c.Path(), "error", err)
	}
	door.Refuse(c.Response(), c.Request(), err)
}

// ofEcho gives the router's own errors our words.
func ofEcho(err error) error {
	var he *echo.HTTPError
	if !errors.As(err, &he) {
		return err
	}
	switch he.Code {
	case http.StatusNotFound:
		return fault.New(fault.NotFound, "There is nothing at this address. The contract at /api/openapi.yaml lists what there is.")
	case http.StatusMethodNotAllowed:
		return door.WithStatus(fault.New(fault.Invalid, "This address does not take that method. The header Allow lists those it takes."), he.Code, "Not a method taken here")
	case http.StatusRequestEntityTooLarge:
		return fault.Wrap(err, fault.TooLarge, "The body is too large.")
	}
	if he.Code < 500 {
		return door.WithStatus(fault.Wrap(err, fault.Invalid, "The request cannot be read."), he.Code, "The request cannot be read")
	}
	return err
}
