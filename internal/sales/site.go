package sales

import (
	"context"
	"time"

	"github.com/jackc/pgx/v5"

	"kerfbook/internal/fault"
	"kerfbook/internal/house"
	"kerfbook/internal/postgres"
)

const siteColumns = `id, version, party_id, name, address, town, region, postcode, latitude, longitude, time_zone, wall,
	wall_faces_deg::float8 AS wall_faces_deg, eave_out_mm::float8 AS eave_out_mm, eave_above_mm::float8 AS eave_above_mm, hives_there, notes`

func (s *Site) check() error {
	var l fault.List
	for p, v := range map[string]string{"/name": s.Name, "/address": s.Address, "/town": s.Town, "/region": s.Region, "/postcode": s.Postcode, "/wall": s.Wall} {
		checkWords(&l, p, v)
	}
	checkProse(&l, "/notes", s.Notes)
	l.Check((s.Latitude == nil) == (s.Longitude == nil), "/latitude", "Give both latitude and longitude, or neither.")
	l.Check(within(s.Latitude, -90, 90), "/latitude", "Latitude lies between -90 and 90; south is negative.")
	l.Check(within(s.Longitude, -180, 180), "/longitude", "Longitude lies between -180 and 180; west is negative.")
	l.Check(within(s.WallFacesDeg, 0, 359.9), "/wall_faces_deg", "A wall faces 0 to 359 degrees: north 0, east 90, south 180, west 270.")
	l.Check(within(s.EaveOutMM, 0, 20000), "/eave_out_mm", "The eave's reach lies between 0 and 20000 mm.")
	l.Check(within(s.EaveAboveMM, 0, 20000), "/eave_above_mm", "The eave's height lies between 0 and 20000 mm.")
	l.Check(s.HivesThere >= 0 && s.HivesThere < 100000, "/hives_there", "The number of hives cannot be negative.")
	if _, err := time.LoadLocation(s.TimeZone); err != nil {
		l.Add("/time_zone", "This time zone is not known. Write it like Australia/Brisbane.")
	}
	return l.Err()
}

func within(v *float64, low, high float64) bool { return v == nil || (*v >= low && *v <= high) }

// SitePut stores s: new when s.ID is 0, else a change of version s.Version. Without a
// time zone it has the workshop's.
func (r *Room) SitePut(ctx context.Context, s Site) (Site, error) {
	err := r.db.WithTx(ctx, func(ctx context.Context, tx pgx.Tx) error {
		if s.TimeZone == "" {
			set, err := house.SettingsIn(ctx, tx)
			if err != nil && !fault.Is(err, fault.NotFound) {
				return err
			}
			s.TimeZone = set.Location().String()
		}
		if err := s.check(); err != nil {
			return err
		}
		args := []any{s.PartyID, s.Name, s.Address, s.Town, s.Region, s.Postcode, s.Latitude, s.Longitude, s.TimeZone, s.Wall, s.WallFacesDeg, s.EaveOutMM, s.EaveAboveMM, s.HivesThere, s.Notes}
		if s.ID == 0 {
			return tx.QueryRow(ctx, `INSERT INTO site (party_id, name, address, town, region, postcode, latitude, longitude, time_zone, wall, wall_faces_deg, eave_out_mm, eave_above_mm, hives_there, notes)
VALUES ($1, $2, $3, $4, $5, $6, $7, $8, $9, $10, $11, $12, $13, $14, $15) RETURNING id, version`, args...).Scan(&s.ID, &s.Version)
		}
		err := tx.QueryRow(ctx, `UPDATE site SET party_id = $1, name = $2, address = $3, town = $4, region = $5, postcode = $6, latitude = $7, longitude = $8, time_zone = $9, wall = $10,
	wall_faces_deg = $11, eave_out_mm = $12, eave_above_mm = $13, hives_there = $14, notes = $15 WHERE id = $16 AND version = $17 RETURNING version`,
			append(args, s.ID, s.Version)...).Scan(&s.Version)
		return postgres.StaleOr(ctx, tx, err, "site", s.ID)
	})
	return s, err
}

// SiteGet reads a site.
func (r *Room) SiteGet(ctx context.Context, id int64) (Site, error) {
	s, err := postgres.One[Site](ctx, r.db, `SELECT `+siteColumns+` FROM site WHERE id = $1`, id)
	return s, postgres.Translate(err)
}

// SitePage gives a page of all sites in use in the order they were made.
func (r *Room) SitePage(ctx context.Context, after string, limit int) ([]Site, string, error) {
	mark, err := postgres.ReadMark(after)
	if err != nil {
		return nil, "", err
	}
	n := postgres.PageSize(limit)
	list, err := postgres.List[Site](ctx, r.db, `SELECT `+siteColumns+` FROM site WHERE id > $1 AND put_away_at IS NULL ORDER BY id LIMIT $2`, mark.ID, n+1)
	list, next := postgres.CutPage(list, n, func(s Site) postgres.Mark { return postgres.Mark{ID: s.ID} })
	return list, next, postgres.Translate(err)
}

// SiteList gives the sites of a party, or the workshop's own when party is 0.
func (r *Room) SiteList(ctx context.Context, party int64) ([]Site, error) {
	where, args := `party_id = $1`, []any{party}
	if party == 0 {
		where, args = `party_id IS NULL`, nil
	}
	list, err := postgres.List[Site](ctx, r.db, `SELECT `+siteColumns+` FROM site WHERE `+where+` AND put_away_at IS NULL ORDER BY id LIMIT 200`, args...)
	return list, postgres.Translate(err)
}
