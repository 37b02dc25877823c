package house

import (
	"bytes"
	"context"
	"crypto/sha256"
	"fmt"
	"slices"
	"time"
	"unicode/utf8"

	"github.com/jackc/pgx/v5"

	"kerfbook/internal/fault"
	"kerfbook/internal/postgres"
)

// NextNumber takes the next number of the counter called name, under its row lock
// in tx: numbers have no gaps, because a failed transaction gives its number back.
func NextNumber(ctx context.Context, tx pgx.Tx, name string) (int64, error) {
	var n int64
	err := tx.QueryRow(ctx, `INSERT INTO counter (name, next) VALUES ($1, 2)
ON CONFLICT (name) DO UPDATE SET next = counter.next + 1 RETURNING next - 1`, name).Scan(&n)
	return n, postgres.Translate(err)
}

// Number is NextNumber written as prefix and at least four digits, such as Q0012.
func Number(ctx context.Context, tx pgx.Tx, name, prefix string) (string, error) {
	n, err := NextNumber(ctx, tx, name)
	return fmt.Sprintf("%s%04d", prefix, n), err
}

// Paper is an issued document: its bytes are what a reprint returns.
type Paper struct {
	ID        int64     `db:"id"`
	Kind      string    `db:"kind"`
	Number    string    `db:"number"`
	Revision  int       `db:"revision"`
	IssuedAt  time.Time `db:"issued_at"`
	SHA256    []byte    `db:"sha256"`
	Bytes     []byte    `db:"bytes"`
	MediaType string    `db:"media_type"`
}

// PaperKeep stores an issued paper in tx and gives its id. Conflict when the same
// kind, number and revision was issued before.
func PaperKeep(ctx context.Context, tx pgx.Tx, kind, number string, revision int, at time.Time, pdf []byte) (int64, error) {
	sum := sha256.Sum256(pdf)
	var id int64
	err := tx.QueryRow(ctx, `INSERT INTO document (kind, number, revision, issued_at, sha256, bytes) VALUES ($1, $2, $3, $4, $5, $6) RETURNING id`,
		kind, number, revision, at, sum[:], pdf).Scan(&id)
	return id, postgres.Translate(err)
}

const paperColumns = `id, kind, number, revision, issued_at, sha256, bytes, media_type`

// PaperGet reads an issued paper by id.
func (r *Room) PaperGet(ctx context.Context, id int64) (Paper, error) {
	p, err := postgres.One[Paper](ctx, r.db, `SELECT `+paperColumns+` FROM document WHERE id = $1`, id)
	return p, postgres.Translate(err)
}

// PaperFind reads the newest revision of an issued paper by kind and number.
func (r *Room) PaperFind(ctx context.Context, kind, number string) (Paper, error) {
	p, err := postgres.One[Paper](ctx, r.db, `SELECT `+paperColumns+` FROM document WHERE kind = $1 AND number = $2 ORDER BY revision DESC LIMIT 1`, kind, number)
	return p, postgres.Translate(err)
}

// Change is one line of a record's history.
type Change struct {
	ID        int64     `db:"id"`
	Deed      string    `db:"deed"` // made, changed, removed
	ActorName *string   `db:"actor_name"`
	At        time.Time `db:"at"`
	Was       []byte    `db:"was"`    // JSON of the changed fields before
	Became    []byte    `db:"became"` // JSON of the changed fields after
}

// HistoryOf gives the changes of one record, newest first, at most limit.
func (r *Room) HistoryOf(ctx context.Context, table string, id int64, limit int) ([]Change, error) {
	list, err := postgres.List[Change](ctx, r.db, `SELECT id, deed, actor_name, at, was, became FROM history
WHERE table_name = $1 AND row_id = $2 ORDER BY id DESC LIMIT $3`, table, id, min(max(limit, 1), 500))
	return list, postgres.Translate(err)
}

