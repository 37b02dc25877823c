package workshop

import (
	"context"
	"time"

	"github.com/jackc/pgx/v5"

	"kerfbook/internal/claims"
	"kerfbook/internal/fault"
	"kerfbook/internal/postgres"
)

// Box is a box with its serial for life; boxes of other makers are registered too.
type Box struct {
	ID              int64        `db:"id"`
	Version         int          `db:"version"`
	Serial          string       `db:"serial"`
	RevisionID      *int64       `db:"model_revision_id"`
	ModelName       string       `db:"model_name"` // "" for a box of no model of ours
	Revision        int          `db:"revision"`
	BuildID         *int64       `db:"build_id"`
	Maker           string       `db:"maker"` // "" is this workshop
	Description     string       `db:"description"`
	SpeciesID       *int64       `db:"timber_species_id"`
	SpeciesName     string       `db:"species_name"`
	OptionNames     []string     `db:"option_names"`
	FinishedAt      time.Time    `db:"finished_at"`
	CuredOn         *time.Time   `db:"cured_on"`   // bees may live in it from this day
	CostMinor       *int64       `db:"cost_minor"` // what it cost to make
	HeldBackBecause string       `db:"held_back_because"`
	StolenAt        *time.Time   `db:"stolen_at"`
	GoneAt          *time.Time   `db:"gone_at"`
	Notes           string       `db:"notes"`
	OwnerPartyID    *int64       `db:"owner_party_id"` // nil: the workshop
	Ours            bool         `db:"ours"`
	SiteID          *int64       `db:"site_id"`
	Place           string       `db:"place"`
	ColonyID        *int64       `db:"colony_id"`       // that lives in it
	ClaimedByUnitID *int64       `db:"claimed_by_unit"` // the order unit it is put aside for
	Sections        []BoxSection `db:"-"`               // BoxGet only
	Owners          []BoxOwner   `db:"-"`               // BoxGet only
	Places          []BoxPlace   `db:"-"`               // BoxGet only
}

// What calls a box in a sentence, such as "Two-tier 230, hoop pine".
func (b Box) What() string {
	what := b.ModelName
	if what == "" {
		what = b.Description
	}
	if b.SpeciesName != "" {
		what += ", " + b.SpeciesName
	}
	return what
}

// BoxSection is a section and the place it has or had in a box, 1 from the bottom.
type BoxSection struct {
	ID      int64      `db:"id"`
	Section string     `db:"section"`
	Place   int        `db:"place_in_box"`
	FromAt  time.Time  `db:"from_at"`
	ToAt    *time.Time `db:"to_at"`
	Note    string     `db:"note"`

	CameFromBoxID  *int64  `db:"came_from_box_id"` // where it sat before, when it came from another box
	CameFromSerial *string `db:"came_from_serial"`
	CameFromPlace  *int    `db:"came_from_place"`
}

// BoxOwner is a dated owner; PartyID nil is the workshop.
type BoxOwner struct {
	ID         int64      `db:"id"`
	PartyID    *int64     `db:"party_id"`
	PartyName  string     `db:"party_name"` // "" is the workshop
	FromAt     time.Time  `db:"from_at"`
	ToAt       *time.Time `db:"to_at"`
	Note       string     `db:"note"`        // how it came to them, and who told
	RecordedAt *time.Time `db:"recorded_at"` // nil: before this was kept
}

// BoxPlace is a dated place.
type BoxPlace struct {
	SiteID *int64     `db:"site_id"`
	Place  string     `db:"place"`
	FromAt time.Time  `db:"from_at"`
	ToAt   *time.Time `db:"to_at"`
}

