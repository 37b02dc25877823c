package web

import (
	"net/http"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"kerfbook/internal/answer"
)

// aColony enters a settled colony; in a box when a serial is given.
func (b *browser) aColony(serial string) {
	b.t.Helper()
	b.get("/bees/colonies/new").submit("main form", "species_id", "1", "dwelling", "log", "box_id", serial, "began_on", "2024-02-01", "settled_on", "2024-06-01", "species_sure", "yes", "place", "behind the shed")
	require.Equal(b.t, http.StatusOK, b.Status)
}

func (b *browser) holdBack(colony, because string) {
	b.t.Helper()
	b.get("/bees/colonies/"+colony).submit("form[action$='/mark']", "mark", "held back", "because", because)
	b.has(".lead", "held back: "+because)
}

func TestAHeldBackColonyOnTheRunPage(t *testing.T) {
	t.Parallel()
	b := withBees(t)
	unit := b.readyUnit()
	b.aColony("")
	run, err := b.server.Answer.RunMake(t.Context(), answer.NewRun{On: time.Now().AddDate(0, 0, 2), UnitIDs: []int64{unit}})
	require.NoError(t, err)
	_, err = b.db.Exec(t.Context(), `UPDATE run_stop SET colony_id = 1 WHERE run_id = $1`, run.ID)
	require.NoError(t, err)
	b.get("/runs/1").hasNot("input[name=in_spite]")
	b.holdBack("1", "mites")
	b.server.Day = b.server.Answer
	b.get("/").has("main", "is to take colony C0001, which is held back: mites").get("/runs/1").has(".lines", "C0001 is held back (mites). Leave it where it is")
	b.submit("form[action='/runs/1']:has(input[name=stop])", "mark", "done")
	require.Equal(t, http.StatusConflict, b.Status)
	b.has(".wrong-top", "the owner says why")
	b.submit("form[action='/runs/1']:has(input[name=stop])", "mark", "done", "in_spite", "the inspector took it")
	b.has("main", "All stops are done")
	b.get("/bees/colonies/1").has("table", "in spite of being held back (mites): the inspector took it")
}

func TestAHeldBackColonyIsSplitHousedAndFollowedOnlyWithAReason(t *testing.T) {
	t.Parallel()
	b := withBees(t)
	b.aColony("")
	b.get("/bees/colonies/1").hasNot("input[name=in_spite]")
	b.holdBack("1", "mites")
	serial := b.newSerial()
	b.get("/bees/colonies/1").submit("form[action$='/house']", "dwelling", "other", "description", "a crate")
	require.Equal(t, http.StatusConflict, b.Status)
	b.has("form[action$='/house'] .is-wrong", "is not moved until it is released")
	b.submit("form[action$='/house']", "in_spite", "into quarantine")
	b.has("table", "into quarantine")
	b.get("/bees/colonies/1/split").submit("form[action$='/split']", "serial", serial)
	require.Equal(t, http.StatusConflict, b.Status)
	b.submit("form[action$='/split']", "in_spite", "done before I saw them")
	b.get("/bees/colonies/2").has(".lead", "held back: as its parent C0001: mites")

	b.get("/bees/colonies/new").submit("main form", "species_id", "1", "dwelling", "log", "parents", "C0001")
	require.Equal(t, http.StatusConflict, b.Status)
	b.submit("main form", "in_spite", "brood was given by mistake")
	b.has(".lead", "held back: as its parent C0001: mites")
}
