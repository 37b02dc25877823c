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

// FollowUp is a question to ask some days after a handover.
type FollowUp struct {
	ID          int64      `db:"id"`
	Version     int        `db:"version"`
	HandoverID  int64      `db:"handover_id"`
	DueOn       time.Time  `db:"due_on"`
	AnsweredAt  *time.Time `db:"answered_at"`
	Answer      *string    `db:"answer"` // alive, weak, lost, unknown
	Why         string     `db:"why"`
	LostOn      *time.Time `db:"lost_on"`
	Number      string     `db:"number"` // of the handover
	UnitID      int64      `db:"order_unit_id"`
	PartyID     int64      `db:"party_id"`
	PartyName   string     `db:"party_name"`
	PartyPhone  string     `db:"party_phone"`
	PartyEmail  string     `db:"party_email"`
	WithColony  bool       `db:"with_colony"`
	Serial      string     `db:"serial"` // of the box
	HandedAt    time.Time  `db:"handed_at"`
	OrderID     int64      `db:"order_id"`
	OrderNumber string     `db:"order_number"`
}

const followUpSelect = `SELECT f.id, f.version, f.handover_id, f.due_on, f.answered_at, f.answer, f.why, f.lost_on, h.number, h.order_unit_id, o.party_id, p.name AS party_name,
	coalesce((SELECT c.value FROM contact c WHERE c.party_id = p.id AND c.kind = 'phone' AND c.put_away_at IS NULL ORDER BY c.id LIMIT 1), '') AS party_phone,
	coalesce((SELECT c.value FROM contact c WHERE c.party_id = p.id AND c.kind = 'email' AND c.put_away_at IS NULL ORDER BY c.id LIMIT 1), '') AS party_email,
	h.colony_id IS NOT NULL AS with_colony, coalesce((SELECT b.serial FROM box b WHERE b.id = h.box_id), '') AS serial, h.happened_at AS handed_at, o.id AS order_id, o.number AS order_number
FROM follow_up f JOIN handover h ON h.id = f.handover_id AND h.undone_at IS NULL JOIN order_unit u ON u.id = h.order_unit_id
JOIN order_line l ON l.id = u.order_line_id JOIN sale_order o ON o.id = l.order_id JOIN party p ON p.id = o.party_id `

// FollowUpsDue gives the questions due until day that have no answer, oldest first. What
// was lost or came back is asked after no more.
func (r *Room) FollowUpsDue(ctx context.Context, until time.Time) ([]FollowUp, error) {
	return postgres.List[FollowUp](ctx, r.db, followUpSelect+`WHERE f.answered_at IS NULL AND f.due_on <= $1 AND u.returned_at IS NULL
	AND NOT EXISTS (SELECT FROM follow_up x WHERE x.handover_id = f.handover_id AND x.answer = 'lost') ORDER BY f.due_on, f.id LIMIT 200`, until)
}

// FollowUpsOf gives the questions of one handover.
func (r *Room) FollowUpsOf(ctx context.Context, handover int64) ([]FollowUp, error) {
	return postgres.List[FollowUp](ctx, r.db, followUpSelect+`WHERE f.handover_id = $1 ORDER BY f.due_on`, handover)
}

// FollowUpGet reads one question.
func (r *Room) FollowUpGet(ctx context.Context, id int64) (FollowUp, error) {
	return postgres.One[FollowUp](ctx, r.db, followUpSelect+`WHERE f.id = $1`, id)
}

// Told is what a buyer says of a hive.
type Told struct {
	Answer string     // alive, weak, lost, unknown: nobody could say
	Why    string     // needed of a loss
	LostOn *time.Time // when, as far as known; nil: not known
}

func (t *Told) check(today, handed time.Time) error {
	t.Why = strings.TrimSpace(t.Why)
	var l fault.List
	switch t.Answer {
	case "alive", "weak", "lost", "unknown":
	default:
		l.Add("/answer", "The answer is alive, weak, lost or unknown.")
	}
	l.Check(t.Answer != "lost" || t.Why != "", "/why", "Say how it was lost, as far as the buyer knows.")
	l.Text("/why", t.Why, 200)
	if t.LostOn != nil {
		l.Check(t.Answer == "lost", "/lost_on", "Only a loss has a day on which it happened.")
		l.Check(!t.LostOn.After(today), "/lost_on", "This day has not come yet.")
		l.Check(!t.LostOn.Before(handed), "/lost_on", "This was before the handover.")
	}
	return l.Err()
}