const selectBox = `SELECT b.id, b.version, b.serial, b.model_revision_id, coalesce(m.name::text, '') AS model_name, coalesce(r.revision, 0) AS revision, b.build_id, b.maker,
	b.description, b.timber_species_id, coalesce(s.name::text, '') AS species_name,
	ARRAY(SELECT o.name::text FROM jsonb_array_elements_text(b.options) WITH ORDINALITY e(v, n) JOIN box_option o ON o.id = e.v::bigint ORDER BY e.n) AS option_names,
	b.finished_at, b.cured_on, b.cost_minor, b.held_back_because, b.stolen_at, b.gone_at, b.notes, w.party_id AS owner_party_id,
	(w.id IS NOT NULL AND w.party_id IS NULL) AS ours, p.site_id, coalesce(p.place::text, '') AS place,
	(SELECT h.colony_id FROM housing h WHERE h.box_id = b.id AND h.to_at IS NULL) AS colony_id,
	(SELECT c.order_unit_id FROM claim c WHERE c.box_id = b.id AND c.ended_at IS NULL) AS claimed_by_unit
	FROM box b LEFT JOIN model_revision r ON r.id = b.model_revision_id LEFT JOIN box_model m ON m.id = r.model_id LEFT JOIN timber_species s ON s.id = b.timber_species_id
	LEFT JOIN box_owner w ON w.box_id = b.id AND w.to_at IS NULL LEFT JOIN box_place p ON p.box_id = b.id AND p.to_at IS NULL `

func boxIn(ctx context.Context, q postgres.Querier, where string, args ...any) (Box, error) {
	b, err := postgres.One[Box](ctx, q, selectBox+where, args...)
	if err != nil {
		return b, err
	}
	if b.Sections, err = postgres.List[BoxSection](ctx, q, `SELECT z.id, z.section, z.place_in_box, z.from_at, z.to_at, z.note, w.box_id AS came_from_box_id, b.serial AS came_from_serial, w.place_in_box AS came_from_place
		FROM box_section z LEFT JOIN box_section w ON w.id = z.came_from_id LEFT JOIN box b ON b.id = w.box_id WHERE z.box_id = $1 ORDER BY z.to_at IS NOT NULL, z.place_in_box, z.id LIMIT 500`, b.ID); err != nil {
		return b, err
	}
	if b.Owners, err = postgres.List[BoxOwner](ctx, q, `SELECT o.id, o.party_id, coalesce(p.name::text, '') AS party_name, o.from_at, o.to_at, o.note, o.recorded_at
		FROM box_owner o LEFT JOIN party p ON p.id = o.party_id WHERE o.box_id = $1 ORDER BY o.from_at DESC, o.to_at DESC NULLS FIRST, o.id DESC LIMIT 500`, b.ID); err != nil {
		return b, err
	}
	b.Places, err = postgres.List[BoxPlace](ctx, q, `SELECT site_id, place, from_at, to_at FROM box_place WHERE box_id = $1 ORDER BY from_at DESC, id DESC LIMIT 500`, b.ID)
	return b, err
}

// BoxGet reads one box with its sections, owners and places.
func (r *Room) BoxGet(ctx context.Context, id int64) (Box, error) {
	return boxIn(ctx, r.db, `WHERE b.id = $1`, id)
}

// BoxBySerial reads one box by its serial. Invalid when the check digit is wrong, so
// that a slip is told from a box we do not know.
func (r *Room) BoxBySerial(ctx context.Context, serial string) (Box, error) {
	b, err := boxIn(ctx, r.db, `WHERE b.serial = $1`, serial)
	if fault.Is(err, fault.NotFound) && !SerialOK(serial) {
		return b, fault.Bad("/serial", "%s cannot be a serial: its last digit does not fit. Look at the box again.", serial)
	}
	return b, err
}

// BoxFilter says which boxes a list holds.
type BoxFilter struct {
	Find    string // beginning of the serial
	Shelf   bool   // ours, on hand, without a colony, not claimed, not at a host tree
	ModelID int64  // 0: any
	Limit   int
	After   string
}

