package handover

import (
	"context"
	"crypto/rand"
	"encoding/base32"
	"strings"
	"time"

	"github.com/jackc/pgx/v5"

	"kerfbook/internal/fault"
	"kerfbook/internal/house"
	"kerfbook/internal/postgres"
)

// Handover is a unit given to its buyer, with the evidence.
type Handover struct {
	ID            int64      `db:"id"`
	Version       int        `db:"version"`
	Number        string     `db:"number"`
	UnitID        int64      `db:"order_unit_id"`
	RunStopID     *int64     `db:"run_stop_id"`
	BoxID         *int64     `db:"box_id"`
	ColonyID      *int64     `db:"colony_id"`
	SiteID        *int64     `db:"site_id"`
	HappenedAt    time.Time  `db:"happened_at"`
	ReceivedBy    string     `db:"received_by"`
	BeesIn        *int       `db:"bees_in"`  // in a minute
	BeesOut       *int       `db:"bees_out"` // in a minute
	DocumentID    *int64     `db:"document_id"`
	CareKey       *string    `db:"care_key"`
	Note          string     `db:"note"`
	UndoneAt      *time.Time `db:"undone_at"`
	UndoneBecause string     `db:"undone_because"`
}

const handoverColumns = `id, version, number, order_unit_id, run_stop_id, box_id, colony_id, site_id, happened_at, received_by, bees_in, bees_out, document_id, care_key, note, undone_at, undone_because`

// Make notes a handover and puts its follow-ups on the days of the settings. pdf is the
// sheet that went with it; draw makes it from the numbered handover and may be nil.
func (r *Room) Make(ctx context.Context, h Handover, draw func(ctx context.Context, h Handover) ([]byte, error)) (Handover, error) {
	err := r.db.WithTx(ctx, func(ctx context.Context, tx pgx.Tx) error {
		set, err := house.SettingsIn(ctx, tx)
		if err != nil {
			return err
		}
		now := r.db.Now()
		if h.HappenedAt.IsZero() {
			h.HappenedAt = now
		}
		if err := h.check(now); err != nil {
			return err
		}
		if h.Number, err = house.Number(ctx, tx, "handover", "H"); err != nil {
			return err
		}
		key, err := careKey()
		if err != nil {
			return err
		}
		h.CareKey = &key
		if draw != nil {
			pdf, err := draw(ctx, h)
			if err != nil {
				return err
			}
			doc, err := house.PaperKeep(ctx, tx, "handover", h.Number, 1, now, pdf)
			if err != nil {
				return err
			}
			h.DocumentID = &doc
		}
		if err := tx.QueryRow(ctx, `INSERT INTO handover (number, order_unit_id, run_stop_id, box_id, colony_id, site_id, happened_at, received_by, bees_in, bees_out, document_id, care_key, note)
VALUES ($1, $2, $3, $4, $5, $6, $7, $8, $9, $10, $11, $12, $13) RETURNING id, version`,
			h.Number, h.UnitID, h.RunStopID, h.BoxID, h.ColonyID, h.SiteID, h.HappenedAt, h.ReceivedBy, h.BeesIn, h.BeesOut, h.DocumentID, h.CareKey, h.Note).Scan(&h.ID, &h.Version); err != nil {
			return err
		}
		if h.ColonyID == nil && h.BoxID == nil {
			return nil // goods and services are not asked after
		}
		on := house.DateIn(h.HappenedAt, set.Location())
		_, err = tx.Exec(ctx, `INSERT INTO follow_up (handover_id, due_on) SELECT DISTINCT $1::bigint, $2::date + d FROM unnest($3::int[]) d WHERE d BETWEEN 1 AND 3650`, h.ID, on, followUpDays(set, h.ColonyID != nil))
		return err
	})
	return h, err
}

// followUpDays are the days of the settings; an empty box is asked after once.
func followUpDays(set house.Settings, bees bool) []int32 {
	if bees || len(set.FollowUpDays) == 0 {
		return set.FollowUpDays
	}
	return set.FollowUpDays[len(set.FollowUpDays)-1:]
}

