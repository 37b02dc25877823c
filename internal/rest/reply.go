package rest

import (
	"encoding/base64"
	"encoding/json"
	"errors"
	"net/http"
	"strconv"
	"strings"

	"github.com/labstack/echo/v4"

	"kerfbook/internal/door"
	"kerfbook/internal/fault"
	"kerfbook/internal/postgres"
)

// bind decodes the checked body into v, a struct of package api.
func bind(c echo.Context, v any) error {
	body, _ := c.Get(bodyIn).([]byte)
	if len(body) == 0 {
		return nil
	}
	err := json.Unmarshal(body, v)
	var typ *json.UnmarshalTypeError
	if errors.As(err, &typ) {
		return fault.Bad("/"+strings.ReplaceAll(typ.Field, ".", "/"), "This value does not fit here.")
	}
	var text base64.CorruptInputError
	if errors.As(err, &text) {
		return fault.New(fault.Invalid, "A photo or paper must be written as base64 text.")
	}
	return err
}

// reply encodes v before the first byte is sent: as JSON, or as a table when v is a list and format=csv was asked for.
func reply(c echo.Context, status int, v any) error {
	if c.QueryParam("format") == "csv" && status == http.StatusOK {
		if header, rows, ok := tableOf(v); ok {
			return replyCSV(c, listName(c.Path()), header, rows)
		}
	}
	body, err := json.Marshal(v)
	if err != nil {
		return err
	}
	c.Response().Header().Set(echo.HeaderCacheControl, "no-store")
	return c.Blob(status, echo.MIMEApplicationJSON, body)
}

// replyVersion is reply for a record, with its version as ETag. A GET whose If-None-Match
// names the version gets 304.
func replyVersion(c echo.Context, status, version int, v any) error {
	tag := `"` + strconv.Itoa(version) + `"`
	c.Response().Header().Set("ETag", tag)
	if c.Request().Method == http.MethodGet && namesTag(c.Request().Header.Get("If-None-Match"), tag) {
		return c.NoContent(http.StatusNotModified)
	}
	return reply(c, status, v)
}

func namesTag(header, tag string) bool {
	for _, t := range strings.Split(header, ",") {
		if strings.TrimPrefix(strings.TrimSpace(t), "W/") == tag {
			return true
		}
	}
	return false
}

// ifMatch gives the version the client read. Missing is 428; "*" and what is no version
// are refused: a change must name what it was made from.
func ifMatch(c echo.Context) (int, error) {
	h := strings.TrimSpace(c.Request().Header.Get("If-Match"))
	if h == "" {
		return 0, door.WithStatus(fault.New(fault.Invalid, "Send the version you read as If-Match, as it stood in the ETag."), http.StatusPreconditionRequired, "A version is needed")
	}
	n, err := strconv.ParseInt(strings.Trim(strings.TrimPrefix(h, "W/"), `"`), 10, 32)
	if err != nil || n < 0 {
		return 0, malformed("/If-Match", "If-Match must be one version as it stood in the ETag, such as \"3\".")
	}
	return int(n), nil
}

// pathID gives a number from the path; the contract has checked that it is one.
func pathID(c echo.Context, name string) int64 {
	n, _ := strconv.ParseInt(c.Param(name), 10, 64)
	return n
}

// queryInt gives a number from the query, or standard when it is not there.
func queryInt(c echo.Context, name string, standard int64) int64 {
	n, err := strconv.ParseInt(c.QueryParam(name), 10, 64)
	if err != nil {
		return standard
	}
	return n
}

// listQuery is what every list takes.
type listQuery struct {
	Find  string
	Limit int
	After string
	CSV   bool
}

const listStandard = 50

func listOf(c echo.Context) listQuery {
	q := listQuery{
		Find:  strings.TrimSpace(c.QueryParam("find")),
		Limit: int(queryInt(c, "limit", listStandard)),
		After: c.QueryParam("after"),
		CSV:   c.QueryParam("format") == "csv",
	}
	// The contract's standard is in the query by now; what was asked stands in the address.
	if q.CSV && !strings.Contains(c.Request().RequestURI, "limit=") {
		q.Limit = postgres.PageWhole
	}
	return q
}

// next gives a cursor as the contract has it: null on the last page.
func next(cursor string) *string {
	if cursor == "" {
		return nil
	}
	return &cursor
}
