package web

import (
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"kerfbook/internal/eyes"
)

// The pages of hours, time and calendars on a phone and on a desk: nothing cut off,
// targets for a thumb, and no rule of axe-core broken.
func TestTimePagesToTheEye(t *testing.T) {
	t.Parallel()
	b := newBrowser(t)
	species := b.addTimber()
	b.get("/bench/models").submit("form[action='/bench/models']", "name", "Small box", "code", "small", "start", "two-tier-230")
	b.submit("form[action='/bench/models/1/draw']")
	b.get("/bench/builds/new").submit("form[action='/bench/builds/new']", "revision_id", "1", "species_id", idText(species), "quantity", "2")
	b.get("/settings/calendars").submit("form[action='/settings/calendars']", "name", "My phone")
	b.get("/settings/ill").submit("form[action='/settings/ill']")
	for _, sql := range []string{`INSERT INTO supplier (name, phone) VALUES ('Saw & Screw', '07 5550 0199')`, `INSERT INTO purchase (supplier_id, ordered_on, expected_on) SELECT 1, from_on, to_on FROM away`} {
		_, err := b.server.DB.Exec(t.Context(), sql)
		require.NoError(t, err)
	}
	for _, size := range []eyes.Size{eyes.Phone, eyes.Desk} {
		e := eyes.Open(t, b.base, size)
		e.Go("/sign-in").Fill("sign_in", "maker", "password", testPassword).Press("Sign in")
		for _, path := range []string{"/bench", "/bench/evening", "/settings/calendars", "/settings/ill", "/settings/away/1/ring", "/settings/hours"} {
			e.Go(path)
			if dir := os.Getenv("KERFBOOK_TEST_PICTURES"); dir != "" {
				e.Picture(filepath.Join(dir, size.Name+strings.ReplaceAll(path, "/", "-")+".png"))
			}
			e.Unfold().Look()
		}
	}
}
