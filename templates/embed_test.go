package templates

import (
	"io/fs"
	"os"
	"testing"

	"github.com/stretchr/testify/require"
)

// Every file of the two folders is in the program, those starting with "_" too.
func TestEverythingIsEmbedded(t *testing.T) {
	t.Parallel()
	for _, dir := range []string{"papers", "pages"} {
		n := 0
		require.NoError(t, fs.WalkDir(os.DirFS("."), dir, func(name string, d fs.DirEntry, err error) error {
			require.NoError(t, err)
			if d.IsDir() {
				return nil
			}
			n++
			want, err := os.ReadFile(name)
			require.NoError(t, err)
			got, err := FS.ReadFile(name)
			require.NoError(t, err, "%s is not embedded", name)
			require.Equal(t, string(want), string(got))
			return nil
		}))
		require.Positive(t, n, dir)
	}
}
