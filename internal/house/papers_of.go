package house

import (
	"context"

	"kerfbook/internal/postgres"
)

// PapersOf gives the papers of a kind that were issued under one number, the newest
// revision first and without the bytes; at most 200.
func (r *Room) PapersOf(ctx context.Context, kind, number string) ([]Paper, error) {
	return postgres.List[Paper](ctx, r.db, `SELECT id, kind, number, revision, issued_at, sha256, ''::bytea AS bytes, media_type FROM document
WHERE kind = $1 AND number = $2 ORDER BY revision DESC LIMIT 200`, kind, number)
}

// PaperRevision reads one revision of an issued paper. Errors: NotFound.
func (r *Room) PaperRevision(ctx context.Context, kind, number string, revision int) (Paper, error) {
	return postgres.One[Paper](ctx, r.db, `SELECT `+paperColumns+` FROM document WHERE kind = $1 AND number = $2 AND revision = $3`, kind, number, revision)
}
