package door

import (
	"bytes"
	"context"
	"crypto/sha256"
	"net/http"
	"strconv"
	"unicode/utf8"

	"kerfbook/internal/fault"
	"kerfbook/internal/postgres/idem"
)

// Answers keeps first answers to requests that carry an Idempotency-Key.
type Answers interface {
	// Do runs work in a transaction in which its answer is kept as well, or gives the
	// answer that is already kept for the key. An error keeps nothing.
	Do(ctx context.Context, q idem.Request, work func(ctx context.Context) (idem.Answer, error)) (answer idem.Answer, again bool, err error)
}

// KeyLongest is the most characters an Idempotency-Key may have.
const KeyLongest = 200

// Once answers r, which carries key, by handle; a second request with the same key and
// the same body gets the first answer again, with the header Idempotency-Replayed. What
// handle writes is held back until it is stored together with the changes it made, so a
// lost answer can be asked for again. An error of handle undoes and keeps nothing.
func Once(w http.ResponseWriter, r *http.Request, answers Answers, actor int64, key string, body []byte, handle func(http.ResponseWriter, *http.Request) error) error {
	if key == "" || utf8.RuneCountInString(key) > KeyLongest || !utf8.ValidString(key) {
		return fault.New(fault.Invalid, "The Idempotency-Key needs 1 to %d characters.", KeyLongest)
	}
	sum := sha256.Sum256(append([]byte(r.Header.Get("If-Match")+"\x00"), body...))
	q := idem.Request{Key: key, ActorID: actor, Route: r.Method + " " + r.URL.RequestURI(), BodyHash: sum[:]}
	a, again, err := answers.Do(r.Context(), q, func(ctx context.Context) (idem.Answer, error) {
		rec := &recorder{header: http.Header{}}
		if err := handle(rec, r.WithContext(ctx)); err != nil {
			return idem.Answer{}, err
		}
		return rec.answer(), nil
	})
	if err != nil {
		return err
	}
	h := w.Header()
	for name, values := range a.Headers {
		h[name] = values
	}
	if again {
		h.Set("Idempotency-Replayed", "true")
	}
	h.Set("Content-Length", strconv.Itoa(len(a.Body)))
	w.WriteHeader(a.Status)
	_, _ = w.Write(a.Body) // the client may be gone; it can ask again
	return nil
}

// recorder holds an answer back.
type recorder struct {
	header http.Header
	status int
	body   bytes.Buffer
}

func (r *recorder) Header() http.Header { return r.header }

func (r *recorder) WriteHeader(status int) {
	if r.status == 0 {
		r.status = status
	}
}

func (r *recorder) Write(b []byte) (int, error) {
	r.WriteHeader(http.StatusOK)
	return r.body.Write(b)
}

func (r *recorder) answer() idem.Answer {
	r.WriteHeader(http.StatusOK)
	r.header.Del("Set-Cookie") // never kept: a cookie is for one browser at one time
	return idem.Answer{Status: r.status, Headers: r.header, Body: r.body.Bytes()}
}
