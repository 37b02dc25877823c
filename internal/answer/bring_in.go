package answer

import (
	"context"
	"crypto/sha256"
	"encoding/hex"
	"errors"
	"fmt"
	"slices"
	"strings"
	"time"

	"github.com/jackc/pgx/v5"
	"github.com/shopspring/decimal"

	"kerfbook/internal/fault"
	"kerfbook/internal/house"
	"kerfbook/internal/postgres"
	"kerfbook/internal/sales"
	"kerfbook/internal/timber"
	"kerfbook/internal/workshop"
)

// TableKind is a kind of table file that can be brought in.
type TableKind struct {
	Name    string
	About   string
	Columns []string
	Need    []string
	Example string // a head and one line
	take    func(*bringing, context.Context, pgx.Tx, *cells) (id int64, said string)
}

// TableKinds are the kinds of table files, in the order they are usually brought in.
var TableKinds = []TableKind{
	{"people", "People and organisations", []string{"name", "kind", "phone", "email", "town", "business_number", "found_by", "notes"}, []string{"name"},
		"name,phone,town\nAda Quill,07 5550 0101,Gully Flat\n", (*bringing).person},
	{"timber", "Boards on the rack", []string{"timber", "width_mm", "thickness_mm", "length_mm", "count", "grade", "place", "thickness_true_mm", "metre_cost"}, []string{"timber", "width_mm", "thickness_mm", "length_mm", "count"},
		"timber,width_mm,thickness_mm,length_mm,count,place\nHoop pine,100,28,2400,12,rack 1\n", (*bringing).boards},
	{"boxes", "Boxes made or sold long ago", []string{"serial", "model", "description", "maker", "timber", "made_on", "owner", "owner_phone", "place", "notes"}, []string{"made_on"},
		"serial,description,made_on,owner,owner_phone\n,Two-tier box of hoop pine,2019-04-02,Ada Quill,07 5550 0101\n", (*bringing).box},
	{"orders", "Orders agreed before this book", []string{"agreed_on", "buyer", "phone", "what", "model", "count", "price", "paid", "paid_by", "box_on", "their_number", "notes"}, []string{"agreed_on", "buyer", "what", "price"},
		"agreed_on,buyer,phone,what,count,price,paid,paid_by,box_on\n2026-01-12,Ada Quill,07 5550 0101,Two-tier box,1,330.00,100.00,transfer,2026-06-01\n", (*bringing).order},
}

// BroughtLine is what became, or would become, of one line.
type BroughtLine struct {
	Line    int
	Said    string        // what it is, in words
	Already bool          // the same line came in before
	Wrong   []fault.Field // what is wrong, by column (the pointer without its stroke)
	ID      int64         // of the record; 0 where it did not come in
}

// Brought is what became, or would become, of a table file.
type Brought struct {
	Kind    string
	Lines   []BroughtLine
	New     int
	Already int
	Wrong   int  // lines with something wrong
	Done    bool // it came in; false for a look ahead, or when a line is wrong
}

var errLookOnly = errors.New("look only")

// BringIn brings a table file into the book, every line or none: where one line is wrong,
// nothing comes in and every wrong line is named. A line that came in before is passed
// over, so that a file can be sent again. With look nothing is written in any case. Error:
// Invalid for a file that cannot be read.
func (r *Room) BringIn(ctx context.Context, kind string, file []byte, look bool) (Brought, error) {
	i := slices.IndexFunc(TableKinds, func(k TableKind) bool { return k.Name == kind })
	if i < 0 {
		return Brought{}, fault.Bad("/kind", "There is no table %q. Choose people, timber, boxes or orders.", kind)
	}
	k := TableKinds[i]
	table, err := readTable(file, k.Columns, k.Need)
	if err != nil {
		return Brought{}, err
	}
	var out Brought
	err = r.db.WithTx(ctx, func(ctx context.Context, tx pgx.Tx) error {
		out = Brought{Kind: kind, Lines: []BroughtLine{}}
		b := &bringing{Room: r, kind: kind, seen: map[string]int{}, parties: map[string]int64{}}
		if b.set, _, err = r.settings(ctx); err != nil {
			return err
		}
		for _, row := range table.rows {
			line, err := b.line(ctx, k, row)
			if err != nil {
				return err
			}
			switch {
			case len(line.Wrong) > 0:
				out.Wrong++
			case line.Already:
				out.Already++
			default:
				out.New++
			}
			out.Lines = append(out.Lines, line)
		}
		if look || out.Wrong > 0 {
			return errLookOnly
		}
		out.Done = true
		return nil
	})
	if errors.Is(err, errLookOnly) {
		for i := range out.Lines {
			out.Lines[i].ID = 0
		}
		return out, nil
	}
	return out, err
}

