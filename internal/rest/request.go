package rest

import (
	"bytes"
	"encoding/json"
	"errors"
	"io"
	"mime"
	"net/http"
	"net/url"
	"strings"
	"unicode/utf8"

	"github.com/getkin/kin-openapi/openapi3"
	"github.com/getkin/kin-openapi/openapi3filter"
	"github.com/labstack/echo/v4"

	"kerfbook/internal/door"
	"kerfbook/internal/fault"
)

// Body limits in bytes: text, and uploads of photos and papers.
const (
	textLimit   = 1 << 20
	uploadLimit = 6 << 20
)

const (
	operationIn = "operation" // where a request's operation and body are kept in its context
	bodyIn      = "body"
	keyHeader   = "Idempotency-Key"
)

// withOperation finds the operation of a matched route and checks its parameters. What
// matches no route goes on to echo's own 404 and 405.
func (s *Server) withOperation(next echo.HandlerFunc) echo.HandlerFunc {
	return func(c echo.Context) error {
		op := s.spec.operations[operationKey(c.Request().Method, c.Path())]
		if op == nil {
			return next(c)
		}
		c.Set(operationIn, op)
		return next(c)
	}
}

func operationOf(c echo.Context) *operation {
	op, _ := c.Get(operationIn).(*operation)
	return op
}

// withBody checks parameters and body against the contract and keeps the body for bind.
func (s *Server) withBody(next echo.HandlerFunc) echo.HandlerFunc {
	return func(c echo.Context) error {
		op := operationOf(c)
		if op == nil {
			return next(c)
		}
		if err := checkParameters(c, op); err != nil {
			return err
		}
		body, err := readBody(c.Request(), op)
		if err != nil {
			return err
		}
		if err := checkBody(op, c.Request(), body); err != nil {
			return err
		}
		c.Set(bodyIn, body)
		return next(c)
	}
}

func checkParameters(c echo.Context, op *operation) error {
	r := c.Request()
	var l fault.List
	query, err := url.ParseQuery(r.URL.RawQuery)
	if err != nil {
		return malformed("", "The part of the address behind the question mark cannot be read.")
	}
	for name, values := range query {
		l.Check(op.query[name], "/"+escape(name), "%q is not a parameter here. Leave it out.", clip(name))
		l.Check(len(values) == 1, "/"+escape(name), "Give %q once only.", clip(name))
		for _, v := range values {
			l.Check(cleanText(v), "/"+escape(name), "Remove characters that cannot be stored (such as NUL).")
		}
	}
	input := &openapi3filter.RequestValidationInput{Request: r, Route: op.route, QueryParams: query, PathParams: map[string]string{}, Options: op.check}
	for i, name := range c.ParamNames() {
		input.PathParams[name] = c.ParamValues()[i]
	}
	if err := openapi3filter.ValidateRequest(r.Context(), input); err != nil {
		explainErrors(&l, err)
	}
	if err := l.Err(); err != nil {
		return door.WithStatus(err, http.StatusBadRequest, "The address needs a change")
	}
	return nil
}

// readBody reads at most what the operation allows.
func readBody(r *http.Request, op *operation) ([]byte, error) {
	limit := int64(textLimit)
	if op.body != nil && op.body.Content.Get("application/json") == nil {
		limit = uploadLimit
	}
	tooLarge := fault.New(fault.TooLarge, "The body may have at most %d MB.", limit>>20)
	if r.ContentLength > limit {
		return nil, tooLarge
	}
	body, err := io.ReadAll(io.LimitReader(r.Body, limit+1))
	if err != nil {
		return nil, door.WithStatus(fault.Wrap(err, fault.Invalid, "The body broke off before its end. Send it again."), http.StatusBadRequest, "The body broke off")
	}
	if int64(len(body)) > limit {
		return nil, tooLarge
	}
	return body, nil
}

// checkBody holds a body against its schema. Bodies that are not JSON are the handler's.
func checkBody(op *operation, r *http.Request, body []byte) error {
	if op.body == nil {
		if len(body) > 0 {
			return malformed("", "This takes no body. Leave it out.")
		}
		return nil
	}
	if len(body) == 0 {
		if op.body.Required {
			return malformed("", "A body is needed, and there is none.")
		}
		return nil
	}
	kind, _, err := mime.ParseMediaType(r.Header.Get("Content-Type"))
	media := op.body.Content[kind]
	if err != nil || media == nil {
		return door.WithStatus(fault.New(fault.Invalid, "Send the body as %s and say so in Content-Type.", strings.Join(kinds(op.body.Content), " or ")),
			http.StatusUnsupportedMediaType, "Not a kind of body taken here")
	}
	if kind != "application/json" {
		return nil
	}
	value, err := decodeJSON(body)
	if err != nil {
		return err
	}
	var l fault.List
	checkTexts(&l, "", value)
	if media.Schema != nil {
		opts := append([]openapi3.SchemaValidationOption{openapi3.MultiErrors(), openapi3.VisitAsRequest()}, schemaChecks...)
		if err := media.Schema.Value.VisitJSON(value, opts...); err != nil {
			explainErrors(&l, err)
		}
	}
	return l.Err()
}

func kinds(c openapi3.Content) []string {
	var list []string
	for kind := range c {
		list = append(list, kind)
	}
	return list
}

func decodeJSON(body []byte) (any, error) {
	if !utf8.Valid(body) {
		return nil, malformed("", "The body is not UTF-8 text.")
	}
	var value any
	d := json.NewDecoder(bytes.NewReader(body))
	d.UseNumber()
	if err := d.Decode(&value); err != nil {
		var syntax *json.SyntaxError
		if errors.As(err, &syntax) {
			return nil, malformed("", "The body is not JSON: something is wrong near byte %d.", syntax.Offset)
		}
		return nil, malformed("", "The body is not JSON, or breaks off.")
	}
	if _, err := d.Token(); !errors.Is(err, io.EOF) {
		return nil, malformed("", "There is text behind the end of the JSON.")
	}
	return value, nil
}

// checkTexts refuses what PostgreSQL cannot keep in a text, wherever it stands.
func checkTexts(l *fault.List, pointer string, value any) {
	switch v := value.(type) {
	case string:
		l.Check(cleanText(v), pointer, "Remove characters that cannot be stored (such as NUL).")
	case []any:
		for i, item := range v {
			checkTexts(l, pointer+"/"+itoa(i), item)
		}
	case map[string]any:
		for name, item := range v {
			if !cleanText(name) {
				l.Add(pointer, "A field's name holds characters that cannot be stored (such as NUL).")
				continue
			}
			checkTexts(l, pointer+"/"+escape(name), item)
		}
	}
}

func cleanText(s string) bool { return utf8.ValidString(s) && !strings.ContainsRune(s, 0) }

// malformed is input that could not even be read: 400.
func malformed(pointer, format string, args ...any) error {
	e := fault.New(fault.Invalid, format, args...)
	if pointer != "" {
		e = fault.Bad(pointer, format, args...)
	}
	return door.WithStatus(e, http.StatusBadRequest, "The request cannot be read")
}
