package workshop

import (
	"context"
	"time"

	"github.com/jackc/pgx/v5"

	"kerfbook/internal/claims"
	"kerfbook/internal/fault"
	"kerfbook/internal/postgres"
	"kerfbook/internal/timber"
)

// ShelfLot is sections or parts on the shelf that bear no serial.
type ShelfLot struct {
	ID          int64  `db:"id"`
	RevisionID  int64  `db:"model_revision_id"`
	ModelID     int64  `db:"model_id"`
	ModelName   string `db:"model_name"`
	Revision    int    `db:"revision"`
	Makes       string `db:"makes"` // section, part
	Piece       string `db:"piece"`
	SpeciesID   *int64 `db:"timber_species_id"`
	SpeciesName string `db:"species_name"`
	OnHand      int    `db:"on_hand"`
	PutAside    int    `db:"put_aside"`
	Meant       int    `db:"meant"`
}

// Free is how many nobody has claimed.
func (l ShelfLot) Free() int { return l.OnHand - l.PutAside - l.Meant }

const selectShelfLot = `SELECT l.id, l.model_revision_id, r.model_id, m.name AS model_name, r.revision, l.makes, l.piece, l.timber_species_id,
	coalesce(s.name::text, '') AS species_name, l.on_hand, l.put_aside,
	(SELECT coalesce(sum(c.quantity), 0) FROM claim c WHERE c.shelf_lot_id = l.id AND c.ended_at IS NULL AND c.strength = 'meant')::int AS meant
	FROM shelf_lot l JOIN model_revision r ON r.id = l.model_revision_id JOIN box_model m ON m.id = r.model_id LEFT JOIN timber_species s ON s.id = l.timber_species_id `

// shelfLotTx gives the shelf lot of a piece, and makes it, empty, when it is new.
func shelfLotTx(ctx context.Context, tx pgx.Tx, revisionID int64, makes, piece string, speciesID *int64) (int64, error) {
	if _, err := tx.Exec(ctx, `INSERT INTO shelf_lot (model_revision_id, makes, piece, timber_species_id) VALUES ($1, $2, $3, $4) ON CONFLICT ON CONSTRAINT shelf_lot_once DO NOTHING`,
		revisionID, makes, piece, speciesID); err != nil {
		return 0, postgres.Translate(err)
	}
	return postgres.Value[int64](ctx, tx, `SELECT id FROM shelf_lot WHERE model_revision_id = $1 AND makes = $2 AND piece = $3 AND timber_species_id IS NOT DISTINCT FROM $4`,
		revisionID, makes, piece, speciesID)
}

// ShelfLotIn puts sections or parts on the shelf that no build in this book made: opening
// stock that is typed in. Errors: Invalid.
func (r *Room) ShelfLotIn(ctx context.Context, revisionID int64, makes, piece string, speciesID *int64, count int, at time.Time) (ShelfLot, error) {
	var id int64
	err := r.db.WithTx(ctx, func(ctx context.Context, tx pgx.Tx) error {
		rev, err := revisionIn(ctx, tx, revisionID)
		if err != nil {
			return err
		}
		if makes != MakesSection && makes != MakesPart {
			return fault.Bad("/makes", "On the shelf lie sections or parts; boxes are registered.")
		}
		if _, _, err := buildParts(rev.Body, rev.Body.WallMM, makes, piece, 1); err != nil {
			return err
		}
		if count < 1 {
			return fault.Bad("/count", "The count must be 1 or more.")
		}
		if id, err = shelfLotTx(ctx, tx, revisionID, makes, piece, speciesID); err != nil {
			return err
		}
		_, err = timber.MoveTx(ctx, tx, r.db.Now(), timber.Move{Thing: claims.ShelfLot(id), Quantity: count, Kind: timber.Opening, HappenedAt: at})
		return err
	})
	if err != nil {
		return ShelfLot{}, err
	}
	return postgres.One[ShelfLot](ctx, r.db, selectShelfLot+`WHERE l.id = $1`, id)
}

// ShelfLots gives what lies on the shelf, by model and piece; at most 500 lines. modelID
// 0 gives all of it.
func (r *Room) ShelfLots(ctx context.Context, modelID int64) ([]ShelfLot, error) {
	return postgres.List[ShelfLot](ctx, r.db, selectShelfLot+`WHERE l.on_hand > 0 AND ($1::bigint = 0 OR r.model_id = $1)
		ORDER BY lower(m.name::text), l.piece, l.id LIMIT 500`, modelID)
}
