// Package migrations holds the numbered SQL files that make the schema, and embeds
// them. 000012_add_offcut.up.sql goes forward, 000012_add_offcut.down.sql back (down
// is for tests). schema.sql is the whole schema as a freshly migrated database dumps
// it; a test compares the two. The runner is in internal/postgres.
package migrations

import "embed"

// FS holds the *.up.sql and *.down.sql files (and schema.sql, which is not run).
//
//go:embed *.sql
var FS embed.FS
