package web

import (
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/shopspring/decimal"
	"github.com/stretchr/testify/require"

	"kerfbook/internal/eyes"
	"kerfbook/internal/timber"
)

// The pages of dressing, cost and purchases on a phone and on a desk: nothing cut off,
// targets for a thumb, and no rule of axe-core broken, with everything unfolded.
// KERFBOOK_TEST_PICTURES names a folder to keep pictures in.
func TestDressingPagesToTheEye(t *testing.T) {
	t.Parallel()
	b := newBrowser(t)
	ctx, species, now := t.Context(), b.addTimber(), b.db.Now()
	mm := decimal.NewFromInt
	log, err := b.server.Timber.LogSave(ctx, timber.Log{SpeciesID: species, SmallEndMM: mm(380), LargeEndMM: mm(430), LengthMM: mm(3600), CostMinor: 18000, HaulageMinor: 4500}, false)
	require.NoError(t, err)
	p, err := b.server.Timber.PackStack(ctx, timber.PackNew{SpeciesID: species, WidthMM: mm(110), ThicknessMM: mm(32), LogID: &log.ID, Place: "north shed", StackedOn: now.AddDate(0, -6, 0).Truncate(24 * 3600e9),
		DressesTo: &timber.Size{WidthMM: mm(100), ThicknessMM: mm(28)}, CostMinor: 26400, Content: []timber.Content{{LengthMM: 2400, Grade: "sound", Count: 20}, {LengthMM: 1800, Grade: "knotty", Count: 10}}})
	require.NoError(t, err)
	_, err = b.server.Timber.PackDress(ctx, timber.Dressing{PackID: p.ID, At: now, Place: "rack 2", Minutes: 95, By: "Jo", DockedFor: "checks", Taken: []timber.Content{{LengthMM: 2400, Grade: "sound", Count: 12}},
		Boards: []timber.DressedLot{{WidthMM: mm(100), ThicknessMM: mm(28), LengthMM: 2260, Count: 9}, {WidthMM: mm(48), ThicknessMM: mm(28), LengthMM: 2400, Count: 4}}})
	require.NoError(t, err)
	sup, err := b.server.Timber.SupplierSave(ctx, timber.Supplier{Name: "Old Landing Timber Yard", Phone: "07 5550 0199", LeadDays: 12})
	require.NoError(t, err)
	line := timber.PurchaseLine{Brings: timber.BringsBoards, Quantity: 6, CostExTaxMinor: 7200}
	wide, thick, length := mm(150), mm(28), 2400
	line.SpeciesID, line.WidthMM, line.ThicknessMM, line.LengthMM = &species, &wide, &thick, &length
	_, err = b.server.Timber.PurchaseOrder(ctx, timber.Purchase{SupplierID: &sup.ID, OrderedOn: now.AddDate(0, 0, -30).Truncate(24 * 3600e9), Lines: []timber.PurchaseLine{line}})
	require.NoError(t, err)

	paths := []string{"/timber", "/timber/packs/1", "/timber/packs/1/dress", "/timber/lots/1", "/timber/lots/1/rip", "/timber/count", "/timber/species/" + idText(species), "/timber/suppliers", "/timber/suppliers/1",
		"/timber/purchases", "/timber/purchases/1", "/timber/purchases/new", "/timber/purchases/new?of=boards", "/timber/purchases/new?of=log"}
	for _, size := range []eyes.Size{eyes.Phone, eyes.Desk} {
		e := eyes.Open(t, b.base, size)
		e.Go("/sign-in").Fill("sign_in", "maker", "password", testPassword).Press("Sign in")
		for _, path := range paths {
			e.Go(path)
			if dir := os.Getenv("KERFBOOK_TEST_PICTURES"); dir != "" {
				e.Picture(filepath.Join(dir, size.Name+strings.NewReplacer("/", "-", "?", "-", "=", "-").Replace(path)+".png"))
			}
			e.Unfold().Look()
		}
	}
}
