package eyes

import (
	"fmt"
	"net/http"
	"net/http/httptest"
	"testing"

	"github.com/stretchr/testify/require"
)

// The eyes themselves must see: a page with faults is reported, one without is not.
func TestEyesSeeFaults(t *testing.T) {
	t.Parallel()
	srv := httptest.NewServer(http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		w.Header().Set("Content-Type", "text/html")
		switch r.URL.Path {
		case "/good":
			fmt.Fprint(w, `<!doctype html><html lang="en"><head><meta name="viewport" content="width=device-width"><title>Good</title></head><body><main><h1>Good</h1>
<form action="/next"><p><label for="n">Name</label><br><input id="n" name="n" style="height:48px"></p><button style="height:48px;width:90px">Send it</button></form></main></body></html>`)
		case "/next":
			fmt.Fprintf(w, `<!doctype html><html lang="en"><head><title>Next</title></head><body><main><h1>Hello %s</h1></main></body></html>`, r.URL.Query().Get("n"))
		default:
			fmt.Fprint(w, `<!doctype html><html><head><meta name="viewport" content="width=device-width"><title>Bad</title></head><body><main><h1>Bad</h1><div style="width:900px">wide</div>
<input name="n" style="height:20px"></main><script>console.error("ouch")</script></body></html>`)
		}
	}))
	t.Cleanup(srv.Close)
	b := Open(t, srv.URL, Phone)
	b.Go("/good").Look().Fill("n", "Ada").Press("send it").Has("Hello Ada")

	recorder := &noter{TB: t}
	b.tb = recorder
	b.Go("/bad").Look()
	b.tb = t
	require.Contains(t, recorder.said, "console error")
	require.Contains(t, recorder.said, "axe label")
	require.Contains(t, recorder.said, "axe html-has-lang")
	require.Contains(t, recorder.said, "wider than the screen")
	require.Contains(t, recorder.said, "target only 26 px high")
}

// noter collects errors in place of failing.
type noter struct {
	testing.TB
	said string
}

func (n *noter) Errorf(format string, args ...any) { n.said += fmt.Sprintf(format, args...) + "\n" }
