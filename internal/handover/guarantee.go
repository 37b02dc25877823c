package handover

import (
	"context"
	"strings"
	"time"

	"github.com/jackc/pgx/v5"

	"kerfbook/internal/fault"
	"kerfbook/internal/house"
	"kerfbook/internal/postgres"
)

// GuaranteeClaim is a claim on the guarantee.
type GuaranteeClaim struct {
	ID         int64      `db:"id"`
	Version    int        `db:"version"`
	HandoverID int64      `db:"handover_id"`
	About      string     `db:"about"`       // box or colony
	HappenedAt time.Time  `db:"happened_at"` // when it was asked for, or the loss
	What       string     `db:"what"`
	UntilOn    *time.Time `db:"until_on"` // last day of the guarantee; nil: not known, or none
	DecidedAt  *time.Time `db:"decided_at"`
	DecidedBy  string     `db:"decided_by"`
	Decision   *string    `db:"decision"` // replaced, repaired, refunded, declined
	CostMinor  *int64     `db:"cost_minor"`
	Note       string     `db:"note"` // the reason of the decision
	Number     string     `db:"number"`
	PartyName  string     `db:"party_name"`
}

// DaysLate is by how many days the claim came after the guarantee had ended; 0 within it
// or where its end is not known.
func (g GuaranteeClaim) DaysLate(loc *time.Location) int {
	if g.UntilOn == nil {
		return 0
	}
	return max(0, int(house.DateIn(g.HappenedAt, loc).Sub(*g.UntilOn).Hours()/24))
}

const guaranteeSelect = `SELECT g.id, g.version, g.handover_id, g.about, g.happened_at, g.what, g.until_on, g.decided_at, g.decided_by, g.decision, g.cost_minor, g.note, h.number, p.name AS party_name
FROM guarantee_claim g JOIN handover h ON h.id = g.handover_id JOIN order_unit u ON u.id = h.order_unit_id JOIN order_line l ON l.id = u.order_line_id JOIN sale_order o ON o.id = l.order_id JOIN party p ON p.id = o.party_id `

// GuaranteeNew is a claim to be opened.
type GuaranteeNew struct {
	HandoverID int64
	About      string // box or colony; empty: the colony where one was handed over without a box
	What       string
	HappenedAt time.Time  // zero: now, or the day of the loss
	LostOn     *time.Time // for a loss told of later
}

// GuaranteeOpen opens a claim on the guarantee of a handover. One that comes after the
// guarantee has ended is kept all the same: rights under consumer law may go further.
// Errors: Invalid; NotFound.
func (r *Room) GuaranteeOpen(ctx context.Context, n GuaranteeNew) (GuaranteeClaim, error) {
	n.What = strings.TrimSpace(n.What)
	var id int64
	err := r.db.WithTx(ctx, func(ctx context.Context, tx pgx.Tx) error {
		set, err := house.SettingsIn(ctx, tx)
		if err != nil {
			return err
		}
		h, err := r.Get(ctx, n.HandoverID)
		if err != nil {
			return err
		}
		if n.About == "" {
			n.About = map[bool]string{true: "colony", false: "box"}[h.BoxID == nil && h.ColonyID != nil]
		}
		now := r.db.Now()
		if n.HappenedAt.IsZero() {
			n.HappenedAt = now
			if n.LostOn != nil {
				n.HappenedAt = time.Date(n.LostOn.Year(), n.LostOn.Month(), n.LostOn.Day(), 12, 0, 0, 0, set.Location())
			}
			if n.HappenedAt.After(now) {
				n.HappenedAt = now
			}
		}
		var l fault.List
		l.Check(n.What != "", "/what", "Say what is wrong.")
		l.Text("/what", n.What, 20000)
		l.Check(n.About == "box" || n.About == "colony", "/about", "A claim is about the box or the colony.")
		l.Check(n.About != "colony" || h.ColonyID != nil, "/about", "No colony went with this handover.")
		l.Check(!n.HappenedAt.After(now.Add(time.Hour)), "/happened_at", "This has not come yet.")
		if err := l.Err(); err != nil {
			return err
		}
		until := h.BoxUntil
		if n.About == "colony" {
			until = h.ColonyUntil
		}
		return tx.QueryRow(ctx, `INSERT INTO guarantee_claim (handover_id, about, happened_at, what, until_on) VALUES ($1, $2, $3, $4, $5) RETURNING id`, n.HandoverID, n.About, n.HappenedAt, n.What, until).Scan(&id)
	})
	if err != nil {
		return GuaranteeClaim{}, err
	}
	return r.GuaranteeGet(ctx, id)
}

// GuaranteeGet reads a claim.
func (r *Room) GuaranteeGet(ctx context.Context, id int64) (GuaranteeClaim, error) {
	return postgres.One[GuaranteeClaim](ctx, r.db, guaranteeSelect+`WHERE g.id = $1`, id)
}

// GuaranteeDecide notes the owner's decision with its reason, and what it cost in minor
// units, which stands in what the job earned. A decision may be changed: the history keeps both.
// Errors: Forbidden for a helper; Invalid; Stale; NotFound.
func (r *Room) GuaranteeDecide(ctx context.Context, id int64, version int, decision string, costMinor int64, why string) error {
	who := postgres.ActorFrom(ctx)
	if who.Role != "" && who.Role != "owner" {
		return fault.New(fault.Forbidden, "Only the owner of the workshop decides a claim.")
	}
	why = strings.TrimSpace(why)
	var l fault.List
	switch decision {
	case "replaced", "repaired", "refunded", "declined":
	default:
		l.Add("/decision", "The decision is replaced, repaired, refunded or declined.")
	}
	l.Check(costMinor >= 0, "/cost_minor", "A cost cannot be negative.")
	l.Check(why != "", "/note", "Say why, as the buyer is told.")
	l.Text("/note", why, 200)
	if err := l.Err(); err != nil {
		return err
	}
	return r.db.WithTx(ctx, func(ctx context.Context, tx pgx.Tx) error {
		var got int64
		err := tx.QueryRow(ctx, `UPDATE guarantee_claim SET decision = $3, decided_at = $4, cost_minor = $5, note = $6, decided_by = $7 WHERE id = $1 AND version = $2 RETURNING id`,
			id, version, decision, r.db.Now(), costMinor, why, who.Name).Scan(&got)
		return postgres.StaleOr(ctx, tx, err, "guarantee_claim", id)
	})
}

// GuaranteeList gives claims: those without a decision oldest first, or those with one,
// the latest first.
func (r *Room) GuaranteeList(ctx context.Context, decided bool) ([]GuaranteeClaim, error) {
	if decided {
		return postgres.List[GuaranteeClaim](ctx, r.db, guaranteeSelect+`WHERE g.decided_at IS NOT NULL ORDER BY g.decided_at DESC, g.id DESC LIMIT 200`)
	}
	return postgres.List[GuaranteeClaim](ctx, r.db, guaranteeSelect+`WHERE g.decided_at IS NULL ORDER BY g.happened_at, g.id LIMIT 200`)
}

// GuaranteeOf gives the claims of a handover, oldest first.
func (r *Room) GuaranteeOf(ctx context.Context, handover int64) ([]GuaranteeClaim, error) {
	return postgres.List[GuaranteeClaim](ctx, r.db, guaranteeSelect+`WHERE g.handover_id = $1 ORDER BY g.id`, handover)
}
