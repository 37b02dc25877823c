package sales

import (
	"context"
	"fmt"
	"slices"
	"strings"
	"time"

	"github.com/jackc/pgx/v5"

	"kerfbook/internal/calc/costing"
	"kerfbook/internal/fault"
	"kerfbook/internal/house"
	"kerfbook/internal/postgres"
)

// Party is a person or an organisation that asks, buys or owns.
type Party struct {
	ID             int64      `db:"id"`
	Version        int        `db:"version"`
	MadeAt         time.Time  `db:"made_at"`
	Kind           string     `db:"kind"` // person, organisation
	Name           string     `db:"name"` // may be empty while only a number is known
	Town           string     `db:"town"`
	BusinessNumber string     `db:"business_number"`
	DueDays        *int       `db:"due_days"` // to pay, as agreed; nil: the usual ones
	BuyerClassID   *int64     `db:"buyer_class_id"`
	FoundBy        string     `db:"found_by"`
	Notes          string     `db:"notes"`
	JoinedIntoID   *int64     `db:"joined_into_id"`
	PutAwayAt      *time.Time `db:"put_away_at"`
	Contacts       []Contact  `db:"-"`
}

// Phone is the first phone number of the party as typed, or empty.
func (p Party) Phone() string { return p.contact("phone") }

// Email is the first e-mail address of the party, or empty.
func (p Party) Email() string { return p.contact("email") }

func (p Party) contact(kind string) string {
	for _, c := range p.Contacts {
		if c.Kind == kind {
			return c.Value
		}
	}
	return ""
}

// Called is the name to show: the party's name, else its number, else a plain word.
func (p Party) Called() string {
	switch {
	case p.Name != "":
		return p.Name
	case p.Phone() != "":
		return p.Phone()
	}
	return "Nameless"
}

// Contact is one way to reach a party.
type Contact struct {
	ID      int64  `db:"id"`
	PartyID int64  `db:"party_id"`
	Kind    string `db:"kind"` // phone, email, other
	Value   string `db:"value"`
	Normal  string `db:"normal"`
	Person  string `db:"person"`
}

// Site is a place where a hive stands or will stand.
type Site struct {
	ID           int64    `db:"id"`
	Version      int      `db:"version"`
	PartyID      *int64   `db:"party_id"` // nil: the workshop's own
	Name         string   `db:"name"`
	Address      string   `db:"address"`
	Town         string   `db:"town"`
	Region       string   `db:"region"`
	Postcode     string   `db:"postcode"`
	Latitude     *float64 `db:"latitude"`  // degrees, north positive
	Longitude    *float64 `db:"longitude"` // degrees, east positive
	TimeZone     string   `db:"time_zone"`
	Wall         string   `db:"wall"`
	WallFacesDeg *float64 `db:"wall_faces_deg"` // from north, clockwise
	EaveOutMM    *float64 `db:"eave_out_mm"`
	EaveAboveMM  *float64 `db:"eave_above_mm"` // above the middle of the box front
	HivesThere   int      `db:"hives_there"`
	Notes        string   `db:"notes"`
}

// Line is the address in one line.
func (s Site) Line() string {
	var parts []string
	for _, p := range []string{s.Address, s.Town, strings.TrimSpace(s.Region + " " + s.Postcode)} {
		if strings.TrimSpace(p) != "" {
			parts = append(parts, strings.TrimSpace(p))
		}
	}
	return strings.Join(parts, ", ")
}

// checkBusinessNumber refuses eleven digits that are no Australian Business Number, and
// nine that are no Australian Company Number; a number of another form is taken as typed.
func checkBusinessNumber(l *fault.List, typed string) {
	checkWords(l, "/business_number", typed)
	digits := strings.Map(func(r rune) rune {
		if r == ' ' {
			return -1
		}
		return r
	}, typed)
	if strings.Trim(digits, "0123456789") != "" {
		return
	}
	switch len(digits) {
	case 11:
		out, err := costing.BusinessNumber(context.Background(), costing.BusinessNumberIn{ABN: digits})
		l.Check(err == nil && out.Valid, "/business_number", "These eleven digits are no business number (ABN): look for a wrong or swapped one.")
	case 9:
		l.Check(costing.CompanyNumberValid(digits), "/business_number", "These nine digits are no company number (ACN): look for a wrong or swapped one.")
	}
}