// FollowUpAnswer notes what the buyer said to a question. A colony lost within its
// guarantee opens a claim, which it gives back. Errors: Invalid; NotFound; Conflict for a
// question that is answered already.
func (r *Room) FollowUpAnswer(ctx context.Context, id int64, t Told) (*GuaranteeClaim, error) {
	return r.told(ctx, t, func(ctx context.Context, _ pgx.Tx, _ time.Time) (FollowUp, error) { return r.FollowUpGet(ctx, id) })
}

// FollowUpTell notes what the buyer of a handover says without being asked, today. Errors
// and what it gives: as of FollowUpAnswer; Conflict when today's is answered already.
func (r *Room) FollowUpTell(ctx context.Context, handover int64, t Told) (*GuaranteeClaim, error) {
	return r.told(ctx, t, func(ctx context.Context, tx pgx.Tx, today time.Time) (FollowUp, error) {
		if _, err := r.Get(ctx, handover); err != nil {
			return FollowUp{}, err
		}
		id, err := postgres.Value[int64](ctx, tx, `INSERT INTO follow_up (handover_id, due_on) VALUES ($1, $2) ON CONFLICT ON CONSTRAINT follow_up_once DO UPDATE SET due_on = excluded.due_on RETURNING id`, handover, today)
		if err != nil {
			return FollowUp{}, err
		}
		return r.FollowUpGet(ctx, id)
	})
}

func (r *Room) told(ctx context.Context, t Told, find func(context.Context, pgx.Tx, time.Time) (FollowUp, error)) (*GuaranteeClaim, error) {
	var claim *GuaranteeClaim
	err := r.db.WithTx(ctx, func(ctx context.Context, tx pgx.Tx) error {
		set, err := house.SettingsIn(ctx, tx)
		if err != nil {
			return err
		}
		today := set.Today(r.db.Now())
		f, err := find(ctx, tx, today)
		if err != nil {
			return err
		}
		if err := t.check(today, house.DateIn(f.HandedAt, set.Location())); err != nil {
			return err
		}
		tag, err := tx.Exec(ctx, `UPDATE follow_up SET answer = $2, why = $3, answered_at = $4, lost_on = $5 WHERE id = $1 AND answered_at IS NULL`, f.ID, t.Answer, t.Why, r.db.Now(), t.LostOn)
		if err != nil {
			return err
		}
		if tag.RowsAffected() == 0 {
			if f, err = r.FollowUpGet(ctx, f.ID); err != nil {
				return err
			}
			return fault.New(fault.Conflict, "This question is answered already: %s. If that changed, note it as news on the handover's page.", *f.Answer)
		}
		if t.Answer == "lost" && f.WithColony {
			claim, err = r.claimForLoss(ctx, f, t, today)
		}
		return err
	})
	return claim, err
}

// claimForLoss opens a claim when the loss lies within the guarantee and none about the
// colony is open.
func (r *Room) claimForLoss(ctx context.Context, f FollowUp, t Told, today time.Time) (*GuaranteeClaim, error) {
	h, err := r.Get(ctx, f.HandoverID)
	if err != nil {
		return nil, err
	}
	on := today
	if t.LostOn != nil {
		on = *t.LostOn
	}
	if h.ColonyUntil == nil || on.After(*h.ColonyUntil) {
		return nil, nil
	}
	open, err := postgres.Value[bool](ctx, r.db, `SELECT EXISTS (SELECT FROM guarantee_claim WHERE handover_id = $1 AND about = 'colony')`, h.ID)
	if err != nil || open {
		return nil, err
	}
	c, err := r.GuaranteeOpen(ctx, GuaranteeNew{HandoverID: h.ID, About: "colony", What: "The colony is lost: " + t.Why, LostOn: t.LostOn})
	return &c, err
}
