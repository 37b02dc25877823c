package web

import (
	"encoding/json"
	"fmt"
	"os"
	"path/filepath"
	"runtime"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"kerfbook/internal/eyes"
	"kerfbook/internal/searches"
)

// The page of a search that runs or waits comes anew by itself and has a button to stop;
// stopped, it has ended with an answer that can be taken.
func TestLookLongerPage(t *testing.T) {
	t.Parallel()
	b := newBrowser(t)
	b.addTimber()
	b.get("/bench/models").submit("form[action='/bench/models']", "name", "Small box", "code", "small", "start", "two-tier-230").submit("form[action='/bench/models/1/draw']")
	b.get("/bench/builds/new").submit("form[action='/bench/builds/new']", "species_id", "1", "revision_id", "1", "quantity", "2")
	b.get("/bench/builds/1/longer").submit("form[action='/bench/builds/1/longer/start']", "seconds", "60")
	b.has(".wrong-top", "nothing to plan")
	build, err := b.server.Workshop.BuildGet(t.Context(), 1)
	require.NoError(t, err)
	for _, p := range build.Parts {
		b.get("/timber/lots/new").submit("form[action='/timber/lots/new']", "species_id", "1", "width_mm", figureText(p.WidthMM.InexactFloat64()), "thickness_mm", figureText(p.ThicknessMM.InexactFloat64()), "length_mm", "2430", "count", "4")
	}
	for range min(5, max(1, runtime.GOMAXPROCS(0)/2)) { // others keep the server busy
		_, err := b.server.Searches.Start(t.Context(), searches.Ask{AccountID: 1, Topic: "cutting", Input: json.RawMessage(endless)})
		require.NoError(t, err)
	}
	b.get("/bench/builds/1").has("main", "Look longer for a better cutting plan")
	b.get("/bench/builds/1/longer").submit("form[action='/bench/builds/1/longer/start']", "seconds", "60")
	b.get("/bench/builds/1/longer")
	eyesOn(t, b, "runs")
	if runtime.GOMAXPROCS(0) < 12 {
		require.Equal(t, lookAgain, b.Header.Get("Refresh"))
		b.has("main", "How far is it now?").has("tbody", "waits for its turn")
		b.submit("form[action='/bench/builds/1/longer/stop']").has(".said", "It stops")
	}
	require.Eventually(t, func() bool {
		return b.get("/bench/builds/1/longer").Find("form[action='/bench/builds/1/longer/take']").Length() == 1
	}, time.Minute, 50*time.Millisecond)
	require.Empty(t, b.Header.Get("Refresh"))
	b.has("main", "The search has ended")
	eyesOn(t, b, "ended")
}

// eyesOn looks at the page of the search at both sizes.
func eyesOn(t *testing.T, b *browser, name string) {
	t.Helper()
	for _, size := range []eyes.Size{eyes.Phone, eyes.Desk} {
		e := eyes.Open(t, b.base, size)
		e.Go("/sign-in").Fill("sign_in", "maker", "password", testPassword).Press("Sign in")
		e.Go("/bench/builds/1/longer")
		if dir := os.Getenv("KERFBOOK_TEST_PICTURES"); dir != "" {
			e.Picture(filepath.Join(dir, size.Name+"-longer-"+name+".png"))
		}
		e.Unfold().Look()
	}
}

// endless is a cutting that no desk computer proves in minutes.
var endless = func() string {
	in := `{"kerf_mm":3.175,"time_limit_ms":120000,"boards":[`
	for i := range 12 {
		in += fmt.Sprintf(`{"id":"b%d","length_mm":%g,"count":10},`, i, float64(2400125+133333*i)/1000)
	}
	in = in[:len(in)-1] + `],"parts":[`
	for i := range 60 {
		in += fmt.Sprintf(`{"id":"p%d","length_mm":%g,"count":4},`, i, float64(100001+7770*i)/1000)
	}
	return in[:len(in)-1] + `]}`
}()
