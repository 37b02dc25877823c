package answer

import (
	"context"
	"strings"
	"unicode"

	"github.com/jackc/pgx/v5"

	"kerfbook/internal/access"
	"kerfbook/internal/postgres"
	"kerfbook/internal/workshop"
)

// Hit is one record the find line leads to.
type Hit struct {
	Kind  string // party, enquiry, quote, order, build, box, colony, invoice, payment, log, pack, run, handover
	ID    int64
	Title string // number, serial or name
	About string // whose or what it is
	Exact bool   // the number or serial itself, not a beginning or a word
}

// Finder answers the find line: a name, a phone number, a document number or a serial.
type Finder struct{ db *postgres.DB }

// NewFinder makes the finder.
func NewFinder(db *postgres.DB) *Finder { return &Finder{db} }

// findPart is one sort of record, with the area that may see it. Each statement is served
// by an index: the unique one on the number or serial, the one on the reversed digits of
// contacts, or the words of parties and enquiries.
type findPart struct {
	area access.Area
	sql  string
}

// byNumber looks for $1, a list of ways in which the number may be written.
var byNumber = []findPart{
	{access.Orders, `SELECT 'order', o.id, o.number, p.name FROM sale_order o JOIN party p ON p.id = o.party_id WHERE o.number = ANY($1)`},
	{access.Enquiries, `SELECT 'quote', q.id, q.number, p.name || CASE WHEN q.revision > 1 THEN ', revision ' || q.revision ELSE '' END
		FROM quote q JOIN party p ON p.id = q.party_id WHERE q.number = ANY($1) AND q.thrown_away_at IS NULL`},
	{access.Bench, `SELECT 'build', b.id, b.number, m.name || ', ' || b.quantity FROM build b
		JOIN model_revision r ON r.id = b.model_revision_id JOIN box_model m ON m.id = r.model_id WHERE b.number = ANY($1)`},
	{access.Bench, `SELECT 'box', b.id, b.serial, coalesce(m.name, nullif(b.description, ''), nullif(b.maker, ''), 'box')::text FROM box b
		LEFT JOIN model_revision r ON r.id = b.model_revision_id LEFT JOIN box_model m ON m.id = r.model_id WHERE b.serial = ANY($1)`},
	{access.Bees, `SELECT 'colony', id, number, name FROM colony WHERE number = ANY($1)`},
	{access.Books, `SELECT 'invoice', i.id, i.number, p.name FROM invoice i JOIN party p ON p.id = i.party_id WHERE i.number = ANY($1)`},
	{access.Books, `SELECT 'payment', y.id, y.number, p.name FROM payment y JOIN sale_order o ON o.id = y.order_id JOIN party p ON p.id = o.party_id WHERE y.number = ANY($1)`},
	{access.Timber, `SELECT 'log', l.id, l.number, s.name FROM log l JOIN timber_species s ON s.id = l.species_id WHERE l.number = ANY($1)`},
	{access.Timber, `SELECT 'pack', k.id, k.number, s.name FROM pack k JOIN timber_species s ON s.id = k.species_id WHERE k.number = ANY($1)`},
	{access.Runs, `SELECT 'run', id, number, to_char(run_on, 'DD Mon YYYY') FROM run WHERE number = ANY($1)`},
	{access.Runs, `SELECT 'handover', h.id, h.number, h.received_by FROM handover h WHERE h.number = ANY($1)`},
}

// bySerial looks for boxes whose serial may be meant by what was typed, $1 from
// [workshop.SerialForms].
var bySerial = []findPart{
	{access.Bench, `SELECT 'box', b.id, b.serial, 'a serial near what you typed: ' || coalesce(m.name, nullif(b.description, ''), nullif(b.maker, ''), 'box')::text FROM box b
		LEFT JOIN model_revision r ON r.id = b.model_revision_id LEFT JOIN box_model m ON m.id = r.model_id WHERE b.serial = ANY($1)`},
}

// byDigits looks for contacts and callers whose number ends with the digits $1.
var byDigits = []findPart{
	{access.Enquiries, `SELECT 'party', p.id, p.name, c.value FROM contact c JOIN party p ON p.id = c.party_id
		WHERE reverse(c.normal) LIKE reverse($1) || '%' AND c.put_away_at IS NULL AND p.put_away_at IS NULL AND p.joined_into_id IS NULL`},
	{access.Enquiries, `SELECT 'enquiry', e.id, coalesce(nullif(e.name, ''), e.number)::text, e.place FROM enquiry e
		WHERE reverse(e.number_normal) LIKE reverse($1) || '%' AND e.party_id IS NULL`},
}