func (h *Handover) check(now time.Time) error {
	var l fault.List
	h.ReceivedBy = strings.TrimSpace(h.ReceivedBy)
	l.Check(h.ReceivedBy != "", "/received_by", "Say who received it.")
	l.Text("/received_by", h.ReceivedBy, 200)
	l.Text("/note", h.Note, 20000)
	l.Check(!h.HappenedAt.After(now.Add(time.Hour)), "/happened_at", "A handover is noted when it is done, not before.")
	for p, n := range map[string]*int{"/bees_in": h.BeesIn, "/bees_out": h.BeesOut} {
		l.Check(n == nil || (*n >= 0 && *n <= 1000), p, "Bees in a minute lie between 0 and 1000.")
	}
	return l.Err()
}

// careKey is 130 random bits in letters and digits that are easy to read out.
func careKey() (string, error) {
	b := make([]byte, 17)
	if _, err := rand.Read(b); err != nil {
		return "", err
	}
	return strings.ToLower(strings.TrimRight(base32.StdEncoding.EncodeToString(b), "=")), nil
}

// Get reads a handover.
func (r *Room) Get(ctx context.Context, id int64) (Handover, error) {
	return postgres.One[Handover](ctx, r.db, `SELECT `+handoverColumns+` FROM handover WHERE id = $1`, id)
}

// ByCareKey reads the handover behind a public care page.
func (r *Room) ByCareKey(ctx context.Context, key string) (Handover, error) {
	return postgres.One[Handover](ctx, r.db, `SELECT `+handoverColumns+` FROM handover WHERE care_key = $1 AND undone_at IS NULL`, key)
}

// OfUnit reads the handover of a unit that was not undone.
func (r *Room) OfUnit(ctx context.Context, unit int64) (Handover, error) {
	return postgres.One[Handover](ctx, r.db, `SELECT `+handoverColumns+` FROM handover WHERE order_unit_id = $1 AND undone_at IS NULL`, unit)
}

// List gives handovers from the newest, and the mark of the next page.
func (r *Room) List(ctx context.Context, limit int, after string) ([]Handover, string, error) {
	m, err := postgres.ReadMark(after)
	if err != nil {
		return nil, "", err
	}
	if after == "" {
		m.ID = 1 << 62
	}
	n := postgres.PageSize(limit)
	list, err := postgres.List[Handover](ctx, r.db, `SELECT `+handoverColumns+` FROM handover WHERE id < $1 ORDER BY id DESC LIMIT $2`, m.ID, n+1)
	list, next := postgres.CutPage(list, n, func(h Handover) postgres.Mark { return postgres.Mark{ID: h.ID} })
	return list, next, err
}

// FollowUp is a question to ask some days after a handover.
type FollowUp struct {
	ID          int64      `db:"id"`
	Version     int        `db:"version"`
	HandoverID  int64      `db:"handover_id"`
	DueOn       time.Time  `db:"due_on"`
	AnsweredAt  *time.Time `db:"answered_at"`
	Answer      *string    `db:"answer"` // alive, weak, lost, unknown
	Why         string     `db:"why"`
	Number      string     `db:"number"` // of the handover
	UnitID      int64      `db:"order_unit_id"`
	PartyID     int64      `db:"party_id"`
	PartyName   string     `db:"party_name"`
	PartyPhone  string     `db:"party_phone"`
	WithColony  bool       `db:"with_colony"`
	OrderID     int64      `db:"order_id"`
	OrderNumber string     `db:"order_number"`
}

const followUpSelect = `SELECT f.id, f.version, f.handover_id, f.due_on, f.answered_at, f.answer, f.why, h.number, h.order_unit_id, o.party_id, p.name AS party_name,
	coalesce((SELECT c.value FROM contact c WHERE c.party_id = p.id AND c.kind = 'phone' AND c.put_away_at IS NULL ORDER BY c.id LIMIT 1), '') AS party_phone,
	h.colony_id IS NOT NULL AS with_colony, o.id AS order_id, o.number AS order_number
FROM follow_up f JOIN handover h ON h.id = f.handover_id AND h.undone_at IS NULL JOIN order_unit u ON u.id = h.order_unit_id
JOIN order_line l ON l.id = u.order_line_id JOIN sale_order o ON o.id = l.order_id JOIN party p ON p.id = o.party_id `

// FollowUpsDue gives the questions due until day that have no answer, oldest first.
func (r *Room) FollowUpsDue(ctx context.Context, until time.Time) ([]FollowUp, error) {
	return postgres.List[FollowUp](ctx, r.db, followUpSelect+`WHERE f.answered_at IS NULL AND f.due_on <= $1 ORDER BY f.due_on, f.id LIMIT 200`, until)
}