// bringing is one file on its way in.
type bringing struct {
	*Room
	kind    string
	set     house.Settings
	seen    map[string]int   // how often the words of a line stood before
	parties map[string]int64 // people named in this file, by name and number
}

// line takes one line in a savepoint of its own, so that the lines after it are looked at
// even where it is wrong.
func (b *bringing) line(ctx context.Context, k TableKind, row tableRow) (BroughtLine, error) {
	out := BroughtLine{Line: row.line}
	words := make([]string, len(k.Columns))
	for i, c := range k.Columns {
		words[i] = row.fields[c]
	}
	key := strings.Join(words, "\x1f")
	b.seen[key]++
	sum := sha256.Sum256([]byte(fmt.Sprintf("%d\x1f%s", b.seen[key], key)))
	digest := hex.EncodeToString(sum[:])
	err := b.db.WithTx(ctx, func(ctx context.Context, tx pgx.Tx) error {
		known, err := postgres.Column[int64](ctx, tx, `SELECT record_id FROM typed_in_line WHERE kind = $1 AND digest = $2`, b.kind, digest)
		if err != nil {
			return err
		}
		if len(known) > 0 {
			out.ID, out.Already, out.Said = known[0], true, "came in before"
			return nil
		}
		c := &cells{fields: row.fields, digits: int32(b.set.MinorDigits), zone: b.set.Location()}
		out.ID, out.Said = k.take(b, ctx, tx, c)
		if c.err != nil {
			return c.err
		}
		if len(c.wrong) > 0 {
			return &fault.Error{Kind: fault.Invalid, Detail: "wrong", Fields: c.wrong}
		}
		_, err = tx.Exec(ctx, `INSERT INTO typed_in_line (kind, digest, record_id, came_at) VALUES ($1, $2, $3, $4)`, b.kind, digest, out.ID, b.db.Now())
		return err
	})
	var bad *fault.Error
	if errors.As(err, &bad) && (bad.Kind == fault.Invalid || bad.Kind == fault.Conflict || bad.Kind == fault.NotFound) {
		out.Wrong, out.ID = bad.Fields, 0
		if len(out.Wrong) == 0 {
			out.Wrong = []fault.Field{{Pointer: "", Detail: bad.Detail}}
		}
		for i := range out.Wrong {
			out.Wrong[i].Pointer = columnOf(out.Wrong[i].Pointer)
		}
		return out, nil
	}
	return out, err
}

// columns are the columns that rooms name otherwise.
var columns = map[string]string{"finished_at": "made_on", "happened_at": "agreed_on", "contacts": "phone", "price_minor": "price", "paid_minor": "paid", "amount_minor": "paid", "method": "paid_by", "metre_cost_minor": "metre_cost"}

// columnOf turns a room's pointer into the name of the column it came from.
func columnOf(pointer string) string {
	name := pointer[strings.LastIndex(pointer, "/")+1:]
	if column, ok := columns[name]; ok {
		return column
	}
	return name
}

// cells reads the fields of a line; what is wrong is noted by column.
type cells struct {
	fields map[string]string
	digits int32
	zone   *time.Location
	wrong  []fault.Field
	err    error // of a room; it ends the line
}

func (c *cells) bad(column, sentence string) {
	c.wrong = append(c.wrong, fault.Field{Pointer: column, Detail: sentence})
}

func (c *cells) ok() bool { return len(c.wrong) == 0 && c.err == nil }

func (c *cells) number(column string, places int32) decimal.Decimal {
	text := c.fields[column]
	if text == "" {
		return decimal.Zero
	}
	d, err := decimal.NewFromString(strings.ReplaceAll(strings.TrimLeft(text, "$ "), ",", ""))
	if err != nil || d.Abs().GreaterThan(decimal.New(1, 9)) {
		c.bad(column, fmt.Sprintf("%q is not a number.", text))
		return decimal.Zero
	}
	if !d.Equal(d.Round(places)) {
		c.bad(column, fmt.Sprintf("%q has more than %d decimals.", text, places))
	}
	return d
}