func (p *Party) check(country string) error {
	var l fault.List
	p.Name, p.Town = strings.TrimSpace(p.Name), strings.TrimSpace(p.Town)
	if p.Kind == "" {
		p.Kind = "person"
	}
	l.Check(p.Kind == "person" || p.Kind == "organisation", "/kind", "Must be person or organisation.")
	checkWords(&l, "/name", p.Name)
	checkWords(&l, "/town", p.Town)
	checkBusinessNumber(&l, p.BusinessNumber)
	l.Check(p.DueDays == nil || *p.DueDays >= 0 && *p.DueDays <= 365, "/due_days", "Days to pay lie between 0 and 365.")
	checkWords(&l, "/found_by", p.FoundBy)
	checkProse(&l, "/notes", p.Notes)
	kept := p.Contacts[:0]
	for _, c := range p.Contacts {
		c.Value = strings.TrimSpace(c.Value)
		if c.Value == "" {
			continue
		}
		checkWords(&l, "/contacts", c.Value)
		checkWords(&l, "/contacts", c.Person)
		switch c.Kind {
		case "phone":
			c.Normal = PhoneNormal(c.Value, country)
			l.Check(len(c.Normal) >= 3, "/contacts", "This phone number has too few digits.")
		case "email":
			c.Normal = strings.ToLower(c.Value)
			l.Check(strings.Contains(c.Value, "@"), "/contacts", "An e-mail address needs an @.")
		case "other":
			c.Normal = strings.ToLower(c.Value)
		default:
			l.Add("/contacts", "A contact is a phone, an email or other.")
		}
		kept = append(kept, c)
	}
	p.Contacts = kept
	l.Check(p.Name != "" || len(p.Contacts) > 0, "/name", "Give a name or a phone number.")
	return l.Err()
}

// PartyPut stores p with its contacts: a new one when p.ID is 0, else a change of
// version p.Version. Contacts that are no longer listed are put away.
func (r *Room) PartyPut(ctx context.Context, p Party) (Party, error) {
	country, err := "", error(nil)
	if slices.ContainsFunc(p.Contacts, func(c Contact) bool { return c.Kind == "phone" }) {
		if country, err = countryIn(ctx, r.db); err != nil {
			return p, err
		}
	}
	if err := p.check(country); err != nil {
		return p, err
	}
	if p.ID == 0 && len(p.Contacts) == 0 {
		err := r.db.WithOne(ctx, []any{&p.ID, &p.Version, &p.MadeAt}, insertParty, p.fields()...)
		return p, err
	}
	err = r.db.WithTx(ctx, func(ctx context.Context, tx pgx.Tx) error {
		if err := putParty(ctx, tx, &p); err != nil {
			return err
		}
		return putContacts(ctx, tx, &p)
	})
	return p, err
}

// countryIn is the country in which phone numbers without one are read.
func countryIn(ctx context.Context, q postgres.Querier) (string, error) {
	s, err := house.SettingsIn(ctx, q)
	if fault.Is(err, fault.NotFound) {
		return "AU", nil
	}
	return s.Country, err
}

const partyColumns = `id, version, made_at, kind, name, town, business_number, due_days, buyer_class_id, found_by, notes, joined_into_id, put_away_at`

const insertParty = `INSERT INTO party (kind, name, town, business_number, buyer_class_id, found_by, notes, due_days)
VALUES ($1, $2, $3, $4, $5, $6, $7, $8) RETURNING id, version, made_at`

func (p Party) fields() []any {
	return []any{p.Kind, p.Name, p.Town, p.BusinessNumber, p.BuyerClassID, p.FoundBy, p.Notes, p.DueDays}
}

func putParty(ctx context.Context, tx pgx.Tx, p *Party) error {
	if p.ID == 0 {
		return tx.QueryRow(ctx, insertParty, p.fields()...).Scan(&p.ID, &p.Version, &p.MadeAt)
	}
	err := tx.QueryRow(ctx, `UPDATE party SET kind = $3, name = $4, town = $5, business_number = $6, buyer_class_id = $7, found_by = $8, notes = $9, due_days = $10
WHERE id = $1 AND version = $2 RETURNING version, made_at`,
		p.ID, p.Version, p.Kind, p.Name, p.Town, p.BusinessNumber, p.BuyerClassID, p.FoundBy, p.Notes, p.DueDays).Scan(&p.Version, &p.MadeAt)
	return postgres.StaleOr(ctx, tx, err, "party", p.ID)
}