// byWords looks for the words $1, a text query of beginnings. The index on the words is
// asked first: the planner would walk all rows for a rare word. Of a word that more than a
// thousand share, some are given.
var byWords = []findPart{
	{access.Enquiries, `SELECT 'party', id, name, town FROM party WHERE id = ANY(ARRAY(SELECT id FROM party WHERE find @@ to_tsquery('simple', $1) LIMIT 1000)) AND put_away_at IS NULL AND joined_into_id IS NULL`},
	{access.Enquiries, `SELECT 'enquiry', id, name, place FROM enquiry WHERE id = ANY(ARRAY(SELECT id FROM enquiry WHERE find @@ to_tsquery('simple', $1) LIMIT 1000)) AND party_id IS NULL`},
}

// Find gives what text leads to, of the areas p may see: numbers and serials first, then
// people. At most 20 of one sort.
func (f *Finder) Find(ctx context.Context, p access.Person, text string) ([]Hit, error) {
	text = strings.TrimSpace(text)
	if text == "" || len(text) > 200 {
		return []Hit{}, nil
	}
	batch := &pgx.Batch{}
	exact := 0
	queue := func(parts []findPart, arg any) {
		for _, part := range parts {
			if p.May(part.area) {
				batch.Queue(part.sql+" ORDER BY 2 DESC LIMIT 20", arg)
			}
		}
	}
	if numbers := numberForms(text); len(numbers) > 0 {
		queue(byNumber, numbers)
		exact = batch.Len()
	}
	if d := phoneDigits(text); d != "" {
		queue(byDigits, d)
	}
	if words := wordQuery(text); words != "" {
		queue(byWords, words)
	}
	if batch.Len() == 0 {
		return []Hit{}, nil
	}
	hits, err := f.run(ctx, batch, exact)
	forms := workshop.SerialForms(text)
	if err != nil || len(forms) == 0 || len(hits) > 0 {
		return hits, err
	}
	batch = &pgx.Batch{} // nothing is called so: a serial with a digit wrong or missing?
	if queue(bySerial, forms); batch.Len() == 0 {
		return hits, nil
	}
	return f.run(ctx, batch, 0)
}

// run sends all statements in one round trip; the hits of the first exact ones are exact.
func (f *Finder) run(ctx context.Context, batch *pgx.Batch, exact int) ([]Hit, error) {
	results := f.db.SendBatch(ctx, batch)
	defer results.Close()
	hits := []Hit{}
	seen := map[[2]any]bool{}
	for i := range batch.Len() {
		rows, err := results.Query()
		if err != nil {
			return nil, postgres.Translate(err)
		}
		list, err := pgx.CollectRows(rows, func(row pgx.CollectableRow) (Hit, error) {
			h := Hit{Exact: i < exact}
			return h, row.Scan(&h.Kind, &h.ID, &h.Title, &h.About)
		})
		if err != nil {
			return nil, postgres.Translate(err)
		}
		for _, h := range list {
			if key := [2]any{h.Kind, h.ID}; !seen[key] {
				seen[key] = true
				hits = append(hits, h)
			}
		}
	}
	return hits, nil
}

// numberForms gives the ways a document number may be stored: as typed, in capitals, and,
// for digits alone, behind any one letter.
func numberForms(text string) []string {
	number := strings.ToUpper(strings.ReplaceAll(text, " ", ""))
	if len(number) > 20 || !strings.ContainsAny(number, "0123456789") {
		return nil
	}
	forms := []string{number}
	if strings.Trim(number, "0123456789") == "" {
		for letter := 'A'; letter <= 'Z'; letter++ {
			forms = append(forms, string(letter)+number)
		}
	}
	return forms
}

// phoneLeast is the fewest digits that are taken for the end of a phone number.
const phoneLeast = 4

// phoneDigits gives the digits of what may be a phone number, without the zero or plus in
// front; the end of the stored number is compared with them.
func phoneDigits(text string) string {
	if strings.Trim(text, "0123456789 +-()./") != "" {
		return ""
	}
	digits := strings.Map(func(r rune) rune {
		if r < '0' || r > '9' {
			return -1
		}
		return r
	}, text)
	digits = strings.TrimLeft(digits, "0")
	if len(digits) < phoneLeast || len(digits) > 15 {
		return ""
	}
	return digits
}

// wordQuery makes a text query in which every word may be a beginning.
func wordQuery(text string) string {
	words := strings.FieldsFunc(text, func(r rune) bool { return !unicode.IsLetter(r) && !unicode.IsDigit(r) })
	if len(words) == 0 || len(words) > 8 {
		return ""
	}
	for i, w := range words {
		words[i] = w + ":*"
	}
	return strings.Join(words, " & ")
}
