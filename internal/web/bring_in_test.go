package web

import (
	"strings"
	"testing"

	"github.com/getkin/kin-openapi/openapi3"
	"github.com/stretchr/testify/require"

	"kerfbook/api"
)

// TestTableLinksLeadToLists holds that every table file the page offers is a list of the contract that can be had as CSV.
func TestTableLinksLeadToLists(t *testing.T) {
	t.Parallel()
	spec, err := openapi3.NewLoader().LoadFromData(api.Contract)
	require.NoError(t, err)
	for _, group := range tablesOut {
		for _, link := range group.Tables {
			path, query, _ := strings.Cut(link.Href, "?")
			item := spec.Paths.Value(path)
			require.NotNil(t, item, path)
			require.NotNil(t, item.Get.Parameters.GetByInAndName("query", "format"), path)
			require.Contains(t, query, "format=csv")
			for _, p := range item.Get.Parameters {
				require.False(t, p.Value.Required, "%s needs %s", path, p.Value.Name)
			}
		}
	}
}
