package apiary

import (
	"context"
	"fmt"
	"strings"
	"time"

	"github.com/jackc/pgx/v5"

	"kerfbook/internal/fault"
	"kerfbook/internal/house"
	"kerfbook/internal/postgres"
)

// ColonyMake enters a colony with its dwelling, owner, keeper, place, species finding
// and parents. Errors: Conflict for a ring of ancestors, a box that is lived in, or a
// parent that was held back by then and no reason is given; with one, the child is held
// back too.
func (r *Room) ColonyMake(ctx context.Context, n NewColony) (Colony, error) {
	var id int64
	err := r.db.WithTx(ctx, func(ctx context.Context, tx pgx.Tx) error {
		set, err := house.SettingsIn(ctx, tx)
		if err != nil {
			return err
		}
		now := r.db.Now()
		if err := n.check(set.Today(now)); err != nil {
			return err
		}
		if n.OwnerID != nil && n.KeeperID == nil { // what was agreed of others' hives stands with the keeping
			n.Keeping.Agreed, n.Agreed = sentences(n.Agreed, n.Keeping.Agreed), ""
			if err := n.Keeping.check(set.Today(now)); err != nil {
				return err
			}
		}
		if _, known := aboutOf(n.HousedAbout); known && n.HousedAt.IsZero() {
			if n.HousedAt, err = aboutAt("/housed_about", n.HousedAbout, now, set.Location()); err != nil {
				return err
			}
		}
		if n.HousedAt.IsZero() {
			n.HousedAt = now
		}
		if n.HousedAt.After(now.Add(time.Hour)) {
			return fault.Bad("/housed_at", "Housing is noted when it is done, not before.")
		}
		held, err := r.heldParents(ctx, tx, n, set.Location())
		if err != nil {
			return err
		}
		number, err := house.Number(ctx, tx, "colony", "C")
		if err != nil {
			return err
		}
		if err := tx.QueryRow(ctx, `INSERT INTO colony (number, name, began_on, began_about, origin, settled_on, settles_about, notes, held_back_because) VALUES ($1, $2, $3, $4, $5, $6, $7, $8, $9) RETURNING id`,
			number, strings.TrimSpace(n.Name), n.BeganOn, n.BeganAbout, n.Origin, n.SettledOn, n.SettlesAbout, n.Notes, held).Scan(&id); err != nil {
			return err
		}
		if held != "" {
			if err := note(ctx, tx, Event{ColonyID: id, Kind: "held back", HappenedAt: n.HousedAt, Note: held}); err != nil {
				return err
			}
		}
		found := set.Today(now)
		if n.BeganOn != nil {
			found = *n.BeganOn
		}
		for _, q := range []struct {
			sql  string
			args []any
		}{
			{`INSERT INTO colony_species (colony_id, bee_species_id, found_on, sure, found_by) VALUES ($1, $2, $3, $4, $5)`, []any{id, n.SpeciesID, found, n.SpeciesSure, n.FoundBy}},
			{`INSERT INTO housing (colony_id, dwelling, box_id, host_tree_id, description, from_at, from_about) VALUES ($1, $2, $3, $4, $5, $6, $7)`, []any{id, n.Dwelling, n.BoxID, n.HostTreeID, n.Description, n.HousedAt, n.HousedAbout}},
			{`INSERT INTO colony_owner (colony_id, party_id, from_at) VALUES ($1, $2, $3)`, []any{id, n.OwnerID, n.HousedAt}},
			{`INSERT INTO colony_keeper (colony_id, party_id, agreed, from_at) VALUES ($1, $2, $3, $4)`, []any{id, n.KeeperID, n.Agreed, n.HousedAt}},
			{`INSERT INTO colony_place (colony_id, site_id, place, from_at) VALUES ($1, $2, $3, $4)`, []any{id, n.SiteID, n.Place, n.HousedAt}},
		} {
			if _, err := tx.Exec(ctx, q.sql, q.args...); err != nil {
				return err
			}
		}
		if n.OwnerID != nil && n.KeeperID == nil {
			if _, err := keepingInsert(ctx, tx, Keeping{KeepingTerms: n.Keeping, ColonyID: &id, PartyID: *n.OwnerID, CameAt: n.HousedAt}); err != nil {
				return err
			}
		}
		for _, p := range n.Parents {
			if _, err := tx.Exec(ctx, `INSERT INTO colony_parent (colony_id, parent_id, kind, happened_on) VALUES ($1, $2, $3, $4)`, id, p.ParentID, p.Kind, p.HappenedOn); err != nil {
				return err
			}
		}
		return nil
	})
	if err != nil {
		return Colony{}, err
	}
	return r.ColonyGet(ctx, id)
}

