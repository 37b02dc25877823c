package rest

import (
	"fmt"
	"math/rand/v2"
	"net/url"
	"slices"
	"strings"
	"testing"

	"github.com/getkin/kin-openapi/openapi3"
	"github.com/stretchr/testify/require"
)

// maker invents values for a schema: most fit it, some sit at its limits, some break it.
type maker struct{ r *rand.Rand }

func (m maker) of(s *openapi3.Schema, depth int) any {
	if s == nil || depth > 6 || m.r.IntN(25) == 0 {
		return m.odd()
	}
	if s.Nullable && m.r.IntN(6) == 0 {
		return nil
	}
	if len(s.Enum) > 0 {
		return s.Enum[m.r.IntN(len(s.Enum))]
	}
	for _, list := range []openapi3.SchemaRefs{s.OneOf, s.AnyOf, s.AllOf} {
		if len(list) > 0 {
			return m.of(list[m.r.IntN(len(list))].Value, depth+1)
		}
	}
	switch {
	case s.Type == nil:
		return m.odd()
	case s.Type.Is("string"):
		return m.text(s)
	case s.Type.Is("integer"):
		return m.whole(s)
	case s.Type.Is("number"):
		return []any{0.5, 1.0, 0.1, 25.0, 1e6, -1.0, 1e300, 123456.789}[m.r.IntN(8)]
	case s.Type.Is("boolean"):
		return m.r.IntN(2) == 0
	case s.Type.Is("array"):
		list := []any{}
		for range m.r.IntN(3) {
			list = append(list, m.of(s.Items.Value, depth+1))
		}
		return list
	}
	return m.object(s, depth)
}

func (m maker) object(s *openapi3.Schema, depth int) any {
	o := map[string]any{}
	for name, p := range s.Properties {
		if slices.Contains(s.Required, name) || m.r.IntN(2) == 0 {
			o[name] = m.of(p.Value, depth+1)
		}
	}
	return o
}

func (m maker) whole(s *openapi3.Schema) any {
	list := []any{1, 2, 3, 7, 1, 1, 0, -1, 9007199254740991}
	if s.Min != nil {
		list = append(list, int64(*s.Min), int64(*s.Min))
	}
	if s.Max != nil {
		list = append(list, int64(*s.Max))
	}
	return list[m.r.IntN(len(list))]
}

func (m maker) text(s *openapi3.Schema) any {
	switch s.Format {
	case "date":
		return []string{"2026-03-03", "2030-01-01", "0001-01-01", "9999-12-31", "2026-02-29", "1961-06-01"}[m.r.IntN(6)]
	case "date-time":
		return []string{"2026-03-03T09:00:00+10:00", "0001-01-01T00:00:00Z", "9999-12-31T23:59:59-12:00", "2024-02-29T12:00:00Z"}[m.r.IntN(4)]
	}
	list := []string{"Ada", "12.50", "1", "model:1", "0412345678", "Q1", "box", "%_\\'\"", "ẞ漢字🐝", " ", "-1", "1e999", "Australia/Brisbane", strings.Repeat("å", 190), strings.Repeat("x", 3000), ""}
	return list[m.r.IntN(len(list))]
}

// odd is a value nobody asked for.
func (m maker) odd() any {
	return []any{nil, "x", "a\x00b", -1, 1e308, 1.5, true, []any{}, map[string]any{"colour": "red"}, map[string]any{}, []any{nil}, strings.Repeat("long ", 5000)}[m.r.IntN(12)]
}

const inventedRounds = 40

// Any request, however wrong, gets an answer below 500 that the contract knows. The seed
// is fixed, so that a failure can be found again.
func TestNoRequestIsOurMistake(t *testing.T) {
	t.Parallel()
	c := newClient(t)
	c.setUp()
	m := maker{rand.New(rand.NewPCG(4, 21))}
	keys := make([]string, 0, len(c.server.spec.operations))
	for key := range c.server.spec.operations {
		keys = append(keys, key)
	}
	slices.Sort(keys)
	for round := range inventedRounds {
		for _, key := range keys {
			op := c.server.spec.operations[key]
			if strings.HasSuffix(key, " /api/v1/session") || key == "POST /api/v1/password" || key == "DELETE /api/v1/tokens/:id" || key == "PATCH /api/v1/accounts/:id" {
				continue // after these the rest would be refused at the door
			}
			c.sendInvented(m, key, op, round)
		}
	}
	c.do("GET", "/api/v1/session", nil).want(200) // the door stayed open throughout
}

func (c *client) sendInvented(m maker, key string, op *operation, round int) {
	c.t.Helper()
	method, path, _ := strings.Cut(key, " ")
	for _, part := range strings.Split(path, "/") {
		if strings.HasPrefix(part, ":") {
			value := []string{"1", "1", "2", "3", "0", "-1", "99999999999999999999", "Q1", "a%00b", "%E6%BC%A2", "tax"}[m.r.IntN(11)]
			path = strings.Replace(path, part, value, 1)
		}
	}
	query := url.Values{}
	for _, p := range op.route.Operation.Parameters {
		if p.Value.In == openapi3.ParameterInQuery && (p.Value.Required || m.r.IntN(3) == 0) {
			query.Set(p.Value.Name, fmt.Sprint(m.of(p.Value.Schema.Value, 0)))
		}
	}
	if len(query) > 0 {
		path += "?" + query.Encode()
	}
	var headers []header
	if op.once && m.r.IntN(3) == 0 {
		headers = append(headers, header{"Idempotency-Key", fmt.Sprint("key-", m.r.IntN(50))})
	}
	if m.r.IntN(4) > 0 {
		headers = append(headers, header{"If-Match", fmt.Sprintf("%q", fmt.Sprint(1+m.r.IntN(3)))})
	}
	var body any
	if op.body != nil {
		if media := op.body.Content.Get("application/json"); media != nil {
			body = m.of(media.Schema.Value, 0)
		} else {
			body = "not a photo"
			headers = append(headers, header{"Content-Type", kinds(op.body.Content)[0]})
		}
	}
	a := c.do(method, path, body, headers...)
	require.Less(c.t, a.Status, 500, "round %d: %s %s %v: %s", round, method, path, body, a.Body)
}

// A POST that makes something can be sent twice; a change names the version it was made
// from.
func TestChangesAreSafeToRepeat(t *testing.T) {
	t.Parallel()
	plain := []string{"POST /api/v1/session", "POST /api/v1/password", "POST /api/v1/tokens", "POST /api/v1/calc/:topic", "POST /api/v1/answer", "POST /api/v1/logs/look", "POST /api/v1/wordings/:name/look", "POST /api/v1/wordings/:name/look/pdf", "POST /api/v1/board-sizes/reckon"}
	for key, op := range loadSpec().operations {
		switch op.route.Method {
		case "POST":
			require.Equal(t, !slices.Contains(plain, key), op.once, "%s: parameter IdempotencyKey", key)
		case "PUT", "PATCH":
			names := []string{}
			for _, p := range append(append(openapi3.Parameters{}, op.route.PathItem.Parameters...), op.route.Operation.Parameters...) {
				names = append(names, p.Value.Name)
			}
			require.Contains(t, names, "If-Match", key)
		}
	}
}