// onShelf narrows a list to boxes of ours on hand, without a colony, not claimed and not
// fixed to a host tree. The
// owner is asked for once more, so that the index box_owner_ours can lead.
const onShelf = ` AND b.gone_at IS NULL AND b.stolen_at IS NULL AND b.held_back_because = ''
	AND EXISTS (SELECT FROM box_owner x WHERE x.box_id = b.id AND x.party_id IS NULL AND x.to_at IS NULL)
	AND NOT EXISTS (SELECT FROM housing h WHERE h.box_id = b.id AND h.to_at IS NULL)
	AND NOT EXISTS (SELECT FROM host_tree t WHERE t.box_id = b.id AND t.put_away_at IS NULL)
	AND NOT EXISTS (SELECT FROM claim c WHERE c.box_id = b.id AND c.ended_at IS NULL)`

// BoxList gives boxes, the last finished first, and the mark of the next page. The index
// box_finished serves it, box_serial_once the search.
func (r *Room) BoxList(ctx context.Context, f BoxFilter) ([]Box, string, error) {
	mark, err := postgres.ReadMark(f.After)
	if err != nil {
		return nil, "", err
	}
	at := time.Date(9999, 1, 1, 0, 0, 0, 0, time.UTC)
	if mark.Key != "" {
		if at, err = time.Parse(time.RFC3339Nano, mark.Key); err != nil {
			return nil, "", fault.Bad("/after", "This page mark is not one of ours. Start the list again.")
		}
	}
	n := postgres.PageSize(f.Limit)
	shelf := ``
	if f.Shelf {
		shelf = onShelf
	}
	list, err := postgres.List[Box](ctx, r.db, selectBox+`WHERE (b.finished_at, b.id) < ($1, CASE WHEN $2::bigint = 0 THEN 9223372036854775807 ELSE $2 END)
		AND ($3 = '' OR b.serial LIKE $3 || '%') AND ($4::bigint = 0 OR r.model_id = $4)`+shelf+`
		ORDER BY b.finished_at DESC, b.id DESC LIMIT $5`, at, mark.ID, likeLiteral(f.Find), f.ModelID, n+1)
	if err != nil {
		return nil, "", err
	}
	page, next := postgres.CutPage(list, n, func(b Box) postgres.Mark { return postgres.Mark{Key: b.FinishedAt.Format(time.RFC3339Nano), ID: b.ID} })
	return page, next, nil
}

// ShelfBox is a box that can be promised now.
type ShelfBox struct {
	BoxID     int64      `db:"id"`
	Serial    string     `db:"serial"`
	CuredOn   *time.Time `db:"cured_on"`
	CostMinor *int64     `db:"cost_minor"`
	ColonyID  *int64     `db:"colony_id"` // that lives in it already
}

// ShelfBoxes gives the boxes of a model (any revision) that the workshop owns, does not
// hold back and has not promised, the oldest first; at most 200. speciesID 0 takes any
// timber; the options must be exactly those of optionIDs. withColony asks for boxes in
// which a colony lives, else for empty ones.
func ShelfBoxes(ctx context.Context, q postgres.Querier, modelID, speciesID int64, optionIDs []int64, withColony bool) ([]ShelfBox, error) {
	return postgres.List[ShelfBox](ctx, q, `SELECT b.id, b.serial, b.cured_on, b.cost_minor, h.colony_id FROM box_owner o JOIN box b ON b.id = o.box_id
		JOIN model_revision r ON r.id = b.model_revision_id AND r.model_id = $1 LEFT JOIN housing h ON h.box_id = b.id AND h.to_at IS NULL
		WHERE o.party_id IS NULL AND o.to_at IS NULL AND b.gone_at IS NULL AND b.stolen_at IS NULL AND b.held_back_because = ''
		AND ($2::bigint = 0 OR b.timber_species_id = $2) AND b.options @> $3::jsonb AND b.options <@ $3::jsonb AND (h.id IS NOT NULL) = $4
		AND ($4 OR NOT EXISTS (SELECT FROM host_tree t WHERE t.box_id = b.id AND t.put_away_at IS NULL))
		AND NOT EXISTS (SELECT FROM claim c WHERE c.box_id = b.id AND c.ended_at IS NULL) ORDER BY b.finished_at, b.id LIMIT 200`,
		modelID, speciesID, rawJSON(append([]int64{}, optionIDs...)), withColony)
}

