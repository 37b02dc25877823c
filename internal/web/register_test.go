package web

import (
	"net/http"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"kerfbook/internal/access"
	"kerfbook/internal/workshop"
)

// registered is a box of another maker that belongs to somebody.
func (b *browser) registered(serial, owner string) int64 {
	b.t.Helper()
	b.get("/bench/boxes/new").submit("form[action='/bench/boxes/new']", "serial", serial, "description", "a round log hive", "maker", "somebody up the coast", "finished_on", "2025-03-02", "sold", "yes", "name", owner)
	b.has("h1", "Box "+serial)
	list, _, err := b.server.Workshop.BoxList(b.t.Context(), workshop.BoxFilter{Find: serial})
	require.NoError(b.t, err)
	return list[0].ID
}

func TestBoxIsSoldOnInTwoTaps(t *testing.T) {
	t.Parallel()
	b := withBees(t)
	id := b.registered("5724", "Ada Quill")
	at := hrefOf("box", id)
	b.get(at).has("a[href='"+at+"/sold-on']", "Sold on")
	b.get(at+"/sold-on").has(".lead", "Ada Quill").submit("form[action$=sold-on]", "name", " ")
	b.has(".is-wrong", "Say whose it is now.")
	b.submit("form[action$=sold-on]", "name", "Bram Oakshott")
	b.has(".said", "Box 5724 is with Bram Oakshott.").has("table", "Ada Quill").has("table", "Bram Oakshott")
	b.get(at+"/sold-on").submit("form[action$=sold-on]", "name", "Cleo", "from_at", "2024-01-01")
	b.has(".is-wrong", "Nobody can have had it before")
	b.submit("form[action$=sold-on]", "name", "Cleo", "from_at", time.Now().AddDate(0, 0, 3).Format(time.DateOnly))
	b.has(".is-wrong", "in the future")
	b.submit("form[action$=sold-on]", "name", "Cleo Marsh", "from_at", "2025-08-01", "note", "had it in between")
	b.has(".said", "is with Bram Oakshott").has("table", "had it in between")

	b.submit("form[action$=register-paper]")
	require.Equal(t, "application/pdf", b.Header.Get("Content-Type"))
	require.Equal(t, at+"/register/1.pdf", b.Path)
	b.get(at).has("a[href='"+at+"/register/1.pdf']", "5724-1")
	require.Equal(t, http.StatusNotFound, b.get(at+"/register/2.pdf").Status)
	require.Equal(t, http.StatusNotFound, b.get(at+"/register/x.pdf").Status)

	ours := b.newSerial()
	mine, err := b.server.Workshop.BoxBySerial(t.Context(), ours)
	require.NoError(t, err)
	b.get(hrefOf("box", mine.ID)+"/sold-on").has(".lead", "Sell it, so that")
	require.Zero(t, b.Find("form[action$=sold-on]").Length())
}

func TestStolenAndFoundOnPages(t *testing.T) {
	t.Parallel()
	b := withBees(t)
	id := b.registered("5724", "Ada Quill")
	at := hrefOf("box", id)
	b.get(at+"/stolen").has("form input[name=reported_by][value='Ada Quill']", "").submit("form[action$=stolen]", "stolen_at", time.Now().AddDate(0, 0, 2).Format(time.DateOnly))
	b.has(".is-wrong", "in the future")
	b.submit("form[action$=stolen]", "stolen_at", "2020-01-01")
	b.has(".is-wrong", "cannot have been stolen before")
	b.submit("form[action$=stolen]", "stolen_at", "2025-06-01")
	b.has(".said", "reported stolen").has(".late", "Reported stolen").hasNot("a[href$='/sold-on']")
	b.get(at+"/stolen").submit("form:has([name=police_reference])", "police_reference", "QP 7")
	b.has(".said", "The report is kept").has("table", "QP 7")
	b.get("/bench/boxes/stolen").has("table", "5724").has("table", "never")

	stranger := b.other()
	stranger.get("/found").has("h1", "Found a box?").hasNot("nav.contents").submit("form[action='/found']", "serial", "57 24")
	stranger.has(".wrong-top", "reported stolen on Sun 1 Jun 2025")
	require.NotContains(t, stranger.Text(), "Ada")
	require.NotContains(t, stranger.Text(), "QP")
	stranger.submit("form[action='/found']", "serial", "1007")
	stranger.has(".lead", "We know no box")
	stranger.submit("form[action='/found']", "serial", "5723")
	stranger.has(".is-wrong", "the last one checks the others")
	b.get("/bench/boxes/stolen").hasNot("td:contains('never')")

	b.get(at+"/stolen").submit("form[action$=recovered]", "recovered_at", "2025-05-01")
	b.has(".is-wrong", "It was stolen later")
	b.submit("form[action$=recovered]", "recovered_at", time.Now().Format(time.DateOnly), "how", "stood in the creek")
	b.has(".said", "it is found").has("table", "stood in the creek").hasNot(".late")
	stranger.submit("form[action='/found']", "serial", "5724")
	stranger.has(".lead", "is not reported stolen")
	for range 20 {
		stranger.submit("form[action='/found']", "serial", "5724")
	}
	require.Equal(t, http.StatusTooManyRequests, stranger.Status)
	stranger.has("main", "Too many numbers were typed")
}

func TestBoxIsFoundThoughTheSerialIsTypedWrongly(t *testing.T) {
	t.Parallel()
	b := withBees(t)
	id := b.registered("5724", "Ada Quill")
	require.Equal(t, hrefOf("box", id), b.get("/bench/boxes?serial=57+24").Path)
	for _, typed := range []string{"572", "5742", "5794", "57249"} {
		b.get("/bench/boxes?serial="+typed).has(".lead", "No box bears "+typed).has("table", "5724")
	}
	b.get("/bench/boxes?serial=999999").has(".lead", "nor one that is near")
	b.get("/bench/boxes?serial=blue").has(".lead", "4 to 8 digits")
	require.Equal(t, hrefOf("box", id), b.get("/find?q=572").Path, "the find line too")
}

// A helper sees the box and that it is stolen, and no names.
func TestHelperSeesNoOwners(t *testing.T) {
	t.Parallel()
	b := withBees(t)
	id := b.registered("5724", "Ada Quill")
	_, err := b.server.Answer.BoxStolen(t.Context(), workshop.StolenReport{BoxID: id, ReportedBy: "Ada Quill"})
	require.NoError(t, err)
	helper := b.other()
	helper.addAccount("hand", access.Helper)
	helper.signIn("hand")
	helper.get(hrefOf("box", id)).has(".late", "Reported stolen")
	require.NotContains(t, helper.Text(), "Quill")
	for _, page := range []string{"/sold-on", "/stolen", "/register/1.pdf"} {
		require.Equal(t, http.StatusForbidden, helper.get(hrefOf("box", id)+page).Status, page)
	}
}
