// Package door is what both faces do to every request before they look at it: the one
// table from kinds of failure to statuses, problem documents, who is asking, request
// ids, the access log, limits and secure headers, and repeated requests that get the
// first answer again. It renders nothing and knows no record.
//
// Start reading at [StatusOf] and [Wrap].
package door

import (
	"errors"
	"net/http"

	"kerfbook/internal/calc/contract"
	"kerfbook/internal/fault"
)

// failure is how a kind of fault looks over HTTP.
type failure struct {
	status     int
	slug       string // last part of the problem's type
	title      string
	retryAfter string // seconds, empty for none
}

// failures has a row for every kind in fault.Kinds; a test holds that.
var failures = map[fault.Kind]failure{
	fault.Internal:    {http.StatusInternalServerError, "internal", "Something went wrong here", ""},
	fault.NotFound:    {http.StatusNotFound, "not-found", "Not found", ""},
	fault.Invalid:     {http.StatusUnprocessableEntity, "invalid", "The input needs a change", ""},
	fault.Conflict:    {http.StatusConflict, "conflict", "The book does not allow this now", ""},
	fault.Stale:       {http.StatusPreconditionFailed, "stale", "Somebody changed this first", ""},
	fault.Forbidden:   {http.StatusForbidden, "forbidden", "Not for this sign-in", ""},
	fault.Signin:      {http.StatusUnauthorized, "sign-in", "Sign in first", ""},
	fault.TooMany:     {http.StatusTooManyRequests, "too-many", "Too many tries", "900"},
	fault.TooLarge:    {http.StatusRequestEntityTooLarge, "too-large", "Too large", ""},
	fault.Mismatch:    {http.StatusUnprocessableEntity, "key-reused", "This Idempotency-Key belongs to another request", ""},
	fault.Unavailable: {http.StatusServiceUnavailable, "unavailable", "Not available just now", "5"},
}

// statusError gives an error another status than its kind has.
type statusError struct {
	error
	status int
	title  string
}

func (e statusError) Unwrap() error { return e.error }

// WithStatus gives err a status of HTTP's own that no kind of fault has, such as 405,
// with the problem's title.
func WithStatus(err error, status int, title string) error { return statusError{err, status, title} }

// StatusOf maps an error to a status, for both faces.
func StatusOf(err error) int { return ProblemOf(err).Status }

// Problem is an RFC 9457 problem document.
type Problem struct {
	Type      string        `json:"type"`
	Title     string        `json:"title"`
	Status    int           `json:"status"`
	Detail    string        `json:"detail"`
	Errors    []fault.Field `json:"errors,omitempty"`
	RequestID string        `json:"request_id,omitempty"`

	// RetryAfter is for the header of that name, in seconds; empty for none.
	RetryAfter string `json:"-"`
}

// ProblemMedia is the media type of a problem document.
const ProblemMedia = "application/problem+json"

// problemType is what a problem's type begins with: names of ours, not addresses.
const problemType = "urn:kerfbook:problem:"

const apology = "The mistake is ours and has been written to the log. Nothing was changed. Try again; if it stays, tell whoever looks after this kerfbook the request id."

// ProblemOf describes err: what a person may read, never an inner cause.
func ProblemOf(err error) Problem {
	var bad *contract.Error
	if errors.As(err, &bad) {
		return ofContract(bad)
	}
	var known *fault.Error
	kind := fault.Internal
	if errors.As(err, &known) {
		kind = known.Kind
	}
	f, ok := failures[kind]
	if !ok {
		f, kind = failures[fault.Internal], fault.Internal
	}
	p := Problem{Type: problemType + f.slug, Title: f.title, Status: f.status, Detail: apology, RetryAfter: f.retryAfter}
	if kind != fault.Internal {
		p.Detail, p.Errors = known.Detail, known.Fields
	}
	var special statusError
	if errors.As(err, &special) {
		p.Status = special.status
		if special.title != "" {
			p.Title = special.title
		}
	}
	return p
}

func ofContract(bad *contract.Error) Problem {
	var l fault.List
	for _, f := range bad.Fields {
		l.Add(f.Pointer, "%s", f.Detail)
	}
	p := ProblemOf(l.Err())
	if len(bad.Fields) == 1 && bad.Fields[0].Pointer != "" {
		p.Detail = bad.Fields[0].Pointer + " " + bad.Fields[0].Detail
	}
	return p
}
