package door

import (
	"encoding/json"
	"net/http"
	"strconv"
)

// Refuse answers a request with the problem of err.
func Refuse(w http.ResponseWriter, r *http.Request, err error) {
	p := ProblemOf(err)
	p.RequestID = RequestID(r.Context())
	body, encErr := json.Marshal(p)
	if encErr != nil { // a Problem is strings and numbers only
		body = []byte(`{"type":"` + problemType + `internal","title":"Something went wrong here","status":500,"detail":""}`)
		p.Status = http.StatusInternalServerError
	}
	h := w.Header()
	h.Set("Content-Type", ProblemMedia)
	h.Set("Content-Length", strconv.Itoa(len(body)))
	h.Set("Cache-Control", "no-store")
	if p.RetryAfter != "" {
		h.Set("Retry-After", p.RetryAfter)
	}
	if p.Status == http.StatusUnauthorized {
		h.Set("WWW-Authenticate", `Bearer realm="kerfbook"`)
	}
	w.WriteHeader(p.Status)
	if r.Method != http.MethodHead {
		_, _ = w.Write(body) // the client may be gone
	}
}