func putContacts(ctx context.Context, tx pgx.Tx, p *Party) error {
	ids := []int64{}
	for i := range p.Contacts {
		c := &p.Contacts[i]
		c.PartyID = p.ID
		err := tx.QueryRow(ctx, `SELECT id FROM contact WHERE party_id = $1 AND kind = $2 AND normal = $3 AND put_away_at IS NULL ORDER BY id LIMIT 1`,
			p.ID, c.Kind, c.Normal).Scan(&c.ID)
		switch {
		case fault.Is(postgres.Translate(err), fault.NotFound):
			err = tx.QueryRow(ctx, `INSERT INTO contact (party_id, kind, value, normal, person) VALUES ($1, $2, $3, $4, $5) RETURNING id`,
				p.ID, c.Kind, c.Value, c.Normal, c.Person).Scan(&c.ID)
		case err == nil:
			_, err = tx.Exec(ctx, `UPDATE contact SET value = $2, person = $3 WHERE id = $1 AND (value, person) IS DISTINCT FROM ($2, $3)`, c.ID, c.Value, c.Person)
		}
		if err != nil {
			return err
		}
		ids = append(ids, c.ID)
	}
	_, err := tx.Exec(ctx, `UPDATE contact SET put_away_at = now() WHERE party_id = $1 AND put_away_at IS NULL AND NOT id = ANY($2)`, p.ID, ids)
	return err
}

// partyRow is a party with its contacts, read in one statement.
type partyRow struct {
	Party
	Known []Contact `db:"contacts"`
}

// partySelect is read by [partiesBy]; the fields of a contact have the names they have
// in Go.
const partySelect = `SELECT ` + partyColumns + `,
	(SELECT json_agg(json_build_object('ID', c.id, 'PartyID', c.party_id, 'Kind', c.kind, 'Value', c.value, 'Normal', c.normal, 'Person', c.person) ORDER BY c.id)
		FROM contact c WHERE c.party_id = party.id AND c.put_away_at IS NULL) AS contacts FROM party `

func partiesBy(ctx context.Context, q postgres.Querier, where string, args ...any) ([]Party, error) {
	rows, err := postgres.List[partyRow](ctx, q, partySelect+where, args...)
	if err != nil {
		return nil, err
	}
	list := make([]Party, len(rows))
	for i, r := range rows {
		list[i], list[i].Contacts = r.Party, r.Known
	}
	return list, nil
}

// PartyGet reads a party with its contacts; a joined record gives the one it was
// joined into.
func (r *Room) PartyGet(ctx context.Context, id int64) (Party, error) { return partyIn(ctx, r.db, id) }

func partyIn(ctx context.Context, q postgres.Querier, id int64) (Party, error) {
	list, err := partiesBy(ctx, q, `WHERE id = $1`, id)
	if err == nil && len(list) == 1 && list[0].JoinedIntoID != nil {
		list, err = partiesBy(ctx, q, `WHERE id = (WITH RECURSIVE way (id, joined_into_id) AS (
	SELECT id, joined_into_id FROM party WHERE id = $1
	UNION SELECT p.id, p.joined_into_id FROM party p JOIN way ON p.id = way.joined_into_id)
SELECT id FROM way WHERE joined_into_id IS NULL)`, id)
	}
	if err == nil && len(list) == 0 {
		err = postgres.Translate(pgx.ErrNoRows)
	}
	if err != nil {
		return Party{}, err
	}
	return list[0], nil
}

// PartyFilter says which parties a list holds.
type PartyFilter struct {
	Find  string // beginning of words of the name or town, or digits of a phone number
	Limit int
	After string // cursor of the page before
}

// PartyList gives parties by name, and the cursor of the next page ("" at the end).
func (r *Room) PartyList(ctx context.Context, f PartyFilter) ([]Party, string, error) {
	mark, err := postgres.ReadMark(f.After)
	if err != nil {
		return nil, "", err
	}
	n := postgres.PageSize(f.Limit)
	var w conditions // party_page serves the order, party_find and contact_tail the search
	w.and(`joined_into_id IS NULL AND put_away_at IS NULL`)
	w.and(`(lower(name::text), id) > (?, ?)`, mark.Key, mark.ID)
	if q := findQuery(f.Find); q != "" {
		if err := w.andWords(ctx, r.db, "party", "id", "find", q); err != nil {
			return nil, "", err
		}
	}
	if d := findDigits(f.Find); d != "" {
		w.and(`id IN (SELECT party_id FROM contact WHERE put_away_at IS NULL AND reverse(normal) LIKE reverse(?) || '%')`, d)
	}
	list, err := partiesBy(ctx, r.db, `WHERE `+w.String()+fmt.Sprintf(` ORDER BY lower(name::text), id LIMIT %d`, n+1), w.args...)
	if err != nil {
		return nil, "", err
	}
	list, next := postgres.CutPage(list, n, func(p Party) postgres.Mark { return postgres.Mark{Key: strings.ToLower(p.Name), ID: p.ID} })
	return list, next, nil
}

