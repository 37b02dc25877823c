package pgtest_test

import (
	"os/exec"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"
)

func TestOnlyTestsImportThis(t *testing.T) {
	t.Parallel()
	out, err := exec.Command("go", "list", "-f", `{{.ImportPath}} {{join .Imports " "}}`, "kerfbook/...").Output()
	require.NoError(t, err)
	packages := 0
	for line := range strings.Lines(string(out)) {
		name, imports, _ := strings.Cut(strings.TrimSpace(line), " ")
		packages++
		require.NotContains(t, strings.Fields(imports), "kerfbook/internal/postgres/pgtest", "%s is production code; test databases are for _test.go files", name)
	}
	require.Greater(t, packages, 10)
}