// Photo is a picture or PDF kept with a record; pictures come in shrunk and
// without the place they were taken at.
type Photo struct {
	ID         int64     `db:"id"`
	Name       string    `db:"name"`
	MediaType  string    `db:"media_type"`
	Bytes      []byte    `db:"bytes"`
	RecordedAt time.Time `db:"recorded_at"`
	Table      string    `db:"table_name"` // of the record it is kept with
	Row        int64     `db:"row_id"`
}

// photoTables are the tables whose records can keep photos.
var photoTables = []string{"party", "site", "enquiry", "sale_order", "log", "pack", "build", "box", "colony", "host_tree", "permit", "run", "handover", "guarantee_claim"}

// KeepsPhotos reports whether the records of table can keep photos.
func KeepsPhotos(table string) bool { return slices.Contains(photoTables, table) }

// PhotoAdd keeps a file with the record (table, row): a JPEG or PNG is shrunk and loses the
// place it was taken at, a PDF is kept as it is. Errors: NotFound for a record that is not
// there or keeps no photos, Invalid for a file that is neither, TooLarge above 4 MB.
func (r *Room) PhotoAdd(ctx context.Context, table string, row int64, name string, raw []byte) (Photo, error) {
	if !KeepsPhotos(table) {
		return Photo{}, fault.New(fault.NotFound, "Records of this kind keep no photos.")
	}
	body, kind := raw, "application/pdf"
	if !bytes.HasPrefix(raw, []byte("%PDF-")) {
		small, err := Shrink(raw)
		if err != nil {
			return Photo{}, err
		}
		body, kind = small, "image/jpeg"
	}
	if len(body) > photoBytes {
		return Photo{}, fault.New(fault.TooLarge, "A kept file may have at most %d MB.", photoBytes>>20)
	}
	if utf8.RuneCountInString(name) > 200 {
		return Photo{}, fault.Bad("/name", "The name may have at most 200 characters.")
	}
	var p Photo
	err := r.db.WithTx(ctx, func(ctx context.Context, tx pgx.Tx) error {
		there, err := postgres.Value[bool](ctx, tx, `SELECT EXISTS (SELECT FROM `+pgx.Identifier{table}.Sanitize()+` WHERE id = $1)`, row)
		if err != nil {
			return err
		}
		if !there {
			return fault.New(fault.NotFound, "There is no such record.")
		}
		id, err := PhotoKeep(ctx, tx, table, row, name, kind, body)
		if err != nil {
			return err
		}
		p, err = r.PhotoGet(ctx, id)
		return err
	})
	return p, err
}

// photoBytes is the most a kept file may have; the table holds it too.
const photoBytes = 4 << 20

// PhotoKeep stores a picture or PDF with the record (table, row) in tx.
func PhotoKeep(ctx context.Context, tx pgx.Tx, table string, row int64, name, mediaType string, body []byte) (int64, error) {
	if len(body) == 0 {
		return 0, fault.Bad("/photo", "The file is empty.")
	}
	sum := sha256.Sum256(body)
	var id int64
	err := tx.QueryRow(ctx, `INSERT INTO attachment (table_name, row_id, name, media_type, bytes, sha256) VALUES ($1, $2, $3, $4, $5, $6) RETURNING id`,
		table, row, name, mediaType, body, sum[:]).Scan(&id)
	return id, postgres.Translate(err)
}

// PhotoList gives what is kept with a record, without the bytes.
func (r *Room) PhotoList(ctx context.Context, table string, row int64) ([]Photo, error) {
	list, err := postgres.List[Photo](ctx, r.db, `SELECT id, name, media_type, ''::bytea AS bytes, recorded_at, table_name, row_id FROM attachment
WHERE table_name = $1 AND row_id = $2 AND put_away_at IS NULL ORDER BY id`, table, row)
	return list, postgres.Translate(err)
}

// PhotoGet reads one with its bytes.
func (r *Room) PhotoGet(ctx context.Context, id int64) (Photo, error) {
	p, err := postgres.One[Photo](ctx, r.db, `SELECT id, name, media_type, bytes, recorded_at, table_name, row_id FROM attachment WHERE id = $1`, id)
	return p, postgres.Translate(err)
}