// BoxNew is a box that was not built here by a build in this book: an old one of ours, or
// one of another maker.
type BoxNew struct {
	Serial      string // as punched; "" gives it the next one
	RevisionID  *int64
	Maker       string // "" is this workshop
	Description string
	SpeciesID   *int64
	OptionIDs   []int64
	FinishedAt  time.Time // made, or come here
	CuredOn     *time.Time
	CostMinor   *int64
	OwnerID     *int64 // party; nil: the workshop
	SiteID      *int64
	Place       string
	Notes       string
}

func (b BoxNew) check(now time.Time) error {
	var l fault.List
	l.Past("/finished_at", b.FinishedAt, now)
	l.Check(b.Serial == "" || SerialOK(b.Serial), "/serial", "A serial has 4 to 8 digits, the last of which is a check digit. Leave it empty and the box gets one.")
	l.Check(b.RevisionID != nil || b.Description != "", "/description", "Say what box it is, or which model.")
	l.Short("/maker", b.Maker)
	l.Short("/description", b.Description)
	l.Short("/place", b.Place)
	l.Check(b.CostMinor == nil || *b.CostMinor >= 0, "/cost_minor", "A cost cannot be below zero.")
	return l.Err()
}

// BoxRegister writes down a box that no build in this book made. Errors: Invalid,
// Conflict when the serial is taken.
func (r *Room) BoxRegister(ctx context.Context, b BoxNew) (Box, error) {
	var out Box
	err := r.db.WithTx(ctx, func(ctx context.Context, tx pgx.Tx) error {
		if err := b.check(r.db.Now()); err != nil {
			return err
		}
		id, err := boxInsert(ctx, tx, b, nil, r.db.Now())
		if err != nil {
			return err
		}
		if b.RevisionID != nil {
			rev, err := revisionIn(ctx, tx, *b.RevisionID)
			if err != nil {
				return err
			}
			options, err := OptionsByID(ctx, tx, b.OptionIDs)
			if err != nil {
				return err
			}
			if err := sectionsInsert(ctx, tx, id, rev, options, b.FinishedAt); err != nil {
				return err
			}
		}
		out, err = boxIn(ctx, tx, `WHERE b.id = $1`, id)
		return err
	})
	return out, err
}

// boxInsert makes a box with its owner and place.
func boxInsert(ctx context.Context, tx pgx.Tx, b BoxNew, buildID *int64, now time.Time) (int64, error) {
	if b.Serial == "" {
		var err error
		if b.Serial, err = nextSerial(ctx, tx); err != nil {
			return 0, err
		}
	}
	id, err := postgres.Value[int64](ctx, tx, `INSERT INTO box (serial, model_revision_id, build_id, maker, description, timber_species_id, options, finished_at, cured_on, cost_minor, notes, recorded_at)
		VALUES ($1, $2, $3, $4, $5, $6, $7, $8, $9, $10, $11, $12) RETURNING id`, b.Serial, b.RevisionID, buildID, b.Maker, b.Description, b.SpeciesID,
		rawJSON(append([]int64{}, b.OptionIDs...)), b.FinishedAt, b.CuredOn, b.CostMinor, b.Notes, now)
	if err != nil {
		return 0, err
	}
	if _, err := tx.Exec(ctx, `INSERT INTO box_owner (box_id, party_id, from_at) VALUES ($1, $2, $3)`, id, b.OwnerID, b.FinishedAt); err != nil {
		return 0, postgres.Translate(err)
	}
	_, err = tx.Exec(ctx, `INSERT INTO box_place (box_id, site_id, place, from_at) VALUES ($1, $2, $3, $4)`, id, b.SiteID, b.Place, b.FinishedAt)
	return id, postgres.Translate(err)
}