func (c *cells) whole(column string, otherwise int64) int64 {
	if c.fields[column] == "" {
		return otherwise
	}
	return c.number(column, 0).IntPart()
}

func (c *cells) money(column string) int64 {
	return c.number(column, c.digits).Shift(c.digits).IntPart()
}

// day reads a day, 2026-03-14 or 14/3/2026, at noon; nil when empty.
func (c *cells) day(column string) *time.Time {
	text := c.fields[column]
	if text == "" {
		return nil
	}
	for _, form := range []string{time.DateOnly, "2/1/2006", "2.1.2006"} {
		if d, err := time.Parse(form, text); err == nil && d.Year() >= 1900 && d.Year() < 2200 {
			return &d
		}
	}
	c.bad(column, fmt.Sprintf("%q is not a day. Write it as 2026-03-14.", text))
	return nil
}

func (c *cells) noon(d *time.Time) time.Time {
	return time.Date(d.Year(), d.Month(), d.Day(), 12, 0, 0, 0, c.zone)
}

func (b *bringing) person(ctx context.Context, _ pgx.Tx, c *cells) (int64, string) {
	p := sales.Party{Name: c.fields["name"], Kind: strings.ToLower(c.fields["kind"]), Town: c.fields["town"], BusinessNumber: c.fields["business_number"], FoundBy: c.fields["found_by"], Notes: c.fields["notes"]}
	for _, kind := range []string{"phone", "email"} {
		if v := c.fields[kind]; v != "" {
			p.Contacts = append(p.Contacts, sales.Contact{Kind: kind, Value: v})
		}
	}
	p, c.err = b.Sales.PartyPut(ctx, p)
	return p.ID, p.Called()
}

// party finds who is meant by a name and number, or puts a new record down.
func (b *bringing) party(ctx context.Context, c *cells, name, phone string) int64 {
	key := strings.ToLower(name) + "\x1f" + phone
	if id := b.parties[key]; id != 0 {
		return id
	}
	var found []int64
	if phone != "" {
		list, err := b.Sales.PartiesByNumber(ctx, phone)
		if err != nil {
			c.err = err
			return 0
		}
		for _, p := range list {
			if name == "" || strings.EqualFold(p.Name, name) {
				found = append(found, p.ID)
			}
		}
	} else {
		found, c.err = postgres.Column[int64](ctx, b.db, `SELECT id FROM party WHERE lower(name::text) = lower($1) AND put_away_at IS NULL AND joined_into_id IS NULL ORDER BY id LIMIT 2`, name)
	}
	if c.err != nil {
		return 0
	}
	if len(found) > 1 && phone == "" {
		c.bad("buyer", fmt.Sprintf("There are several people called %s. Write the phone number too.", name))
		return 0
	}
	if len(found) > 0 {
		return found[0]
	}
	p := sales.Party{Name: name}
	if phone != "" {
		p.Contacts = []sales.Contact{{Kind: "phone", Value: phone}}
	}
	p, c.err = b.Sales.PartyPut(ctx, p)
	if c.err == nil {
		b.parties[key] = p.ID
	}
	return p.ID
}

// species finds a timber by its name or code; nil when none is named.
func (b *bringing) species(ctx context.Context, c *cells) *int64 {
	name := c.fields["timber"]
	if name == "" {
		return nil
	}
	ids, err := postgres.Column[int64](ctx, b.db, `SELECT id FROM timber_species WHERE (lower(name::text) = lower($1) OR code = lower($1)) AND put_away_at IS NULL ORDER BY id LIMIT 1`, name)
	if err != nil {
		c.err = err
		return nil
	}
	if len(ids) == 0 {
		c.bad("timber", fmt.Sprintf("There is no timber called %q. Put it down under Timber first.", name))
		return nil
	}
	return &ids[0]
}

