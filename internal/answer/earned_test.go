package answer_test

import (
	"testing"

	"github.com/stretchr/testify/require"

	"kerfbook/internal/fault"
)

// Two boxes of one order, worked by hand: 300.00 each without tax, overhead 10 %, an hour
// 60.00, a kilometre 0.90, wanted margin 40 %.
func TestEarnedQuotedAgainstReal(t *testing.T) {
	t.Parallel()
	w := newWorld(t)
	_, err := w.db.Exec(t.Context(), `WITH o AS (INSERT INTO sale_order (number, party_id, happened_at) VALUES ('S900', $1, now()) RETURNING id),
l AS (INSERT INTO order_line (order_id, position, kind, description, quantity, unit_price_minor, price_ex_tax_minor, tax_minor, price_minor, cost_minor, model_revision_id, timber_species_id, needs)
	SELECT id, 1, 'box', 'Box', 2, 30000, 60000, 6000, 66000, 40000, $2, $3,
	'{"piece_minutes": 150, "cost": [{"kind": "timber", "what": "", "cost_minor": 16000}, {"kind": "labour", "what": "", "cost_minor": 20000}]}'::jsonb FROM o RETURNING id),
u AS (INSERT INTO order_unit (order_line_id, n, wants_box, handed_over_at) SELECT id, n, true, '2026-02-10 03:00Z' FROM l, generate_series(1, 2) n RETURNING id, n),
b AS (INSERT INTO build (number, model_revision_id, quantity, finished_at) VALUES ('B900', $2, 2, '2026-02-01') RETURNING id),
q AS (INSERT INTO build_operation (build_id, position, name) SELECT id, 1, 'all' FROM b RETURNING id),
a AS (INSERT INTO account (sign_in, name, role, password_hash) VALUES ('m', 'M', 'owner', 'x') RETURNING id),
s AS (INSERT INTO time_spell (build_operation_id, account_id, started_at, stopped_at) SELECT q.id, a.id, '2026-01-30 00:00Z', '2026-01-30 03:00Z' FROM q, a),
p AS (INSERT INTO build_output (build_id, n) SELECT id, n FROM b, generate_series(1, 2) n),
x AS (INSERT INTO box (serial, model_revision_id, build_id, finished_at, cost_minor) SELECT '90001', $2, id, '2026-02-01', 15000 FROM b RETURNING id),
r AS (INSERT INTO run (number, run_on, km) VALUES ('R900', '2026-02-10', 30) RETURNING id),
k AS (INSERT INTO run_stop (run_id, position, what) SELECT id, 1, 'x' FROM r RETURNING id),
h AS (INSERT INTO handover (number, order_unit_id, run_stop_id, box_id, happened_at, received_by) SELECT 'H900', u.id, k.id, x.id, '2026-02-10 03:00Z', 'Ottoline' FROM u, k, x WHERE u.n = 1 RETURNING id)
INSERT INTO guarantee_claim (handover_id, happened_at, what, decided_at, decision, cost_minor) SELECT id, now(), 'lid', now(), 'repaired', 1500 FROM h`, w.buyer.ID, w.rev.ID, w.species.ID)
	require.NoError(t, err)
	e, err := w.Earned(t.Context(), day("2026-02-10"), day("2026-02-10"), "model")
	require.NoError(t, err)
	require.Len(t, e.Jobs, 2)
	real, quoted := e.Jobs[0], e.Jobs[1]
	// Three hours over two boxes: 90 minutes, 90.00, with overhead 99.00. The rest of the
	// box's 150.00 is material: 60.00, with overhead 66.00.
	require.True(t, real.Real)
	require.Equal(t, []int64{9900, 6600, 2000, 2700, 1500}, []int64{real.Labour, real.Material, real.Other, real.Run, real.Guarantee})
	require.Equal(t, int64(30000-9900-6600-2000-2700-1500), real.Left())
	require.False(t, quoted.Real)
	require.Equal(t, []int64{10000, 8000, 2000, 0, 0}, []int64{quoted.Labour, quoted.Material, quoted.Other, quoted.Run, quoted.Guarantee})
	require.Equal(t, quoted.Quoted, quoted.Cost())
	require.InDelta(t, 150, quoted.Minutes, 1e-9)
	require.Len(t, e.Groups, 1)
	require.Equal(t, w.model.Name, e.Groups[0].Name)
	require.Equal(t, real.Left()+quoted.Left(), e.Sum.Left())
	require.Equal(t, (e.Sum.Left()+19900)/4, e.Sum.HourMinor(), "four hours")
	require.Len(t, e.Models, 1)
	// The boxes alone: 165.00 and 15.00 of guarantee, 180.00; over 0.6 that is 300.00.
	require.Equal(t, []int64{18000, 30000}, []int64{e.Models[0].CostEach, e.Models[0].Wanted})
	require.False(t, e.Models[0].Loses)
	for by, name := range map[string]string{"timber": w.species.Name, "month": "2026-02", "class": "list price", "found": "not said"} {
		e, err := w.Earned(t.Context(), day("2026-02-10"), day("2026-02-10"), by)
		require.NoError(t, err)
		require.Equal(t, name, e.Groups[0].Name)
	}
	none, err := w.Earned(t.Context(), day("2026-02-11"), day("2026-02-11"), "model")
	require.NoError(t, err)
	require.Empty(t, none.Jobs)
	_, err = w.Earned(t.Context(), day("2026-02-11"), day("2026-02-10"), "model")
	require.True(t, fault.Is(err, fault.Invalid))
	_, err = w.Earned(t.Context(), day("2026-02-10"), day("2026-02-10"), "moon")
	require.True(t, fault.Is(err, fault.Invalid))
}
