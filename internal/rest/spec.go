package rest

import (
	"context"
	"fmt"
	"regexp"
	"time"

	"github.com/getkin/kin-openapi/openapi3"
	"github.com/getkin/kin-openapi/openapi3filter"
	"github.com/getkin/kin-openapi/routers"

	"kerfbook/api"
	"kerfbook/internal/access"
)

// spec is the contract, read once, with its operations by method and echo path.
type spec struct {
	doc        *openapi3.T
	operations map[string]*operation
}

// operation is one method on one path of the contract.
type operation struct {
	route  *routers.Route
	area   access.Area // who may; empty on a public operation
	public bool
	body   *openapi3.RequestBody
	query  map[string]bool // names of query parameters
	once   bool            // takes an Idempotency-Key
	check  *openapi3filter.Options
}

var pathParameter = regexp.MustCompile(`\{([a-z_]+)\}`)

func operationKey(method, echoPath string) string { return method + " " + echoPath }

// loadSpec reads and checks the embedded contract; what is wrong with it is our mistake.
func loadSpec() *spec {
	loader := openapi3.NewLoader()
	doc, err := loader.LoadFromData(api.Contract)
	if err == nil {
		err = doc.Validate(context.Background())
	}
	if err != nil {
		panic(fmt.Sprintf("rest: the contract: %v", err))
	}
	s := &spec{doc: doc, operations: map[string]*operation{}}
	for path, item := range doc.Paths.Map() {
		echoPath := pathParameter.ReplaceAllString(path, ":$1")
		for method, op := range item.Operations() {
			s.operations[operationKey(method, echoPath)] = newOperation(doc, path, item, method, op)
		}
	}
	return s
}

func newOperation(doc *openapi3.T, path string, item *openapi3.PathItem, method string, op *openapi3.Operation) *operation {
	o := &operation{
		route: &routers.Route{Spec: doc, Server: doc.Servers[0], Path: path, PathItem: item, Method: method, Operation: op},
		query: map[string]bool{},
		check: &openapi3filter.Options{
			ExcludeRequestBody: true, MultiError: true, SkipSettingDefaults: true,
			AuthenticationFunc:      openapi3filter.NoopAuthenticationFunc, // see withPerson
			SchemaValidationOptions: schemaChecks,
		},
	}
	o.public = op.Security != nil && len(*op.Security) == 0
	area, _ := op.Extensions["x-area"].(string)
	o.area = access.Area(area)
	if !o.public && !known(o.area) {
		panic(fmt.Sprintf("rest: the contract: %s %s needs x-area, one of %v", method, path, access.Areas))
	}
	if op.RequestBody != nil {
		o.body = op.RequestBody.Value
	}
	for _, p := range append(append(openapi3.Parameters{}, item.Parameters...), op.Parameters...) {
		switch {
		case p.Value.In == openapi3.ParameterInQuery:
			o.query[p.Value.Name] = true
		case p.Value.Name == keyHeader:
			o.once = true
		}
	}
	return o
}

func known(a access.Area) bool {
	for _, b := range access.Areas {
		if a == b {
			return true
		}
	}
	return false
}

// schemaChecks are applied wherever a value meets a schema: formats are enforced.
var schemaChecks = []openapi3.SchemaValidationOption{
	openapi3.WithStringFormatValidators(map[string]openapi3.StringFormatValidator{
		"date": openapi3.NewCallbackValidator(func(s string) error {
			_, err := time.Parse(time.DateOnly, s)
			return err
		}),
		"date-time": openapi3.NewCallbackValidator(func(s string) error {
			at, err := time.Parse(time.RFC3339Nano, s)
			if y := at.UTC().Year(); err == nil && (y < 1 || y > 9999) { // in UTC no date of ours any more
				err = fmt.Errorf("year %d", y)
			}
			return err
		}),
	}),
	openapi3.WithIntegerFormatValidators(map[string]openapi3.IntegerFormatValidator{
		"int64": openapi3.NewRangeFormatValidator(int64(-1<<53), int64(1<<53)),
	}),
	openapi3.DisableSchemaErrorDetails(),
}
