package web

import (
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"kerfbook/internal/eyes"
)

// The build page sets real minutes beside the standard and beside what the buyer of one of
// the two boxes was quoted, operation by operation: 60 minutes on docking, which stands at 15
// and 8 a piece.
func TestBuildPageShowsQuotedAndRealTime(t *testing.T) {
	t.Parallel()
	b := oneBuild(t)
	for _, sql := range []string{
		`INSERT INTO party (name) VALUES ('Ada Quill')`, `INSERT INTO sale_order (number, party_id, happened_at) VALUES ('K1', 1, now())`,
		`INSERT INTO order_line (order_id, position, kind, description, quantity, unit_price_minor, price_ex_tax_minor, tax_minor, price_minor, model_revision_id) VALUES (1, 1, 'box', 'box', 1, 1, 1, 0, 1, 1)`,
		`INSERT INTO order_unit (order_line_id, n, wants_box) VALUES (1, 1, true)`, `UPDATE build_output SET order_unit_id = 1 WHERE n = 1`,
	} {
		_, err := b.db.Exec(t.Context(), sql)
		require.NoError(t, err)
	}
	b.get("/bench/builds/1").hasNot("summary:contains('Quoted and real time')")
	build, err := b.server.Workshop.BuildGet(t.Context(), 1)
	require.NoError(t, err)
	o := build.Operations[0]
	require.Equal(t, []any{"dock", 15, "8"}, []any{o.Name, o.SetupMin, o.PieceMin.String()})
	b.submit("form[action='/bench/builds/1/time']", "operation_id", idText(o.ID), "minutes", "60")
	b.get("/bench/builds/1").submit("form[action='/bench/operations/" + idText(o.ID) + "/done']")
	row := func(title, name string) string {
		rows := b.Find("main h2:contains('" + title + "'), main summary:contains('" + title + "')").First().NextFiltered("div.wide").Find("tbody tr")
		for i := range rows.Nodes {
			if text := strings.Join(strings.Fields(rows.Eq(i).Text()), " "); strings.HasPrefix(text, name) {
				return text
			}
		}
		return ""
	}
	require.Contains(t, row("Operations", "dock"), "31 min1 hdone, 29 min over", "by hand: 15 + 2 x 8 = 31")
	require.Equal(t, "dock23 min30 min7 min over", row("Quoted and real time of 1 ordered box", "dock"), "by hand: 15 + 8 = 23, and half of the hour")
	require.Contains(t, row("Quoted and real time of 1 ordered box", "In all"), "so far")
	for _, size := range []eyes.Size{eyes.Phone, eyes.Desk} {
		e := eyes.Open(t, b.base, size)
		e.Go("/sign-in").Fill("sign_in", "maker", "password", testPassword).Press("Sign in")
		e.Go("/bench/builds/1")
		if dir := os.Getenv("KERFBOOK_TEST_PICTURES"); dir != "" {
			e.Picture(filepath.Join(dir, size.Name+"-build-times.png"))
		}
		e.Look()
	}
}