// FollowUpsOf gives the questions of one handover.
func (r *Room) FollowUpsOf(ctx context.Context, handover int64) ([]FollowUp, error) {
	return postgres.List[FollowUp](ctx, r.db, followUpSelect+`WHERE f.handover_id = $1 ORDER BY f.due_on`, handover)
}

// FollowUpAnswer notes the answer: alive, weak, lost with the reason, or unknown.
func (r *Room) FollowUpAnswer(ctx context.Context, id int64, answer, why string) error {
	switch answer {
	case "alive", "weak", "lost", "unknown":
	default:
		return fault.Bad("/answer", "The answer is alive, weak, lost or unknown.")
	}
	why = strings.TrimSpace(why)
	if answer == "lost" && why == "" {
		return fault.Bad("/why", "Say how it was lost, as far as the buyer knows.")
	}
	var l fault.List
	l.Text("/why", why, 200)
	if err := l.Err(); err != nil {
		return err
	}
	return r.db.WithTx(ctx, func(ctx context.Context, tx pgx.Tx) error {
		tag, err := tx.Exec(ctx, `UPDATE follow_up SET answer = $2, why = $3, answered_at = $4 WHERE id = $1 AND answered_at IS NULL`, id, answer, why, r.db.Now())
		if err == nil && tag.RowsAffected() == 0 {
			return fault.New(fault.Conflict, "This question is answered already, or is not there.")
		}
		return err
	})
}

// GuaranteeClaim is a claim on the guarantee.
type GuaranteeClaim struct {
	ID         int64      `db:"id"`
	Version    int        `db:"version"`
	HandoverID int64      `db:"handover_id"`
	HappenedAt time.Time  `db:"happened_at"`
	What       string     `db:"what"`
	DecidedAt  *time.Time `db:"decided_at"`
	Decision   *string    `db:"decision"`
	CostMinor  *int64     `db:"cost_minor"`
	Note       string     `db:"note"`
}

const guaranteeColumns = `id, version, handover_id, happened_at, what, decided_at, decision, cost_minor, note`

// GuaranteeOpen opens a claim on the guarantee of a handover.
func (r *Room) GuaranteeOpen(ctx context.Context, handover int64, at time.Time, what string) (GuaranteeClaim, error) {
	what = strings.TrimSpace(what)
	if what == "" {
		return GuaranteeClaim{}, fault.Bad("/what", "Say what is wrong.")
	}
	if at.IsZero() {
		at = r.db.Now()
	}
	var id int64
	err := r.db.WithTx(ctx, func(ctx context.Context, tx pgx.Tx) error {
		return tx.QueryRow(ctx, `INSERT INTO guarantee_claim (handover_id, happened_at, what) VALUES ($1, $2, $3) RETURNING id`, handover, at, what).Scan(&id)
	})
	if err != nil {
		return GuaranteeClaim{}, err
	}
	return postgres.One[GuaranteeClaim](ctx, r.db, `SELECT `+guaranteeColumns+` FROM guarantee_claim WHERE id = $1`, id)
}

// GuaranteeDecide notes the owner's decision and what it cost.
func (r *Room) GuaranteeDecide(ctx context.Context, id int64, version int, decision string, costMinor int64, note string) error {
	switch decision {
	case "replaced", "repaired", "refunded", "declined":
	default:
		return fault.Bad("/decision", "The decision is replaced, repaired, refunded or declined.")
	}
	if costMinor < 0 {
		return fault.Bad("/cost_minor", "A cost cannot be negative.")
	}
	return r.db.WithTx(ctx, func(ctx context.Context, tx pgx.Tx) error {
		var got int64
		err := tx.QueryRow(ctx, `UPDATE guarantee_claim SET decision = $3, decided_at = $4, cost_minor = $5, note = $6 WHERE id = $1 AND version = $2 RETURNING id`, id, version, decision, r.db.Now(), costMinor, note).Scan(&got)
		return postgres.StaleOr(ctx, tx, err, "guarantee_claim", id)
	})
}

// GuaranteeUndecided gives the claims without a decision, oldest first.
func (r *Room) GuaranteeUndecided(ctx context.Context) ([]GuaranteeClaim, error) {
	return postgres.List[GuaranteeClaim](ctx, r.db, `SELECT `+guaranteeColumns+` FROM guarantee_claim WHERE decided_at IS NULL ORDER BY happened_at, id LIMIT 200`)
}