// model finds a box model by its name or code; 0 when none is named.
func (b *bringing) model(ctx context.Context, c *cells) (id int64, revision *int64) {
	name := c.fields["model"]
	if name == "" {
		return 0, nil
	}
	ids, err := postgres.Column[int64](ctx, b.db, `SELECT id FROM box_model WHERE (lower(name::text) = lower($1) OR code = lower($1)) ORDER BY put_away_at IS NOT NULL, id LIMIT 1`, name)
	if err != nil {
		c.err = err
		return 0, nil
	}
	if len(ids) == 0 {
		c.bad("model", fmt.Sprintf("There is no model called %q. Leave it empty and describe the box instead.", name))
		return 0, nil
	}
	m, err := b.Workshop.ModelGet(ctx, ids[0])
	c.err = err
	return m.ID, m.LatestID
}

func (b *bringing) boards(ctx context.Context, _ pgx.Tx, c *cells) (int64, string) {
	species := b.species(ctx, c)
	k := timber.LotKey{WidthMM: c.number("width_mm", 1), ThicknessMM: c.number("thickness_mm", 1), ThicknessTrueMM: c.number("thickness_true_mm", 1), LengthMM: int(c.whole("length_mm", 0)), Grade: strings.ToLower(c.fields["grade"]), Place: c.fields["place"]}
	if c.fields["metre_cost"] != "" {
		cost := c.money("metre_cost")
		k.MetreCostMinor = &cost
	}
	count := c.whole("count", 0)
	if species == nil && c.ok() {
		c.bad("timber", "Say which timber it is.")
	}
	if !c.ok() {
		return 0, ""
	}
	if k.Grade == "" {
		k.Grade = "sound"
	}
	k.SpeciesID = *species
	lot, err := b.Timber.LotIn(ctx, k, int(count), timber.Opening, b.db.Now(), "brought in from a table")
	c.err = err
	return lot.ID, fmt.Sprintf("%d boards %s x %s, %d mm", count, k.WidthMM, k.ThicknessMM, k.LengthMM)
}

func (b *bringing) box(ctx context.Context, _ pgx.Tx, c *cells) (int64, string) {
	n := workshop.BoxNew{Serial: strings.ReplaceAll(c.fields["serial"], " ", ""), Description: c.fields["description"], Maker: c.fields["maker"], Place: c.fields["place"], Notes: c.fields["notes"], SpeciesID: b.species(ctx, c)}
	_, n.RevisionID = b.model(ctx, c)
	if made := c.day("made_on"); made != nil {
		n.FinishedAt = c.noon(made)
	} else if c.ok() {
		c.bad("made_on", "Say when it was made; the first of the year will do.")
	}
	if !c.ok() {
		return 0, ""
	}
	if c.fields["owner"] != "" || c.fields["owner_phone"] != "" {
		owner := b.party(ctx, c, c.fields["owner"], c.fields["owner_phone"])
		n.OwnerID = &owner
	}
	if !c.ok() {
		return 0, ""
	}
	box, err := b.Workshop.BoxRegister(ctx, n)
	c.err = err
	return box.ID, "box " + box.Serial
}

func (b *bringing) order(ctx context.Context, _ pgx.Tx, c *cells) (int64, string) {
	line := TypedLine{Kind: "box", Description: c.fields["what"], Count: c.whole("count", 1), PriceMinor: c.money("price"), BoxOn: c.day("box_on")}
	line.ModelID, _ = b.model(ctx, c)
	t := TypedIn{TheirNumber: c.fields["their_number"], Notes: c.fields["notes"], PaidMinor: c.money("paid"), PaidMethod: strings.ToLower(c.fields["paid_by"]), Lines: []TypedLine{line}}
	if t.PaidMinor > 0 && t.PaidMethod == "" {
		t.PaidMethod = "transfer"
	}
	if agreed := c.day("agreed_on"); agreed != nil {
		t.HappenedAt = c.noon(agreed)
	} else if c.ok() {
		c.bad("agreed_on", "Say when it was agreed.")
	}
	if line.Description == "" {
		c.bad("what", "Say in a few words what was ordered.")
	}
	if !c.ok() {
		return 0, ""
	}
	if t.PartyID = b.party(ctx, c, c.fields["buyer"], c.fields["phone"]); !c.ok() {
		return 0, ""
	}
	got, err := b.OrderTypedIn(ctx, t)
	c.err = err
	return got.Order.ID, "order " + got.Order.Number + " of " + got.Order.PartyName
}
