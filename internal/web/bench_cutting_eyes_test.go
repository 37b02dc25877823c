package web

import (
	"os"
	"path/filepath"
	"strconv"
	"testing"

	"github.com/shopspring/decimal"
	"github.com/stretchr/testify/require"

	"kerfbook/internal/calc/hive"
	"kerfbook/internal/eyes"
	"kerfbook/internal/timber"
	"kerfbook/internal/workshop"
)

// The pages of the saw on a phone and on a desk: drawings with figures to read, targets for
// a thumb, no rule of axe-core broken, with everything unfolded. KERFBOOK_TEST_PICTURES
// names a folder to keep pictures and papers in.
func TestCuttingPagesToTheEye(t *testing.T) {
	t.Parallel()
	s := newShop(t)
	ctx := t.Context()
	kinds, err := s.server.Timber.SpeciesList(ctx, false)
	require.NoError(t, err)
	species := kinds[0].ID
	m := hive.Ready()[0].Model
	m.Parts[6].BoardSize.WidthMM, m.Parts[6].Count = 100, 1
	m.Parts[6].Strips = &hive.Strips{Count: 3, WidthMM: 280}
	m.Parts[1].Grade = "sound"
	model, err := s.server.Workshop.ModelSave(ctx, workshop.Model{Code: "saw-test", Name: "Two-tier 230"})
	require.NoError(t, err)
	rev, err := s.server.Workshop.RevisionAdd(ctx, workshop.Drawing{ModelID: model.ID, Body: m})
	require.NoError(t, err)
	seen := map[hive.BoardSize]bool{}
	for i, p := range m.Parts {
		if seen[p.BoardSize] {
			continue
		}
		seen[p.BoardSize] = true
		for j, length := range []int{2400, 1850, 900} {
			_, err := s.server.Timber.LotIn(ctx, timber.LotKey{SpeciesID: species, WidthMM: decimal.NewFromFloat(p.BoardSize.WidthMM), ThicknessMM: decimal.NewFromFloat(p.BoardSize.ThicknessMM), LengthMM: length, Place: "rack " + strconv.Itoa(i+1), Offcut: j == 2},
				4-j, timber.Opening, s.db.Now(), "")
			require.NoError(t, err)
		}
	}
	var ids []int64
	for _, n := range []int{3, 2} {
		b, err := s.server.Workshop.BuildMake(ctx, workshop.BuildNew{RevisionID: rev.ID, Quantity: n, SpeciesID: species})
		require.NoError(t, err)
		ids = append(ids, b.ID)
	}
	cut, err := s.server.Workshop.CuttingTogether(ctx, ids)
	require.NoError(t, err)
	pin := int64(0)
	for id, l := range cut.Lots {
		if l.LengthMM == 1850 && l.WidthMM.String() == "90" {
			pin = id
		}
	}
	cut, err = s.server.Workshop.CuttingChoose(ctx, cut.ID, workshop.Choices{Pinned: []int64{pin}})
	require.NoError(t, err)
	cut, err = s.server.Workshop.CuttingPutAside(ctx, cut.ID)
	require.NoError(t, err)
	cut, err = s.server.Workshop.CuttingDone(ctx, cut.ID, cut.Plans[0].ID, 0, 1, s.db.Now())
	require.NoError(t, err)
	dir := os.Getenv("KERFBOOK_TEST_PICTURES")
	if dir != "" {
		pdf, _, err := s.server.Answer.CuttingCard(ctx, cut.ID)
		require.NoError(t, err)
		require.NoError(t, os.WriteFile(filepath.Join(dir, "cutting-card.pdf"), pdf, 0o600))
		pdf, _, err = s.server.Answer.JobCard(ctx, ids[0])
		require.NoError(t, err)
		require.NoError(t, os.WriteFile(filepath.Join(dir, "job-card.pdf"), pdf, 0o600))
		pdf, _, err = s.server.Answer.PartLabels(ctx, ids[0], 3)
		require.NoError(t, err)
		require.NoError(t, os.WriteFile(filepath.Join(dir, "part-labels.pdf"), pdf, 0o600))
	}
	for _, size := range []eyes.Size{eyes.Phone, eyes.Desk} {
		b := eyes.Open(t, s.base, size)
		b.Go("/sign-in").Fill("sign_in", "maker", "password", testPassword).Press("Sign in")
		for name, path := range map[string]string{"bench": "/bench", "build": hrefOf("build", ids[0]), "cutting": hrefOf("cutting", cut.ID), "labels": "/settings/labels", "revision": "/bench/revisions/" + idText(rev.ID)} {
			b.Go(path)
			if dir != "" {
				b.Picture(filepath.Join(dir, size.Name+"-"+name+".png"))
			}
			b.Unfold().Look()
		}
	}
}