const colonySelect = `SELECT c.id, c.version, c.number, c.name, c.began_on, c.began_about, c.origin, c.settled_on, c.settles_about, c.held_back_because, c.kept_to_split, c.ended_at, c.ended_how, c.notes,
	coalesce(c.kept_to_split, EXISTS (SELECT FROM colony_parent q WHERE q.parent_id = c.id AND q.kind = 'split')) AS kept,
	f.bee_species_id AS species_id, f.name AS species_name, f.sure AS species_sure, h.dwelling, h.box_id, b.serial AS box_serial, h.from_at AS housed_at,
	o.party_id AS owner_id, coalesce(op.name::text, '') AS owner_name, k.party_id AS keeper_id, coalesce(kp.name::text, '') AS keeper_name,
	coalesce(nullif(pl.place::text, ''), nullif(s.name::text, ''), s.town::text, '') AS place_name, pl.site_id, cl.order_unit_id AS unit_id
FROM colony c
LEFT JOIN LATERAL (SELECT x.bee_species_id, x.sure, y.name FROM colony_species x JOIN bee_species y ON y.id = x.bee_species_id WHERE x.colony_id = c.id ORDER BY x.found_on DESC, x.id DESC LIMIT 1) f ON true
LEFT JOIN housing h ON h.colony_id = c.id AND h.to_at IS NULL LEFT JOIN box b ON b.id = h.box_id
LEFT JOIN colony_owner o ON o.colony_id = c.id AND o.to_at IS NULL LEFT JOIN party op ON op.id = o.party_id
LEFT JOIN colony_keeper k ON k.colony_id = c.id AND k.to_at IS NULL LEFT JOIN party kp ON kp.id = k.party_id
LEFT JOIN colony_place pl ON pl.colony_id = c.id AND pl.to_at IS NULL LEFT JOIN site s ON s.id = pl.site_id
LEFT JOIN claim cl ON cl.colony_id = c.id AND cl.ended_at IS NULL `

// ColonyGet reads a colony.
func (r *Room) ColonyGet(ctx context.Context, id int64) (Colony, error) {
	return postgres.One[Colony](ctx, r.db, colonySelect+`WHERE c.id = $1`, id)
}

// ColonyByNumber reads a colony by its number.
func (r *Room) ColonyByNumber(ctx context.Context, number string) (Colony, error) {
	return postgres.One[Colony](ctx, r.db, colonySelect+`WHERE c.number = $1`, strings.ToUpper(strings.TrimSpace(number)))
}

// ColonyFilter says which colonies a list holds.
type ColonyFilter struct {
	Living    bool
	OursOnly  bool
	Unclaimed bool
	SpeciesID int64
	BoxID     int64
	Find      string // beginning of the number
	Limit     int
	After     string
}

// ColonyList gives colonies from the newest number, and the mark of the next page.
func (r *Room) ColonyList(ctx context.Context, f ColonyFilter) ([]Colony, string, error) {
	m, err := postgres.ReadMark(f.After)
	if err != nil {
		return nil, "", err
	}
	n := postgres.PageSize(f.Limit)
	where, args := []string{`true`}, []any{}
	and := func(sql string, a ...any) {
		for _, v := range a {
			args = append(args, v)
			sql = strings.Replace(sql, "?", fmt.Sprintf("$%d", len(args)), 1)
		}
		where = append(where, sql)
	}
	if f.After != "" {
		and(`c.id < ?`, m.ID)
	}
	if f.Living {
		and(`c.ended_at IS NULL`)
	}
	if f.OursOnly {
		and(`o.party_id IS NULL`)
	}
	if f.Unclaimed {
		and(`NOT EXISTS (SELECT FROM claim q WHERE q.colony_id = c.id AND q.ended_at IS NULL)`)
	}
	if f.SpeciesID != 0 {
		and(`coalesce(f.bee_species_id = ?, false)`, f.SpeciesID) // so written, it is taken for common, and the page is walked
	}
	if f.BoxID != 0 {
		and(`h.box_id = ?`, f.BoxID)
	}
	if find := strings.ToUpper(strings.TrimSpace(f.Find)); find != "" {
		and(`c.number = ?`, find)
	}
	list, err := postgres.List[Colony](ctx, r.db, colonySelect+`WHERE `+strings.Join(where, ` AND `)+fmt.Sprintf(` ORDER BY c.id DESC LIMIT %d`, n+1), args...)
	list, next := postgres.CutPage(list, n, func(c Colony) postgres.Mark { return postgres.Mark{ID: c.ID} })
	return list, next, err
}

// ParentsOf gives the parents of a colony, and ChildrenOf those that came from it.
func (r *Room) ParentsOf(ctx context.Context, id int64) ([]Parent, error) {
	return postgres.List[Parent](ctx, r.db, `SELECT p.colony_id, p.parent_id, c.number, c.name, p.kind, p.happened_on FROM colony_parent p JOIN colony c ON c.id = p.parent_id WHERE p.colony_id = $1 ORDER BY p.id`, id)
}

// ChildrenOf gives the colonies that came from one; Number and Name are the child's.
func (r *Room) ChildrenOf(ctx context.Context, id int64) ([]Parent, error) {
	return postgres.List[Parent](ctx, r.db, `SELECT p.colony_id, p.parent_id, c.number, c.name, p.kind, p.happened_on FROM colony_parent p JOIN colony c ON c.id = p.colony_id WHERE p.parent_id = $1 ORDER BY p.id LIMIT 200`, id)
}

// lockColony locks a colony row and reads the colony.
func (r *Room) lockColony(ctx context.Context, tx pgx.Tx, id int64) (Colony, error) {
	if _, err := postgres.Value[int64](ctx, tx, `SELECT id FROM colony WHERE id = $1 FOR UPDATE`, id); err != nil {
		return Colony{}, err
	}
	return postgres.One[Colony](ctx, tx, colonySelect+`WHERE c.id = $1`, id)
}