// sectionsInsert writes down which sections a new box is made of, from the ground up.
func sectionsInsert(ctx context.Context, tx pgx.Tx, boxID int64, rev Revision, options []Option, at time.Time) error {
	m, err := Compose(rev, options)
	if err != nil {
		return err
	}
	place := 0
	for _, s := range m.Sections {
		for range s.Count {
			place++
			if _, err := tx.Exec(ctx, `INSERT INTO box_section (box_id, section, place_in_box, from_at) VALUES ($1, $2, $3, $4)`, boxID, s.ID, place, at); err != nil {
				return postgres.Translate(err)
			}
		}
	}
	return nil
}

// BoxOwnerTx says whose box it is from a moment on, and how it came to them; party nil is the workshop. A claim
// that still stands on the box is broken by the fact. Errors: Invalid when the moment lies
// before the present owner's time, NotFound.
func (r *Room) BoxOwnerTx(ctx context.Context, tx pgx.Tx, boxID int64, party *int64, at time.Time, note string) error {
	if _, err := claims.BreakForFact(ctx, tx, r.db.Now(), claims.Box(boxID), breakIf(party != nil), "the box went to another owner"); err != nil {
		return err
	}
	if err := closeDated(ctx, tx, "box_owner", boxID, at); err != nil {
		return err
	}
	_, err := tx.Exec(ctx, `INSERT INTO box_owner (box_id, party_id, from_at, note, recorded_at) VALUES ($1, $2, $3, $4, $5)`, boxID, party, at, note, r.db.Now())
	return postgres.Translate(err)
}

// breakIf is what is left of a box for those who have claimed it.
func breakIf(gone bool) int {
	if gone {
		return 0
	}
	return 1
}

// BoxPlaceTx says where the box is from a moment on: at a site, or a place in the
// workshop.
func (r *Room) BoxPlaceTx(ctx context.Context, tx pgx.Tx, boxID int64, site *int64, place string, at time.Time) error {
	var l fault.List
	l.Past("/from_at", at, r.db.Now())
	l.Short("/place", place)
	if err := l.Err(); err != nil {
		return err
	}
	if _, err := claims.Lock(ctx, tx, []claims.Thing{claims.Box(boxID)}); err != nil {
		return err
	}
	if err := closeDated(ctx, tx, "box_place", boxID, at); err != nil {
		return err
	}
	_, err := tx.Exec(ctx, `INSERT INTO box_place (box_id, site_id, place, from_at) VALUES ($1, $2, $3, $4)`, boxID, site, place, at)
	return postgres.Translate(err)
}

// BoxMove is [Room.BoxPlaceTx] in a transaction of its own.
func (r *Room) BoxMove(ctx context.Context, boxID int64, site *int64, place string, at time.Time) (Box, error) {
	err := r.db.WithTx(ctx, func(ctx context.Context, tx pgx.Tx) error { return r.BoxPlaceTx(ctx, tx, boxID, site, place, at) })
	if err != nil {
		return Box{}, err
	}
	return r.BoxGet(ctx, boxID)
}

// closeDated ends the row of a dated table that is open for a box.
func closeDated(ctx context.Context, tx pgx.Tx, table string, boxID int64, at time.Time) error {
	from, err := postgres.Column[time.Time](ctx, tx, `SELECT from_at FROM `+table+` WHERE box_id = $1 AND to_at IS NULL`, boxID)
	if err != nil || len(from) == 0 {
		return err
	}
	if at.Before(from[0]) {
		return fault.Bad("/from_at", "What stands in the book began later, on %s. Write a later time.", from[0].Format(time.DateOnly))
	}
	_, err = tx.Exec(ctx, `UPDATE `+table+` SET to_at = $2 WHERE box_id = $1 AND to_at IS NULL`, boxID, at)
	return postgres.Translate(err)
}

// BoxChange is what may change on a box.
type BoxChange struct {
	ID              int64
	Version         int
	HeldBackBecause string // "" releases it
	StolenAt        *time.Time
	GoneAt          *time.Time
	CuredOn         *time.Time
	Notes           string
}

