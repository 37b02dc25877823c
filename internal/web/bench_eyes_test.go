package web

import (
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"kerfbook/internal/eyes"
	"kerfbook/internal/workshop"
)

// The plan of the bench on a phone and on a desk, with a slip and with a proposal. KERFBOOK_TEST_PICTURES names a
// folder to keep pictures in.
func TestPlanToTheEye(t *testing.T) {
	t.Parallel()
	s := newShop(t)
	ctx := t.Context()
	m, err := s.server.Workshop.ModelGet(ctx, s.model)
	require.NoError(t, err)
	woods, err := s.server.Timber.SpeciesList(ctx, false)
	require.NoError(t, err)
	var last workshop.Build
	for i := range 7 {
		due := s.db.Now().AddDate(0, 0, 2+3*i)
		due = time.Date(due.Year(), due.Month(), due.Day(), 0, 0, 0, 0, time.UTC)
		last, err = s.server.Workshop.BuildMake(ctx, workshop.BuildNew{RevisionID: *m.LatestID, Quantity: 6, SpeciesID: woods[0].ID, DueOn: &due})
		require.NoError(t, err)
	}
	p, err := s.server.Workshop.PlanLay(ctx, "the week", workshop.PlanChange{})
	require.NoError(t, err)
	_, err = s.server.Workshop.PlanAccept(ctx, p.ID)
	require.NoError(t, err)
	look := func(name string, paths ...string) {
		for _, size := range []eyes.Size{eyes.Phone, eyes.Desk} {
			b := eyes.Open(t, s.base, size)
			b.Go("/sign-in").Fill("sign_in", "maker", "password", testPassword).Press("Sign in")
			for _, path := range paths {
				b.Go(path)
				if dir := os.Getenv("KERFBOOK_TEST_PICTURES"); dir != "" {
					b.Picture(filepath.Join(dir, size.Name+"-"+name+strings.ReplaceAll(path, "/", "-")+".png"))
				}
				b.Unfold().Look()
			}
		}
	}
	look("standing", "/bench", "/bench/plan", "/bench/promises")
	_, err = s.server.Workshop.PlanLay(ctx, "sooner", workshop.PlanChange{BuildID: last.ID, Move: -1})
	require.NoError(t, err)
	look("proposed", "/bench/plan")
}
