package timber

import "strings"

var likeSpecial = strings.NewReplacer(`\`, `\\`, `%`, `\%`, `_`, `\_`)

// likeLiteral makes text stand for itself in a LIKE pattern.
func likeLiteral(s string) string { return likeSpecial.Replace(strings.TrimSpace(s)) }
