package answer

import (
	"context"
	"fmt"
	"strings"
	"time"

	"github.com/jackc/pgx/v5"

	"kerfbook/internal/handover"
	"kerfbook/internal/house"
	"kerfbook/internal/sales"
	"kerfbook/internal/show"
)

// LossReasons are what most losses are told as, for a tap; common practice, no source.
var LossReasons = []string{"heat or full sun", "ants, flies or beetles", "moved or knocked over", "rain got in", "poison sprayed near it", "nobody knows"}

// ConsumerLaw stands before the terms of every claim.
const ConsumerLaw = "Rights under consumer law come first: what is sold must be sound, as described and fit for what it was sold for, and a printed guarantee, or its end, takes nothing of that away. Ask the consumer office of your state where you are not sure."

// FollowUpAnswer notes what a buyer said to a question; of a loss the colony's record ends
// too, and a claim opens where the guarantee still runs. It gives back that claim, if any.
// Errors: as of handover.FollowUpAnswer.
func (r *Room) FollowUpAnswer(ctx context.Context, id int64, t handover.Told) (*handover.GuaranteeClaim, error) {
	f, err := r.Handover.FollowUpGet(ctx, id)
	if err != nil {
		return nil, err
	}
	return r.heard(ctx, f.HandoverID, t, func(ctx context.Context) (*handover.GuaranteeClaim, error) {
		return r.Handover.FollowUpAnswer(ctx, id, t)
	})
}

// FollowUpTell notes what the buyer of a handover says without being asked; otherwise it is
// FollowUpAnswer.
func (r *Room) FollowUpTell(ctx context.Context, handed int64, t handover.Told) (*handover.GuaranteeClaim, error) {
	return r.heard(ctx, handed, t, func(ctx context.Context) (*handover.GuaranteeClaim, error) {
		return r.Handover.FollowUpTell(ctx, handed, t)
	})
}

func (r *Room) heard(ctx context.Context, handed int64, t handover.Told, note func(context.Context) (*handover.GuaranteeClaim, error)) (*handover.GuaranteeClaim, error) {
	var claim *handover.GuaranteeClaim
	err := r.db.WithTx(ctx, func(ctx context.Context, _ pgx.Tx) (err error) {
		if claim, err = note(ctx); err != nil || t.Answer != "lost" {
			return err
		}
		return r.lostAtTheBuyers(ctx, handed, t)
	})
	return claim, err
}

// lostAtTheBuyers ends the record of a colony that lives with its buyer.
func (r *Room) lostAtTheBuyers(ctx context.Context, handed int64, t handover.Told) error {
	h, err := r.Handover.Get(ctx, handed)
	if err != nil || h.ColonyID == nil {
		return err
	}
	o, err := r.Sales.OrderOfUnit(ctx, h.UnitID)
	if err != nil {
		return err
	}
	c, err := r.Apiary.ColonyGet(ctx, *h.ColonyID)
	if err != nil || c.EndedAt != nil || c.OwnerID == nil || *c.OwnerID != o.PartyID {
		return err
	}
	at := r.db.Now()
	if t.LostOn != nil {
		if noon := t.LostOn.Add(12 * time.Hour); noon.Before(at) {
			at = noon
		}
	}
	return r.Apiary.End(ctx, c.ID, clip("lost at the buyer's: "+strings.TrimSpace(t.Why), 200), at)
}

// FollowUpWords are the words to ask a buyer with.
func FollowUpWords(f handover.FollowUp, set house.Settings) string {
	what := "box"
	ask := "Does it stand as it should, and are joints and finish sound?"
	if f.WithColony {
		what, ask = "colony", "Do bees fly in and out at noon on a fine day? One word is enough: alive, weak or lost."
	}
	if f.Serial != "" {
		what += map[bool]string{true: " in box " + f.Serial, false: " " + f.Serial}[f.WithColony]
	}
	return fmt.Sprintf("Hello %s, this is %s. How is the %s you got on %s? %s If something is not as it should be, ring me%s.",
		f.PartyName, strings.Join(filled(set.MakerName, set.Name), ", "), what, show.Date(house.DateIn(f.HandedAt, set.Location())), ask, prefix(": ", set.Phone))
}

func prefix(before, s string) string {
	if s == "" {
		return ""
	}
	return before + s
}

// GuaranteeFile is a claim with all that is looked at to decide it.
type GuaranteeFile struct {
	Claim    handover.GuaranteeClaim
	Handover handover.Handover
	Order    sales.Order
	DaysLate int
	Terms    []string            // as printed on that handover; none: nothing was noted with it
	Photos   []house.Photo       // at the handover
	Since    []house.Photo       // with the claim
	Heard    []handover.FollowUp // what the buyer said since
	Words    string              // for the buyer; once it is decided, the decision
}

// GuaranteeFile reads a claim with the evidence of its handover. NotFound.
func (r *Room) GuaranteeFile(ctx context.Context, id int64) (GuaranteeFile, error) {
	set, _, err := r.settings(ctx)
	if err != nil {
		return GuaranteeFile{}, err
	}
	g := GuaranteeFile{}
	if g.Claim, err = r.Handover.GuaranteeGet(ctx, id); err != nil {
		return g, err
	}
	if g.Handover, err = r.Handover.Get(ctx, g.Claim.HandoverID); err != nil {
		return g, err
	}
	if g.Order, err = r.Sales.OrderOfUnit(ctx, g.Handover.UnitID); err != nil {
		return g, err
	}
	if g.Photos, err = r.House.PhotoList(ctx, "handover", g.Handover.ID); err != nil {
		return g, err
	}
	if g.Since, err = r.House.PhotoList(ctx, "guarantee_claim", id); err != nil {
		return g, err
	}
	if g.Heard, err = r.Handover.FollowUpsOf(ctx, g.Handover.ID); err != nil {
		return g, err
	}
	g.DaysLate = g.Claim.DaysLate(set.Location())
	g.Terms = PrintedTerms(g.Handover)
	g.Words = g.words(set)
	return g, nil
}

func (g GuaranteeFile) words(set house.Settings) string {
	hello := fmt.Sprintf("Hello %s, this is %s. You told me about the %s of order %s: %s. ", g.Claim.PartyName, strings.Join(filled(set.MakerName, set.Name), ", "), g.Claim.About, g.Order.Number, strings.TrimRight(g.Claim.What, "."))
	if g.Claim.Decision == nil {
		return hello + "I look into it. Please send a photo of the whole hive, one of the entrance, and the day on which you saw it first; leave the box shut. Your rights under consumer law stay as they are."
	}
	done := map[string]string{"replaced": "It will be replaced.", "repaired": "I will mend it.", "refunded": "You get your money back.", "declined": "I cannot take it on under the guarantee."}[*g.Claim.Decision]
	return hello + done + " The reason: " + strings.TrimRight(g.Claim.Note, ".") + ". Your rights under consumer law stay as they are."
}