// BoxSave holds a box back, releases it, or notes that it is stolen or gone. Claims on a
// box that can no longer be given are broken. Errors: Invalid, Stale.
func (r *Room) BoxSave(ctx context.Context, c BoxChange) (Box, error) {
	var l fault.List
	l.Short("/held_back_because", c.HeldBackBecause)
	for pointer, at := range map[string]*time.Time{"/stolen_at": c.StolenAt, "/gone_at": c.GoneAt} {
		if at != nil {
			l.Past(pointer, *at, r.db.Now())
		}
	}
	if err := l.Err(); err != nil {
		return Box{}, err
	}
	err := r.db.WithTx(ctx, func(ctx context.Context, tx pgx.Tx) error {
		lost := c.HeldBackBecause != "" || c.StolenAt != nil || c.GoneAt != nil
		if _, err := claims.BreakForFact(ctx, tx, r.db.Now(), claims.Box(c.ID), breakIf(lost), whyLost(c)); err != nil {
			return err
		}
		was, err := boxIn(ctx, tx, `WHERE b.id = $1`, c.ID)
		if err != nil {
			return err
		}
		if err := r.keepReport(ctx, tx, was, c.StolenAt); err != nil {
			return err
		}
		_, err = postgres.Value[int64](ctx, tx, `UPDATE box SET held_back_because = $3, stolen_at = $4, gone_at = $5, cured_on = $6, notes = $7 WHERE id = $1 AND version = $2 RETURNING id`,
			c.ID, c.Version, c.HeldBackBecause, c.StolenAt, c.GoneAt, c.CuredOn, c.Notes)
		return postgres.Changed(ctx, tx, err, "box", c.ID, "this box")
	})
	if err != nil {
		return Box{}, err
	}
	return r.BoxGet(ctx, c.ID)
}

func whyLost(c BoxChange) string {
	switch {
	case c.StolenAt != nil:
		return "the box is stolen"
	case c.GoneAt != nil:
		return "the box is gone"
	}
	return "the box is held back: " + c.HeldBackBecause
}

// SectionMove puts a section at a place in a box, 1 from the bottom, from a moment on;
// what sat there before ends. With section "" the place stays empty and the note is of what
// left.
func (r *Room) SectionMove(ctx context.Context, boxID int64, place int, section, note string, at time.Time) (Box, error) {
	var l fault.List
	l.Check(place >= 1 && place <= 50, "/place_in_box", "The place must lie between 1 and 50, from the bottom.")
	l.Past("/from_at", at, r.db.Now())
	l.Short("/section", section)
	l.Short("/note", note)
	if err := l.Err(); err != nil {
		return Box{}, err
	}
	err := r.db.WithTx(ctx, func(ctx context.Context, tx pgx.Tx) error {
		if _, err := claims.Lock(ctx, tx, []claims.Thing{claims.Box(boxID)}); err != nil {
			return err
		}
		leaving := ""
		if section == "" {
			leaving = note
		}
		if _, err := tx.Exec(ctx, `UPDATE box_section SET to_at = $3, note = CASE WHEN $4 <> '' THEN $4 ELSE note END
			WHERE box_id = $1 AND place_in_box = $2 AND to_at IS NULL`, boxID, place, at, leaving); err != nil {
			return postgres.Translate(err)
		}
		if section == "" {
			return nil
		}
		_, err := tx.Exec(ctx, `INSERT INTO box_section (box_id, section, place_in_box, from_at, note) VALUES ($1, $2, $3, $4, $5)`, boxID, section, place, at, note)
		return postgres.Translate(err)
	})
	if err != nil {
		return Box{}, err
	}
	return r.BoxGet(ctx, boxID)
}

func init() {
	postgres.Explain("box_serial_once", fault.Conflict, "/serial", "There is a box with this serial already.")
	postgres.Explain("box_serial_form", fault.Invalid, "/serial", "A serial has 4 to 8 digits.")
	postgres.Explain("box_section_forward", fault.Invalid, "/from_at", "What sits there began later. Write a later time.")
}
