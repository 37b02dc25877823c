package web

import (
	"fmt"
	"net/http"
	"testing"
	"time"

	"github.com/shopspring/decimal"
	"github.com/stretchr/testify/require"

	"kerfbook/internal/apiary"
	"kerfbook/internal/sales"
)

// waitsForColony makes an order for a colony of the first kind at a place in a region.
func (b *browser) waitsForColony(name, region string, deposit int64, promised *time.Time) sales.Order {
	b.t.Helper()
	ctx := b.t.Context()
	p, err := b.server.Sales.PartyPut(ctx, sales.Party{Name: name})
	require.NoError(b.t, err)
	site, err := b.server.Sales.SitePut(ctx, sales.Site{PartyID: &p.ID, Town: "Upper Moor", Region: region})
	require.NoError(b.t, err)
	species := int64(1)
	l := sales.Line{Kind: "colony", Description: "Colony", Quantity: decimal.NewFromInt(1), BeeSpeciesID: &species, TaxCode: "standard", UnitPriceMinor: 50000, PriceExTaxMinor: 50000, PriceMinor: 50000, ColonyOn: promised}
	o, err := b.server.Sales.OrderMake(ctx, sales.NewOrder{PartyID: p.ID, SiteID: &site.ID, OwnBox: true, DepositMinor: deposit, Lines: []sales.Line{l}})
	require.NoError(b.t, err)
	return o
}

func (b *browser) readyColony() apiary.Colony {
	b.t.Helper()
	on := time.Date(2024, 5, 1, 0, 0, 0, 0, time.UTC)
	c, err := b.server.Apiary.ColonyMake(b.t.Context(), apiary.NewColony{SpeciesID: 1, SpeciesSure: true, Dwelling: "log", BeganOn: &on, SettledOn: &on})
	require.NoError(b.t, err)
	return c
}

func TestLinePage(t *testing.T) {
	t.Parallel()
	b := withBees(t)
	b.get("/bees/line/1").has(".lead", "Nobody stands in this line").hasNot("figure.curve")
	require.Equal(t, http.StatusNotFound, b.get("/bees/line/99").Status)
	soon := time.Now().UTC().Truncate(24*time.Hour).AddDate(0, 0, 20)
	b.waitsForColony("Ada Quill", "QLD", 0, nil)
	second := b.waitsForColony("Bert Marl", "VIC", 0, &soon)
	unpaid := b.waitsForColony("Cleo Dent", "QLD", 10000, nil)
	ready, mother := b.readyColony(), b.readyColony()
	b.get(fmt.Sprintf("/bees/colonies/%d", mother.ID)).has("dl", "the line of buyers").submit("form[action$='/mark']", "mark", "keep")
	b.has("dl", "kept to be split").has("table", "Kept to be split")

	b.get("/bees").has("table", "Tetragonula carbonaria").get("/ask").has("main", "2 in the line, 1 ready")
	b.get("/bees/line/1").has("table", "Ada Quill").has(".late", "Late:").has(".caution", "does not live in VIC by nature").has(".caution", "local rules come first").has("main", "the deposit is still to come")
	b.has("figure.curve figcaption", "Place 2, Bert Marl: second in the line").has("figure.curve", "promised ").has(".margin", "1 ready, 0 settling, 1 kept to be split")
	b.get(fmt.Sprintf("/orders/%d", second.ID)).has("main", "Second in the line for Tetragonula carbonaria").has(".caution", "local club")
	b.get(fmt.Sprintf("/orders/%d", unpaid.ID)).has("main", "Not in the line yet")

	move := "form[action$='/line/1/move']"
	bert := fmt.Sprint(second.Lines[0].Units[0].ID)
	b.get("/bees/line/1").submit(move, "unit_id", bert, "before_unit_id", "1", "reason", " ")
	require.Equal(t, http.StatusUnprocessableEntity, b.Status)
	b.has(".is-wrong", "Say why")
	b.submit(move, "unit_id", bert, "before_unit_id", "1", "reason", "for the school")
	b.has(".said", "stay in the book").has("table", "before Ada Quill").has("table", "moved: for the school")
	b.submit("form[action$='/line/1/give']", "one", "nonsense")
	require.Equal(t, http.StatusUnprocessableEntity, b.Status)
	b.get("/bees/line/1").submit("form[action$='/line/1/give']")
	b.has(".said", "Colony "+ready.Number+" is put aside for Bert Marl.").hasNot("form[action$='/line/1/give']")
	b.get("/bees/line/1?unit=x").has("figure.curve figcaption", "Ada Quill").get("/bees/line/1?unit="+bert).has("figure.curve figcaption", "Ada Quill")
}
