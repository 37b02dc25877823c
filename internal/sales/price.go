package sales

import (
	"context"
	"fmt"
	"regexp"
	"strings"
	"time"

	"github.com/jackc/pgx/v5"
	"github.com/shopspring/decimal"

	"kerfbook/internal/fault"
	"kerfbook/internal/house"
	"kerfbook/internal/postgres"
)

// ListPrice is what a thing is listed at from a day on, ex tax.
type ListPrice struct {
	ID         int64     `db:"id"`
	Subject    string    `db:"subject"` // see Subject
	FromOn     time.Time `db:"from_on"`
	PriceMinor int64     `db:"price_minor"` // each, ex tax, minor units
	TaxCode    string    `db:"tax_code"`
	Reason     string    `db:"reason"`
}

// Subject names what a price is for: kind is model, option, item, colony (a bee
// species), service or timber; id its record.
func Subject(kind string, id int64) string { return fmt.Sprintf("%s:%d", kind, id) }

var subjectForm = regexp.MustCompile(`^(model|option|item|colony|service|timber):[0-9a-z_-]+$`)

// PricePut adds a list price from a day on. Errors: Invalid when a price that changes
// has no reason; Conflict when that day has a price already.
func (r *Room) PricePut(ctx context.Context, p ListPrice) (ListPrice, error) {
	err := r.db.WithTx(ctx, func(ctx context.Context, tx pgx.Tx) error {
		var l fault.List
		p.Reason = strings.TrimSpace(p.Reason)
		if p.TaxCode == "" {
			p.TaxCode = "standard"
		}
		l.Check(subjectForm.MatchString(p.Subject), "/subject", "Says what the price is for, such as model:3.")
		l.Check(!p.FromOn.IsZero(), "/from_on", "Say from which day the price holds.")
		checkMoney(&l, "/price_minor", p.PriceMinor)
		checkWords(&l, "/reason", p.Reason)
		var taxCode, earlier bool
		if err := tx.QueryRow(ctx, `SELECT EXISTS (SELECT 1 FROM tax_rate WHERE code = $1), EXISTS (SELECT 1 FROM list_price WHERE subject = $2)`, p.TaxCode, p.Subject).Scan(&taxCode, &earlier); err != nil {
			return err
		}
		l.Check(taxCode, "/tax_code", "There is no such tax code.")
		l.Check(!earlier || p.Reason != "", "/reason", "A changed price keeps a reason. Say why it changes.")
		if err := l.Err(); err != nil {
			return err
		}
		return tx.QueryRow(ctx, `INSERT INTO list_price (subject, from_on, price_minor, tax_code, reason) VALUES ($1, $2, $3, $4, $5) RETURNING id`,
			p.Subject, p.FromOn, p.PriceMinor, p.TaxCode, p.Reason).Scan(&p.ID)
	})
	return p, err
}

const priceColumns = `id, subject, from_on, price_minor, tax_code, reason`

// PricesOn gives the prices that hold on day, by subject; only of the subjects named,
// or all of them when none is.
func (r *Room) PricesOn(ctx context.Context, day time.Time, subjects ...string) (map[string]ListPrice, error) {
	list, err := postgres.List[ListPrice](ctx, r.db, `SELECT DISTINCT ON (subject) `+priceColumns+` FROM list_price
WHERE from_on <= $1 AND (cardinality($2::text[]) = 0 OR subject = ANY($2)) ORDER BY subject, from_on DESC`, day, orEmpty(subjects))
	out := make(map[string]ListPrice, len(list))
	for _, p := range list {
		out[p.Subject] = p
	}
	return out, postgres.Translate(err)
}

func orEmpty(s []string) []string {
	if s == nil {
		return []string{}
	}
	return s
}

// PriceHistory gives every price of a subject, newest first.
func (r *Room) PriceHistory(ctx context.Context, subject string) ([]ListPrice, error) {
	list, err := postgres.List[ListPrice](ctx, r.db, `SELECT `+priceColumns+` FROM list_price WHERE subject = $1 ORDER BY from_on DESC LIMIT 200`, subject)
	return list, postgres.Translate(err)
}

// BuyerClass is a class of buyers and the step it gets off the list price.
type BuyerClass struct {
	ID      int64           `db:"id"`
	Version int             `db:"version"`
	Name    string          `db:"name"`
	StepPct decimal.Decimal `db:"step_pct"` // percent off the list price
}

// ClassPut stores a class: new when c.ID is 0, else a change of version c.Version.
func (r *Room) ClassPut(ctx context.Context, c BuyerClass) (BuyerClass, error) {
	err := r.db.WithTx(ctx, func(ctx context.Context, tx pgx.Tx) error {
		var l fault.List
		c.Name = strings.TrimSpace(c.Name)
		l.Check(c.Name != "", "/name", "Give the class a name, such as friend or council.")
		checkWords(&l, "/name", c.Name)
		l.Check(c.StepPct.Abs().LessThanOrEqual(decimal.NewFromInt(100)), "/step_pct", "A step lies between -100 and 100 percent.")
		if err := l.Err(); err != nil {
			return err
		}
		if c.ID == 0 {
			return tx.QueryRow(ctx, `INSERT INTO buyer_class (name, step_pct) VALUES ($1, $2) RETURNING id, version`, c.Name, c.StepPct).Scan(&c.ID, &c.Version)
		}
		err := tx.QueryRow(ctx, `UPDATE buyer_class SET name = $3, step_pct = $4 WHERE id = $1 AND version = $2 RETURNING version`, c.ID, c.Version, c.Name, c.StepPct).Scan(&c.Version)
		return postgres.StaleOr(ctx, tx, err, "buyer_class", c.ID)
	})
	return c, err
}

// ClassList gives all classes by name.
func (r *Room) ClassList(ctx context.Context) ([]BuyerClass, error) {
	list, err := postgres.List[BuyerClass](ctx, r.db, `SELECT id, version, name, step_pct FROM buyer_class ORDER BY name LIMIT 200`)
	return list, postgres.Translate(err)
}

// today is the business date and the settings, read by q.
func (r *Room) today(ctx context.Context, q postgres.Querier) (time.Time, house.Settings, error) {
	set, err := house.SettingsIn(ctx, q)
	return set.Today(r.db.Now()), set, err
}
