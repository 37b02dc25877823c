package rest

import (
	"net/http"
	"net/http/httptest"
	"strings"
)

// request gives a bare request and a place for its answer, for what the client of the
// conformance tests would refuse.
func request(method, path, body string) (*http.Request, *httptest.ResponseRecorder) {
	return httptest.NewRequest(method, path, strings.NewReader(body)), httptest.NewRecorder()
}