// PartiesByNumber gives those who use a phone number, as typed; at most ten.
func (r *Room) PartiesByNumber(ctx context.Context, typed string) ([]Party, error) {
	country, err := countryIn(ctx, r.db)
	if err != nil {
		return nil, err
	}
	normal := PhoneNormal(typed, country)
	if len(digits(normal)) < 4 {
		return nil, nil
	}
	return partiesBy(ctx, r.db, `WHERE joined_into_id IS NULL AND put_away_at IS NULL AND id IN (SELECT party_id FROM contact WHERE kind = 'phone' AND normal = $1 AND put_away_at IS NULL)
ORDER BY id DESC LIMIT 10`, normal)
}

// PartyJoin joins the record from into the record into: what belonged to one belongs
// to the other from now on; the joined record stays and points there.
func (r *Room) PartyJoin(ctx context.Context, from, into int64) error {
	if from == into {
		return fault.Bad("/into_id", "A record cannot be joined to itself.")
	}
	return r.db.WithTx(ctx, func(ctx context.Context, tx pgx.Tx) error {
		rows, err := tx.Query(ctx, `SELECT id FROM party WHERE id = ANY($1) AND joined_into_id IS NULL ORDER BY id FOR UPDATE`, []int64{from, into})
		if err != nil {
			return err
		}
		found, err := pgx.CollectRows(rows, pgx.RowTo[int64])
		if err != nil {
			return err
		}
		if len(found) != 2 {
			return fault.New(fault.Conflict, "One of the two records is not there, or is joined to another already.")
		}
		for _, sql := range []string{
			`UPDATE contact SET party_id = $2 WHERE party_id = $1`,
			`UPDATE site SET party_id = $2 WHERE party_id = $1`,
			`UPDATE enquiry SET party_id = $2 WHERE party_id = $1`,
			`UPDATE sale_order SET party_id = $2 WHERE party_id = $1`,
			`UPDATE box_owner SET party_id = $2 WHERE party_id = $1`,
			`UPDATE colony_owner SET party_id = $2 WHERE party_id = $1`,
			`UPDATE colony_keeper SET party_id = $2 WHERE party_id = $1`,
			`UPDATE quote SET party_id = $2 WHERE party_id = $1 AND issued_at IS NULL`,
			`UPDATE party SET joined_into_id = $2 WHERE id = $1`,
		} {
			if _, err := tx.Exec(ctx, sql, from, into); err != nil {
				return err
			}
		}
		return nil
	})
}

// PartyMakeNameless takes away who a person was: name, contacts, notes and the
// names on enquiries. Issued papers stay, as the law on books asks.
func (r *Room) PartyMakeNameless(ctx context.Context, id int64) error {
	return r.db.WithTx(ctx, func(ctx context.Context, tx pgx.Tx) error {
		tag, err := tx.Exec(ctx, `UPDATE party SET name = '', town = '', notes = '', found_by = '', business_number = '', nameless_at = now(), put_away_at = coalesce(put_away_at, now()) WHERE id = $1`, id)
		if err != nil {
			return err
		}
		if tag.RowsAffected() == 0 {
			return fault.New(fault.NotFound, "There is no such person.")
		}
		for _, sql := range []string{
			`DELETE FROM contact WHERE party_id = $1`,
			`UPDATE enquiry SET name = '', number = '', number_normal = '', place = '', wanted = '' WHERE party_id = $1`,
			`UPDATE site SET name = '', address = '', notes = '', latitude = NULL, longitude = NULL WHERE party_id = $1`,
			`DELETE FROM history WHERE table_name = 'party' AND row_id = $1`,
			`DELETE FROM history WHERE table_name = 'contact' AND (was ->> 'party_id' = $1::bigint::text OR became ->> 'party_id' = $1::bigint::text)`,
			`DELETE FROM history WHERE table_name = 'site' AND row_id IN (SELECT id FROM site WHERE party_id = $1)`,
			`DELETE FROM history WHERE table_name = 'enquiry' AND row_id IN (SELECT id FROM enquiry WHERE party_id = $1)`,
		} {
			if _, err := tx.Exec(ctx, sql, id); err != nil {
				return err
			}
		}
		return nil
	})
}
